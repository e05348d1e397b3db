"""``counterpoise guarantee`` and ``calibrate``: what a guarantee costs; whether the ranges of the options hold."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command

if TYPE_CHECKING:
    from counterpoise.report.views.guarantee import Guarantees
    from counterpoise.workshop.billing.guarantee import GuaranteeTerms
    from counterpoise.workshop.services.workshop import Workshop


@click.command()
@click.option("--family", default="front_loader", show_default=True, help="The family of machines.")
@click.option(
    "--age", type=float, default=6.0, show_default=True, help="Age of the machine, years."
)
@click.option("--repair", default="", metavar="ID", help="This repair only.")
@click.option("--price", default="", metavar="AMOUNT", help="What the customer would pay for it.")
@workshop_command
def guarantee(
    workshop: Workshop, *, tell: bool, family: str, age: float, repair: str, price: str
) -> Any:
    """Say how often a repair comes back, what to ask for a guarantee on it, and how long it can be for a price."""
    from counterpoise.report.views.guarantee import guarantees
    from counterpoise.report.words.numbers import read_money

    found = guarantees(workshop, family, age, read_money(price, "price") if price else None, repair)
    if tell:
        _tell(found)
    return found


def _tell(found: Guarantees) -> None:
    from rich.table import Table

    from counterpoise.cli.job.show import console, say
    from counterpoise.money.amount import show

    grid = Table.grid(padding=(0, 2))
    heads = ("Guarantee on", "comes back", *(f"{months} mo." for months in found.months))
    paid = "" if found.price_minor is None else f"for {show(found.price_minor, found.currency)}"
    grid.add_row(*(say(text, "bold") for text in (*heads, paid)))
    for one in (*found.repairs, found.machine):
        grid.add_row(*(say(text) for text in _row(one)))
    screen = console()
    screen.print(
        say(
            f"{found.title}, {found.age_years:g} years: what to ask for a guarantee, {found.currency}"
        )
    )
    screen.print(grid)


def _row(one: GuaranteeTerms) -> tuple[str, ...]:
    from counterpoise.money.quote import out_of_ten
    from counterpoise.report.words.numbers import plain_money

    own = f" ({one.comebacks} of our {one.jobs})" if one.jobs else ""
    often = out_of_ten(one.returns) + own if one.repair else ""
    longest = "" if one.longest_months is None else f"{one.longest_months} months"
    return one.title, often, *(plain_money(minor) for minor in one.price_minor), longest


@click.command()
@click.option(
    "--family",
    default="front_loader",
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
def calibrate(family: str, jobs: int, seed: int, workers: int, as_json: bool) -> None:
    """Play virtual jobs, and say how often each way's 80 % range held what it came to."""
    from counterpoise.workshop.studies.calibration import calibrate as played

    with click.progressbar(length=jobs, label="virtual jobs", file=sys.stderr) as bar:
        found = played(family, jobs, seed, workers, bar.update)
    if as_json:
        click.echo(json.dumps(found, indent=2))
        return
    click.echo(
        f"{'way to end it':<20}{'ranges':>8}{'held':>8}{'below':>8}{'above':>8}{'expected':>11}{'came to':>10}"
    )
    for name, row in found.items():
        shares = "".join(f"{row[key]:>8.1%}" for key in ("held", "below", "above"))
        click.echo(
            f"{name:<20}{row['ranges']:>8}{shares}{row['value'] / 100:>11.2f}{row['outcome'] / 100:>10.2f}"
        )
