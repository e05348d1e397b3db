"""``counterpoise job quote``: the quote for the customer, on screen or paper, and the customer's answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, workshop_command
from counterpoise.cli.job.estimate import CHARGED, DISCOUNTS, PARTS, REPAIRS, USED, terms_of
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.report.views.quote import QuotePaper
    from counterpoise.workshop.services.workshop import Workshop

_ANSWERS = {"yes": "repair_hand_back", "hand_back": "hand_back", "replace": "replace"}


@click.command()
@click.argument("number", type=int)
@REPAIRS
@USED
@DISCOUNTS
@CHARGED
@PARTS
@click.option(
    "--pdf", type=click.Path(dir_okay=False), default=None, help="Write it as PDF to this file."
)
@click.option("--answer", type=click.Choice(list(_ANSWERS)), default=None,
              help="Put down what the customer said: yes, or no and what then.")  # fmt: skip
@click.option("--agreed-by", default="", metavar="NAME", help="Who gave the answer.")
@click.option("--by", default="", help="Who puts it down; without it, the user of this machine.")
@workshop_command
def quote(
    workshop: Workshop, number: int, *, tell: bool, repairs: tuple[str, ...], **more: Any
) -> Any:
    """Quote the work in plain words: what is wrong, how sure, the price, the most, the other ways, the guarantee."""
    from counterpoise.report.views.job import job_view
    from counterpoise.report.views.quote import quote_paper

    if more["agreed_by"] and not more["answer"]:
        raise InputError(
            "answer: is missing", field="answer", remedy="Give --answer with --agreed-by."
        )
    seen = job_view(workshop, number)
    paper = quote_paper(seen, repairs, terms_of(more))
    if tell:
        _tell(paper)
    if more["pdf"]:
        _write(paper, more["pdf"])
    return _answer(workshop, seen, paper, more, tell) if more["answer"] else paper


def _tell(paper: QuotePaper) -> None:
    from counterpoise.cli.job.show import console, say

    screen = console()
    screen.print(say(f"Quote for job {paper.number}: {paper.title}", "bold"))
    screen.print(say(f"{paper.price}, at most {paper.ceiling} without asking. {paper.valid}"))
    if paper.answer:
        screen.print(say(f"{paper.answer}.", "bold"))
    elif paper.advice:
        screen.print(
            say(f"Not yet: one more check is worth its time first: {paper.advice}.", "bold")
        )
    for passage in paper.passages:
        screen.print(say(f"\n{passage.title}", "bold red"))
        for sentence in passage.sentences:
            screen.print(say(sentence))


def _write(paper: QuotePaper, path: str) -> None:
    from pathlib import Path

    from counterpoise.report.paper.pdf import quote_pdf

    try:
        Path(path).write_bytes(quote_pdf(paper))
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror}", field="file", remedy="Give another file."
        ) from error


def _answer(
    workshop: Workshop, seen: JobView, paper: QuotePaper, more: dict[str, Any], tell: bool
) -> Any:
    from counterpoise.report.views.job import recorded
    from counterpoise.workshop.services.quote_answers import QuoteReply, record_answer

    option = _ANSWERS[more["answer"]]
    reply = QuoteReply(option, more["agreed_by"], paper.price_minor, paper.repairs, terms_of(more))
    entry = record_answer(workshop, seen.snapshot, reply, hand(more["by"]), paper.last)
    if tell:
        click.echo(f"\nPut down as entry {entry} of job {paper.number}.")
    return recorded(workshop, paper.number, entry)
