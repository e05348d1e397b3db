"""The figures of a job's own machine: mass, springs, dampers, spin speed, clearance.

The latest standing entry that names a figure holds; an entry taken back lets the one before it hold
again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, ReadingError
from counterpoise.workshop.jobs.choices import How
from counterpoise.workshop.jobs.entries import Figures, Job
from counterpoise.workshop.jobs.field_checks import check_fits, meant
from counterpoise.workshop.jobs.machine_features import known_features
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.catalog.figure_entry import FigureEntry

# how a figure comes out wrong, the likeliest first: the unit, the comma, inches, a radius
_SLIPS = (1000.0, 0.001, 100.0, 0.01, 10.0, 0.1, 25.4, 1 / 25.4, 2.0, 0.5)
_LONGEST_PATH = 80  # an id that is none can be as long as somebody likes


@dataclass(frozen=True, slots=True)
class KnownFigure:
    """A figure of the machine as the job holds it, and the number of the entry that says so.

    ``value`` and ``error`` (one standard error, 0: not given) are in the unit of the figure.
    """

    id: str
    value: float
    error: float
    how: How
    entry: int
    recording: str = ""


def check_figures(family: Family, job: Job, body: Figures) -> Figures:
    """Return the figures as they should be stored.

    Raises InputError or ReadingError naming field and remedy.
    """
    # an entry that says nothing would still count as evidence that somebody looked
    if not body.values:
        raise InputError("values: no figure is given", field="values", remedy="Give at least one")
    for name, value in body.values.items():
        _check_figure(family, job, name, value)
    # an error without its figure is left over from a fit that was cut short
    for name, error in body.errors.items():
        if name not in body.values or not (math.isfinite(error) and error >= 0):
            raise InputError(
                f"errors.{name}: {error:g} is no error of a figure given", field=f"errors.{name}"
            )
    return body


def _check_figure(family: Family, job: Job, name: str, value: float) -> None:
    field = f"values.{name}"[:_LONGEST_PATH]
    if name not in family.figures:
        titles = {key: entry.title for key, entry in family.figures.items()}
        shown = name if len(name) <= 60 else f"{name[:57]}..."
        raise InputError(
            f"{field}: there is no figure {shown!r}",
            field=field,
            remedy=did_you_mean(name[:60], titles),
        )
    entry = family.figures[name]
    check_fits(family, job, entry.needs, entry.title, "Leave it out, or correct the intake")
    if not (math.isfinite(value) and entry.low <= value <= entry.high):
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit} cannot be".replace("  ", " "),
            field=field,
            remedy=_range_remedy(entry, value),
        )
    if entry.whole and value != int(value):
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit}", field=field, remedy="Give a whole number"
        )
    # some come in a few kinds only: two dampers, three or four, never two and a half
    if entry.values and value not in entry.values:
        there = " or ".join(f"{v:g}" for v in entry.values)
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit} cannot be", field=field, remedy=f"Give {there}"
        )


def _range_remedy(entry: FigureEntry, value: float) -> str:
    unit = f" {entry.unit}" if entry.unit else ""
    allowed = f"Give {entry.low:g} to {entry.high:g}{unit}"
    likely = meant(value, _SLIPS, entry.low, entry.high)
    # a count has no unit to slip in
    return f"Did you mean {likely:.3g}{unit}? {allowed}" if likely and not entry.whole else allowed


def figures_of_job(job: Job) -> Mapping[str, KnownFigure]:
    """Return what the job holds of its machine, by the id of the figure."""
    figures: dict[str, KnownFigure] = {}
    # in the order they were put down, so that a later one replaces an earlier one
    for entry in job.standing:
        if isinstance(entry.body, Figures):
            for name, value in entry.body.values.items():
                error = entry.body.errors.get(name, 0.0)
                figures[name] = KnownFigure(
                    name, value, error, entry.body.how, entry.number, entry.body.recording
                )
    return figures


def fitting(family: Family, job: Job) -> tuple[FigureEntry, ...]:
    """Return the figures that this job's machine can have, in the order of the catalog."""
    has = known_features(family, job)
    return tuple(
        entry
        for entry in family.figures.values()
        if all(has.get(feature, wanted) == wanted for feature, wanted in entry.needs.items())
    )
