"""``counterpoise worth`` and ``lives``: does a repair pay; how long machines go on by one's own records."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import plain, workshop_command

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop

_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.option("--age", type=float, required=True, help="Age of the machine, years.")
@click.option("--price", required=True, help="Price of the repair, in whole units like 249.50.")
@click.option("--used", help="What a used machine of that age costs.")
@click.option("--holds", type=click.FloatRange(0, 1, min_open=True), default=1.0, show_default=True,
              help="Chance that the repair holds.")  # fmt: skip
@workshop_command
def worth(
    workshop: Workshop, *, age: float, price: str, used: str | None, holds: float, tell: bool
) -> Any:
    """Weigh a repair against a new machine, by the years left, and by the rules people know."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.money import Replacement, Weibull, repair_or_new
    from counterpoise.money.amount import read, show_about

    now = workshop.settings()
    life = Weibull(now.life_shape, now.life_scale_years)
    new = Replacement(now.new_machine_minor, life, now.discount_rate_percent)
    beside = None if used is None else read(used, now.currency)
    found = repair_or_new(
        new, age, read(price, now.currency), works=holds, used_minor=beside, currency=now.currency
    )
    if tell:
        for sentence in found.sentences:
            console().print(say(sentence))
        for rule in found.rules:
            console().print(
                say(f"\n{rule.title}: up to {show_about(rule.limit_minor, now.currency)}", "bold")
            )
            console().print(say(rule.why))
    return found


@click.command()
@click.argument("file", type=_READABLE)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def lives(file: Path, as_json: bool) -> None:
    """Fit the life of machines to FILE, a CSV with years, failed (yes, no) and entered (years)."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.money.fit import fit_weibull
    from counterpoise.money.records import fit_sentences, read_lives

    found = fit_weibull(read_lives(file.read_text(encoding="utf-8", errors="replace")))
    if as_json:
        click.echo(json.dumps(plain(found), indent=2))
        return
    for sentence in fit_sentences(found):
        console().print(say(sentence))
