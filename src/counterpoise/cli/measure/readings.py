"""What the measuring commands share: rows of readings, and how a result is shown."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from typing import TYPE_CHECKING, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.bench.quantity import Result
    from counterpoise.catalog.family import Family

Numbers = tuple[float, ...]
Gaps = tuple[float | None, ...]  # None where the feeler does not reach
Command = TypeVar("Command", bound="Callable[..., object]")
MISSING = {"-", "_", "?"}  # what people write for a reading they could not take


# under which the group keeps the family that was named
FAMILY = "counterpoise.family"


class Row(click.ParamType["tuple[float | None, ...]"]):
    """Numbers in a row with commas, as ``9.1,8.4,7.9``.

    With ``gaps``, ``-`` stands for a missing one (None). ``count``: how many there must be.
    """

    name = "numbers"

    def __init__(self, *, gaps: bool = False, count: int | None = None) -> None:
        self.gaps, self.count = gaps, count

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float | None, ...]:
        """The row as numbers; a usage error that names the word which is no number."""
        # click converts a default a second time
        if isinstance(value, tuple):
            return value
        # commas part the numbers, so the decimals need a point
        row = tuple(self._number(word.strip(), param, ctx) for word in str(value).split(","))
        if self.count is not None and len(row) != self.count:
            self.fail(
                f"{value!r} has {len(row)} numbers; give {self.count} with commas between",
                param,
                ctx,
            )
        return row

    def _number(
        self, word: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> float | None:
        if self.gaps and word in MISSING:
            return None
        # a meter over its range; only an ohm reading can be that, and the bench refuses others
        if word.lower() in {"open", "ol"}:
            return math.inf
        try:
            return float(word)
        except ValueError:
            self.fail(
                f"{word!r} is no number; write them as 9.1,8.4,7.9 (point for the decimals)",
                param,
                ctx,
            )


ROW = Row()


def measuring(command: Command) -> Command:
    """Add the options that every measuring command has."""
    # click applies options from the last to the first
    command = click.option("--json", "as_json", is_flag=True, help="Print JSON.")(command)
    return click.option(
        "--figure",
        type=click.Path(dir_okay=False),
        help="Draw the result into this file (.svg, .png, .pdf).",
    )(command)


def show(
    result: Result, *, as_json: bool, figure: str | None, remarks: tuple[str, ...] = ()
) -> None:
    """Print a result: cautions, then the sentence, the numbers with their words, what they say.

    ``remarks`` come after the result's own. ``figure``: a file to draw it into, None for none.
    """
    from counterpoise.bench.evidence import check_readings

    # matplotlib takes a second to import; words and JSON need none of it
    if figure is not None:
        from counterpoise.report.figures.bench import figure_of

        figure_of(result).savefig(figure)
    # with what to type into a job, so that a program can carry it on
    if as_json:
        data = result.to_dict() | {
            "answers": {check: asdict(reading) for check, reading in check_readings(result).items()}
        }
        click.echo(json.dumps(_finite(data), indent=2, ensure_ascii=False))
        return
    family: Family | None = click.get_current_context().meta.get(FAMILY)
    for line in _lines(result, remarks, family):
        click.echo(family.body.spoken(line) if family else line)


def _lines(result: Result, remarks: tuple[str, ...], family: Family | None) -> list[str]:
    from counterpoise.bench.evidence import check_readings

    grades = result.grades()
    # cautions before everything: some are about what was just measured
    cautions = [caution.text for caution in result.cautions]
    if family:
        from counterpoise.report.words.machine_words import spoken_cautions

        cautions = list(spoken_cautions(cautions, family))
    lines = [f"! {text}" for text in cautions]
    lines += ["", result.sentence, *getattr(result, "remarks", ()), *remarks, ""]
    for name, quantity in result.measures.items():
        # the grade with its chance, as one reading rarely decides it
        words = ", ".join(
            f"{word} {100 * chance:.0f} %" for word, chance in grades.get(name, {}).items()
        )
        lines.append(f"  {name.replace('_', ' '):<20} {quantity!s:<30} {words}".rstrip())
    # what to type into a job, so that the number goes on with its doubt
    lines += [
        f"  check {check}: reading {reading.value:.3g} {reading.unit}, sd {reading.sd:.2g}"
        for check, reading in check_readings(result).items()
    ]
    lines += [f"  {part}: {text}" for part, text in getattr(result, "says", ())]
    return lines


def _finite(value: object) -> object:
    """The value with infinity as "open", the word a meter shows: JSON has no infinity."""
    if isinstance(value, dict):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(inner) for inner in value]
    return "open" if value in (math.inf, -math.inf) else value
