"""``counterpoise worth`` and ``lives``: does a repair pay; how long machines last by records."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import plain, workshop_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.money import RepairOrNew
    from counterpoise.workshop.services.workshop import Workshop

_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(
    help=("Weigh a repair against a new machine, by the years left, and by the rules people know.")
)
@click.option("--age", type=float, required=True, help="Age of the machine, years.")
@click.option("--price", required=True, help="Price of the repair, in whole units like 249.50.")
@click.option("--used", help="What a used machine of that age costs.")
@click.option("--holds", type=click.FloatRange(0, 1, min_open=True), default=1.0, show_default=True,
              help="Chance that the repair holds.")  # fmt: skip
@workshop_command
def worth(
    workshop: Workshop, *, age: float, price: str, used: str | None, holds: float, in_words: bool
) -> RepairOrNew:
    """Repair against new, in minor units; ``used`` None if none is for sale. Raises InputError."""
    from counterpoise.money import Replacement, Weibull, repair_or_new
    from counterpoise.money.amount import read, show_about

    now = workshop.settings()
    currency = now.currency
    # how long machines live is a setting: the workshop's own records know better than any book
    life = Weibull(now.life_shape, now.life_scale_years)
    new = Replacement(now.new_machine_minor, life, now.discount_rate_percent)
    # a used machine of that age is the third way, where one can be had
    used_minor = None if used is None else read(used, currency)
    answer = repair_or_new(
        new, age, read(price, currency), works=holds, used_minor=used_minor, currency=currency
    )
    if in_words:
        for sentence in answer.sentences:
            console().print(say(sentence))
        # the rules people know come after the reckoning: they are there to be compared with it
        for rule in answer.rules:
            limit = show_about(rule.limit_minor, currency)
            console().print(say(f"\n{rule.title}: up to {limit}", "bold"))
            console().print(say(rule.why))
    return answer


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
    from counterpoise.money.records import fit_sentences, read_lives

    # letters of another encoding do no harm in a table of numbers
    text = file.read_text(encoding="utf-8", errors="replace")
    fit = fit_weibull(read_lives(text))
    # no workshop is needed for it, so --json is told here
    if as_json:
        click.echo(json.dumps(plain(fit), indent=2))
        return
    for sentence in fit_sentences(fit):
        console().print(say(sentence))
