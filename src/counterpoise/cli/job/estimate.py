"""``counterpoise job estimate``: what the work costs, line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict, Unpack

import click

from counterpoise.cli.common import hand, pairs, writing_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import RenderableType

    from counterpoise.report.views.estimate import EstimateAnswer, PartSources
    from counterpoise.workshop.billing.terms import Terms
    from counterpoise.workshop.services.workshop import Workshop

# shared with the quote, so that both are asked in the same words
REPAIRS = click.option(
    "--repair", "repairs", multiple=True, metavar="ID",
    help="A repair to calculate with; may be given several times. "
    "Without it: what was done, and what the bench advises.",
)  # fmt: skip
DISCOUNTS = click.option(
    "--discount", "discounts", multiple=True, metavar="OFF",
    help="Off the whole (10% or 12.50), or off some lines (labour:10%, replace_belt:5); "
    "may be given several times.",
)  # fmt: skip
CHARGED = click.option(
    "--charged", is_flag=True, help="Charge what would be free under the guarantee."
)
USED = click.option("--used", is_flag=True, help="Used parts where they can be had.")
PARTS = click.option(
    "--part", "parts", multiple=True, metavar="PART=KIND",
    help="The kind of one part: new, pattern or used; may be given several times. "
    "Without it: the cheapest allowed.",
)  # fmt: skip


class Agreed(TypedDict):
    """What was agreed, as the options say it: discounts and kinds of parts still as texts."""

    used: bool
    discounts: tuple[str, ...]
    charged: bool
    parts: tuple[str, ...]


@click.command(help="Say what the work costs: labour, panels, parts, tax, and the most to promise.")
@click.argument("number", type=int)
@REPAIRS
@USED
@DISCOUNTS
@CHARGED
@PARTS
@click.option(
    "--reserve", is_flag=True, help="Reserve for the job what the work takes from the shelf."
)
@click.option("--by", default="", help="Who reserves it; without it, the user of this machine.")
@writing_command
def estimate(
    workshop: Workshop, number: int, *, in_words: bool, repairs: tuple[str, ...], reserve: bool,
    by: str, **agreed: Unpack[Agreed],
) -> EstimateAnswer:  # fmt: skip
    """The estimate in minor units, pieces reserved where asked. Raises InputError."""
    from counterpoise.report.views.estimate import estimate_answer
    from counterpoise.report.views.job import job_view

    view, terms = job_view(workshop, number), terms_of(agreed)
    if reserve:
        workshop.stock.reserve(number, view.snapshot.costing(repairs, terms), hand(by))
        view = job_view(workshop, number)  # read again: pieces held for a job change its estimate
    answer = estimate_answer(view, repairs, terms)
    if in_words:
        console().print(*_passages(answer, view.currency), sep="\n")
    return answer


def terms_of(agreed: Agreed) -> Terms:
    """The terms of an estimate out of a command's options. Raises InputError naming the option."""
    from counterpoise.workshop.billing.terms import Terms

    kinds = tuple(pairs(agreed["parts"], "part", "PART=KIND").items())
    return Terms(agreed["used"], tuple(agreed["discounts"]), agreed["charged"], kinds)


def _passages(answer: EstimateAnswer, currency: str) -> Iterator[RenderableType]:
    from counterpoise.money.quote import out_of_ten
    from counterpoise.report.words.numbers import about, money, reach

    total = answer.estimate
    # what was done already is charged too, and marked
    yield say("; ".join(work.title + " (done)" * work.done for work in answer.work), "bold")
    yield _lines(answer, currency)
    yield from (say(note) for note in (_ways(part, currency) for part in answer.parts) if note)
    # the middle alone would be taken for a promise
    between = reach(total.low_minor, total.high_minor, currency)
    if between:
        yield say(
            f"8 times in 10: {between}. It puts the machine right {out_of_ten(answer.works)}."
            f" {answer.doubt}"
        )
    yield from (say(doubt.text, "bold") for doubt in answer.unsettled)
    # what might come to light, each by itself: nobody likes to hear it at the end
    for extra in total.extras:
        yield say(
            f"Or worse: {extra.title}, {about(extra.gross_minor, currency)} more"
            f" ({out_of_ten(extra.chance)})"
        )
    if answer.free:
        own = money(answer.own_minor, currency)
        yield say(f"Under our guarantee: free to the customer, {own} to us.", "bold")
    elif answer.charged:
        yield say(
            f"Promise no more than {money(total.ceiling_minor, currency)}; beyond it, stop and ask."
        )


def _ways(part: PartSources, currency: str) -> str:
    """The other ways to get a part, and what lies on the shelf."""
    from counterpoise.report.words.numbers import money

    other = [
        f"{way.kind} {money(way.cost_minor, currency)} ({way.source})"
        for way in part.ways
        if not way.chosen
    ]
    held = f"{part.reserved} reserved for this job" if part.reserved else ""
    otherwise = "; ".join(text for text in (" or ".join(other), held) if text)
    return " ".join(
        text
        for text in (part.note, f"{part.title}, else: {otherwise}." if otherwise else "")
        if text
    )


def _lines(answer: EstimateAnswer, currency: str) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.report.views.estimate import quantity
    from counterpoise.report.words.numbers import money

    total = answer.estimate
    rows = [
        (line.title, quantity(line.quantity, line.unit), line.detail, line.net_minor)
        for line in total.lines
    ]
    # a workshop without tax shows no line of zero
    if total.tax_percent:
        rows.append(
            (f"Tax of {total.tax_percent:g} %", "", "as set by this workshop", total.tax_minor)
        )
    rows.append(("To pay" if answer.charged else "Costs the workshop", "", "", total.payable_minor))
    grid = Table.grid(padding=(0, 2))
    for title, much, detail, minor in rows:
        grid.add_row(
            say(title), say(much), Text(money(minor, currency), justify="right"), say(detail, "dim")
        )
    return grid
