"""``counterpoise worth`` and ``lives``: does a repair pay; how long machines last by records."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import money, plain, workshop_command
from counterpoise.cli.terminal import console, say
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import OLDEST_YEARS
from counterpoise.workshop.jobs.fields import Range

if TYPE_CHECKING:
    from counterpoise.report.views.worth import WorthOfKind
    from counterpoise.workshop.services.workshop import Workshop

# as an intake takes an age; a repair that hardly ever holds costs without end
AGE, HOLDS = Range(0, OLDEST_YEARS), Range(0.01, 1)
MOST_MINOR = 100_000_00
_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(
    help=("Weigh a repair against a new machine, by the years left, and by the rules people know.")
)
@click.option("--age", type=float, required=True, help="Age of the machine, years.")
@click.option("--price", required=True, help="Price of the repair, in whole units like 249.50.")
@click.option(
    "--family", default="", help="The family of machines; needed where the workshop knows several."
)
@click.option("--used", help="What a used machine of that age costs.")
@click.option(
    "--holds",
    type=float,
    default=1.0,
    show_default=True,
    help="Chance that the repair holds, 0.01 to 1.",
)
@workshop_command
def worth(
    workshop: Workshop,
    *,
    family: str,
    age: float,
    price: str,
    used: str | None,
    holds: float,
    in_words: bool,
) -> WorthOfKind:
    """Repair against new, in minor units; ``used`` None if none is for sale. Raises InputError."""
    from counterpoise.report.views.worth import worth_of_kind

    AGE.check(age, "age")
    HOLDS.check(holds, "holds")
    now = workshop.settings()
    # a used machine of that age is the third way, where one can be had
    used_minor = None if used is None else _price(used, "used")
    kind = workshop.families.meant(family)
    answer = worth_of_kind(
        kind, now, age, _price(price, "price"), works=holds, used_minor=used_minor
    )
    if in_words:
        _print(answer, kind.title, now.currency)
    return answer


def _print(answer: WorthOfKind, title: str, currency: str) -> None:
    from counterpoise.money.amount import show_about

    for sentence in answer.sentences:
        console().print(say(sentence))
    # the rules people know come after the reckoning: they are there to be compared with it
    for rule in answer.rules:
        limit = show_about(rule.limit_minor, currency)
        console().print(say(f"\n{rule.title}: up to {limit}", "bold"))
        console().print(say(rule.why))
    console().print(say(f"\n{title}, calculated with", "bold"))
    for figure in answer.figures:
        console().print(say(f"{figure.words}: {figure.where}"))
    if answer.assumed:
        console().print(say(answer.assumed, "bold"))


def _price(text: str, field: str) -> int:
    minor = money(text or "nothing", field) or 0
    # more than any machine costs: a comma slipped, or a number of another field
    if minor > MOST_MINOR:
        raise InputError(
            f"{field}: {text.strip()} is too large",
            field=field,
            remedy=f"Give an amount up to {MOST_MINOR // 100}.",
        )
    return minor


@click.command(
    help=(
        "Fit the life of machines to FILE, a CSV with years, failed (yes, no) and entered (years)."
    )
)
@click.argument("file", type=_READABLE)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def lives(file: Path, as_json: bool) -> None:
    """Print the life in years that the records tell. Raises InputError that names the line."""
    from counterpoise.money.fit import fit_weibull
    from counterpoise.money.records import decoded, fit_sentences, read_lives

    fit = fit_weibull(read_lives(decoded(file.read_bytes())))
    # no workshop is needed for it, so --json is told here
    if as_json:
        click.echo(json.dumps(plain(fit), indent=2))
        return
    for sentence in fit_sentences(fit):
        console().print(say(sentence))
