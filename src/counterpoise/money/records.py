"""Lives from a table: years, failed, entered; every wrong line shown at once."""

from __future__ import annotations

import csv
import io

from counterpoise.errors import InputError
from counterpoise.money.fit import Lives, WeibullFit

# as people write them into a table
_YES, _NO = {"1", "yes", "y", "true"}, {"0", "no", "n", "false"}
_MOST_TOLD = 20


def read_lives(text: str) -> Lives:
    """Read lives from a CSV with the columns ``years``, ``failed`` (yes or no) and ``entered``.

    ``years`` is the age at failure or at the last look, ``entered`` the age in years at which the
    machine came under observation.

    The last two may be left out. Comma or semicolon; where it is a semicolon, decimals may have a
    comma.
    """
    # a mark at the beginning of the file is no part of the first column's name
    header = text.lstrip("\ufeff").split("\n", 1)[0]
    # where the comma is the decimal mark, tables are parted by semicolons
    mark = ";" if ";" in header else ","
    rows = csv.DictReader(
        io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=mark, skipinitialspace=True
    )
    # 'Years' and ' years' are meant as well
    names = {name.strip().lower(): name for name in rows.fieldnames or ()}
    if "years" not in names:
        raise InputError(
            "there is no column years",
            field="years",
            remedy="Begin with a line such as years,failed,entered",
        )
    lives: list[tuple[float, bool, float]] = []
    wrong: list[str] = []
    for row in rows:
        cells = {key: (row[name] or "").strip() for key, name in names.items()}
        # empty lines at the end of a table are no lives
        if any(cells.values()):
            try:
                lives.append(_life(cells))
            except InputError as error:
                # all of them at once: nobody mends a table line by line
                wrong.append(f"line {rows.line_num}: {error}")
    if wrong:
        rest = f"\n  and {len(wrong) - _MOST_TOLD} more" * (len(wrong) > _MOST_TOLD)
        shown = "\n  ".join(wrong[:_MOST_TOLD])
        raise InputError(
            f"{len(wrong)} of {len(lives) + len(wrong)} lines cannot be read:\n  {shown}{rest}",
            field="years",
        )
    if not lives:
        raise InputError(
            "there is no line below the header", field="years", remedy="Give one line a machine"
        )
    years, failed, entered = zip(*lives, strict=True)
    return Lives.of(years, failed, entered)


def fit_sentences(fit: WeibullFit) -> tuple[str, ...]:
    """Put a fit into sentences, with what to set."""
    life = fit.life
    return (
        f"{fit.machines} machines, {fit.failures} of them failed.",
        (
            f"They last {life.mean():.1f} years on average; half of them for "
            f"{life.quantile(0.5):.1f} years."
        ),
        (
            f"Shape {life.shape:.2f} ± {fit.shape_se:.2f}, scale {life.scale_years:.1f} ± "
            f"{fit.scale_se:.1f} years."
        ),
        (
            f"To reckon with them, set life_shape to {life.shape:.3g} and life_scale_years to "
            f"{life.scale_years:.3g}."
        ),
    )


def _life(cells: dict[str, str]) -> tuple[float, bool, float]:
    years, entered = (
        _number(cells["years"], "years"),
        _number(cells.get("entered") or "0", "entered"),
    )
    said = (cells.get("failed") or "yes").lower()
    if said not in _YES | _NO:
        raise InputError(f"failed is {said!r}", field="failed", remedy="Write yes or no")
    if not 0.0 <= entered < years:
        raise InputError(
            f"a life from {entered:g} to {years:g} years",
            field="years",
            remedy="It must end after it began",
        )
    return years, said in _YES, entered


def _number(text: str, field: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        # fails the comparison below, which then says what was written
        value = float("nan")
    # a year of birth written as an age shows here
    if not 0.0 <= value < 1000.0:
        raise InputError(
            f"{field} is {text!r}", field=field, remedy="Give years as a number, such as 7.5"
        )
    return value
