"""``counterpoise job quote``: the quote on screen or paper, and the customer's answer to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Unpack

import click

from counterpoise.cli.common import hand, writing_command
from counterpoise.cli.job.estimate import CHARGED, DISCOUNTS, PARTS, REPAIRS, USED, Agreed, terms_of
from counterpoise.cli.job.options import SAFEGUARD
from counterpoise.cli.terminal import console, say, write_file
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView, Recorded
    from counterpoise.report.views.quote import QuotePaper
    from counterpoise.workshop.jobs.choices import Safeguard
    from counterpoise.workshop.services.workshop import Workshop

# how a customer answers, and the way to end the job that follows from it
_ANSWERS = {"yes": "repair_hand_back", "hand_back": "hand_back", "replace": "replace"}


class _Reply(Agreed):
    """The terms of the quote, and what the customer said to it; ``answer`` None for nothing yet."""

    answer: Literal["yes", "hand_back", "replace"] | None
    agreed_by: str
    by: str
    safeguard: Safeguard | None


@click.command(
    help=(
        "Quote the work in plain words: what is wrong, how sure, the price, the most, the other "
        "ways, the guarantee."
    )
)
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
              help="Save what the customer said: yes, or no and what then.")  # fmt: skip
@click.option("--agreed-by", default="", metavar="NAME", help="Who gave the answer.")
@SAFEGUARD
@click.option("--by", default="", help="Who puts it down; without it, the user of this machine.")
@writing_command
def quote(
    workshop: Workshop, number: int, *, in_words: bool, repairs: tuple[str, ...], pdf: str | None,
    **reply: Unpack[_Reply],
) -> QuotePaper | Recorded:  # fmt: skip
    """The quote, or the recorded entry of the answer to it. Raises InputError, NotFoundError."""
    from counterpoise.report.views.job import job_view
    from counterpoise.report.views.quote import quote_paper

    # a name without an answer is a slip: which of the two was meant cannot be guessed
    if reply["agreed_by"] and not reply["answer"]:
        raise InputError(
            "answer: is missing", field="answer", remedy="Give --answer with --agreed-by."
        )
    view = job_view(workshop, number)
    # the same paper for screen, PDF and answer, so that all three say one price
    paper = quote_paper(view, repairs, terms_of(reply))
    # before anything is said: a quote read out and not on paper is no quote
    if pdf:
        # paper takes a second to import; on the screen nothing of it is needed
        from counterpoise.report.languages import tongue
        from counterpoise.report.paper.language import paper_language
        from counterpoise.report.paper.pdf import quote_pdf

        with tongue.reading(paper_language(view) or tongue.SOURCE):
            printed = quote_pdf(quote_paper(view, repairs, terms_of(reply)))
        write_file(pdf, printed, field="pdf")
    if in_words:
        _print(paper)
    return _record_answer(workshop, view, paper, reply, in_words) if reply["answer"] else paper


def _print(paper: QuotePaper) -> None:
    screen = console()
    screen.print(say(f"{paper.heading} for job {paper.number}: {paper.title}", "bold"))
    screen.print(say(f"{paper.price}, at most {paper.ceiling} without asking. {paper.valid}"))
    if paper.answer:
        screen.print(say(f"{paper.answer}.", "bold"))
    # quoting too early costs more than the check that is still missing
    elif paper.advice:
        screen.print(
            say(f"Not yet: one more check is worth its time first: {paper.advice}.", "bold")
        )
    for passage in paper.passages:
        screen.print(say(f"\n{passage.title}", "bold red"))
        for sentence in passage.sentences:
            screen.print(say(sentence))


def _record_answer(
    workshop: Workshop, view: JobView, paper: QuotePaper, reply: _Reply, in_words: bool
) -> Recorded:
    from counterpoise.report.languages import tongue
    from counterpoise.report.paper.language import paper_language
    from counterpoise.report.views.job import recorded
    from counterpoise.workshop.services.quote_answers import QuoteReply, record_answer

    option = _ANSWERS[reply["answer"] or "yes"]
    # the price and the repairs of the paper at hand: an answer is to what was read out
    answered = QuoteReply(
        option,
        reply["agreed_by"],
        paper.price_minor,
        paper.repairs,
        terms_of(reply),
        safeguard=reply["safeguard"] or "",
        # as the PDF says it, which is what the customer gets
        in_words=tongue.tongue(paper_language(view) or tongue.SOURCE).say,
    )
    entry = record_answer(workshop, view.snapshot, answered, hand(reply["by"]), paper.last)
    if in_words:
        click.echo(f"\nSaved as entry {entry} of job {paper.number}.")
    return recorded(workshop, paper.number, entry)
