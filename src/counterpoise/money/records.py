"""Lives from a table: years, failed, entered; every wrong line shown at once."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.money.fit import Lives, WeibullFit

if TYPE_CHECKING:
    from collections.abc import Iterator

# as people write them into a table
_YES, _NO = {"1", "yes", "y", "true"}, {"0", "no", "n", "false"}
_MOST_TOLD = 20
COLUMNS = ("years", "failed", "entered")
# no machine of a household is older; half a day is the least that anybody writes down (from memory)
_LEAST_YEARS, _MOST_YEARS = 0.001, 100.0


def decoded(data: bytes) -> str:
    """The text of a table as a file holds it: UTF-8, or UTF-16 with its mark. Raises InputError."""
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16")
        if b"\0" not in data:
            # letters of another encoding do no harm in a table of numbers
            return data.decode("utf-8", errors="replace")
    except UnicodeDecodeError:
        pass  # half a character at the end: cut off on the way
    raise InputError(
        "the file is no text that can be read", field="file", remedy="Save the table as CSV, UTF-8"
    )


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
    head = [name.strip().lower() for name in rows.fieldnames or ()]
    names = dict(zip(head, rows.fieldnames or (), strict=True))
    # which of two columns is meant cannot be known, and the last would win in silence
    for name in COLUMNS:
        if head.count(name) > 1:
            raise InputError(
                f"there are {head.count(name)} columns {name}",
                field=name,
                remedy="Leave one of them, or give the others another name",
            )
    if "years" not in names:
        raise InputError(
            "there is no column years",
            field="years",
            remedy="Begin with a line such as years,failed,entered",
        )
    lives: list[tuple[float, bool, float]] = []
    wrong: list[str] = []
    for row in _rows(rows):
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


def _rows(rows: csv.DictReader[str]) -> Iterator[dict[str, str | None]]:
    try:
        yield from rows
    # a quote that never ends swallows the file until a cell is too long
    except csv.Error as error:
        raise InputError(
            f"line {rows.line_num}: is no line of a table ({error})",
            field="file",
            remedy="Look for a quote that does not end",
        ) from error


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
            f"To calculate with them, set life_shape to {life.shape:.3g} and life_scale_years to "
            f"{life.scale_years:.3g} for their family, as FAMILY.life_shape=... and so on."
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
    # a machine is watched from new or from a later age; a life is more than nothing
    least = _LEAST_YEARS if field == "years" else 0.0
    if not least <= value <= _MOST_YEARS:
        raise InputError(f"{field} is {text[:40]!r}", field=field, remedy=_meant(value))
    return value


def _meant(value: float) -> str:
    """What to write instead of an age that cannot be: days and months are the usual slips."""
    for unit, a_year in (("months", 12.0), ("days", 365.25)):
        if _MOST_YEARS < value <= _MOST_YEARS * a_year:
            return f"Give years, up to {_MOST_YEARS:g}: {value:g} {unit} are {value / a_year:.1f}"
    return f"Give years as a number from {_LEAST_YEARS:g} to {_MOST_YEARS:g}, such as 7.5"
