"""``counterpoise guarantee`` and ``calibrate``: its cost; whether ranges of options hold."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import click

from counterpoise.catalog.loader import first_family
from counterpoise.cli.common import catalog_command, money, workshop_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.catalog.loader import Catalog
    from counterpoise.report.views.guarantee import Guarantees
    from counterpoise.workshop.billing.guarantee import GuaranteeTerms
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    help=(
        "Say how often a repair comes back, what to ask for a guarantee on it, and how long it "
        "can be for a price."
    )
)
@click.option("--family", default=first_family(), show_default=True, help="The family of machines.")
@click.option(
    "--age", type=float, default=6.0, show_default=True, help="Age of the machine, years."
)
@click.option("--repair", default="", metavar="ID", help="This repair only.")
@click.option("--price", default="", metavar="AMOUNT", help="What the customer would pay for it.")
@workshop_command
def guarantee(
    workshop: Workshop, *, in_words: bool, family: str, age: float, repair: str, price: str
) -> Guarantees:
    """Guarantees on repairs at an age in years, for a price if one is given. Raises InputError."""
    from counterpoise.report.views.guarantee import guarantees

    answer = guarantees(workshop, family, age, money(price, "price"), repair)
    if in_words:
        _print(answer)
    return answer


def _print(answer: Guarantees) -> None:
    from rich.table import Table

    from counterpoise.money.amount import show

    # months across, repairs down: as a price list hangs on a wall
    grid = Table.grid(padding=(0, 2))
    heads = ("Guarantee on", "comes back", *(f"{months} mo." for months in answer.months))
    # only asked for a price can it say how long a guarantee may be
    paid = "" if answer.price_minor is None else f"for {show(answer.price_minor, answer.currency)}"
    grid.add_row(*(say(text, "bold") for text in (*heads, paid)))
    # the whole machine last: a guarantee on everything, below those on single repairs
    for promise in (*answer.repairs, answer.machine):
        grid.add_row(*(say(text) for text in _row(promise)))
    screen = console()
    head = f"{answer.title}, {answer.age_years:g} years"
    screen.print(say(f"{head}: what to ask for a guarantee, {answer.currency}"))
    screen.print(grid)
    for figure in answer.figures:
        screen.print(say(f"{figure.words}: {figure.where}", "dim"))
    if answer.assumed:
        screen.print(say(answer.assumed, "bold"))


def _row(promise: GuaranteeTerms) -> tuple[str, ...]:
    from counterpoise.money.quote import out_of_ten
    from counterpoise.report.words.numbers import plain_money

    # the workshop's own count beside the estimate, so that nobody takes one for the other
    own = f" ({promise.comebacks} of our {promise.jobs})" if promise.jobs else ""
    often = out_of_ten(promise.returns) + own if promise.repair else ""
    longest = "" if promise.longest_months is None else f"{promise.longest_months} months"
    return promise.title, often, *(plain_money(minor) for minor in promise.price_minor), longest


@click.command(
    help="Play virtual jobs, and say how often each way's 80 % range held what it came to."
)
@click.option(
    "--family",
    default=first_family(),
    show_default=True,
    help="Family the machines are drawn from.",
)
@click.option(
    "--jobs", default=300, show_default=True, type=click.IntRange(2), help="How many virtual jobs."
)
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Seed of everything drawn."
)
@click.option(
    "--workers", default=2, show_default=True, type=click.IntRange(1), help="Processes to use."
)
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@catalog_command
def calibrate(
    known: Catalog, family: str, jobs: int, seed: int, workers: int, as_json: bool
) -> None:
    """Print how often each 80 % range held; shares of 1, amounts in whole units."""
    from counterpoise.workshop.studies.calibration import calibrate as played

    # refused in words before any process is started
    known.load(family)
    # the bar goes to stderr: what is piped on is the answer alone
    with click.progressbar(length=jobs, label="virtual jobs", file=sys.stderr) as bar:
        rows = played(family, jobs, seed, workers, bar.update, folder=known.folder)
    if as_json:
        click.echo(json.dumps(rows, indent=2))
        return
    # a range of 80 % that is honest holds eight times in ten; below and above say which way it errs
    heads = f"{'ranges':>8}{'held':>8}{'below':>8}{'above':>8}{'expected':>11}{'came to':>10}"
    click.echo(f"{'way to end it':<20}{heads}")
    for name, row in rows.items():
        shares = "".join(f"{row[key]:>8.1%}" for key in ("held", "below", "above"))
        money_columns = f"{row['value'] / 100:>11.2f}{row['outcome'] / 100:>10.2f}"
        click.echo(f"{name:<20}{row['ranges']:>8}{shares}{money_columns}")
