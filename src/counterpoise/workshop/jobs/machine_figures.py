"""The figures of a job's own machine: mass, springs, dampers, spin speed, clearance. Checked, and gathered.

The latest standing entry that names a figure holds; an entry taken back lets the one before it hold again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from counterpoise.errors import InputError, ReadingError
from counterpoise.workshop.jobs.entries import Figures, How, Job
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family, FigureEntry

_SLIPS = (
    1000.0,
    0.001,
    100.0,
    0.01,
    10.0,
    0.1,
    25.4,
    1 / 25.4,
    2.0,
    0.5,
)  # the unit, the comma, inches, a radius


@dataclass(frozen=True, slots=True)
class Known:
    """A figure of the machine as the job holds it: value, one standard error (0: not told), how, by which entry."""

    id: str
    value: float
    error: float
    how: How
    entry: int
    recording: str = ""


def check_figures(family: Family, job: Job, body: Figures) -> Figures:
    """Return the figures as they should be stored. Raises InputError or ReadingError naming field and remedy."""
    if body.how not in get_args(How):
        raise InputError(
            f"how: {body.how!r} is no way to know it",
            field="how",
            remedy=f"One of {', '.join(get_args(How))}",
        )
    if not body.values:
        raise InputError("values: no figure is given", field="values", remedy="Give at least one")
    for name, value in body.values.items():
        _check_one(family, job, name, value)
    for name, error in body.errors.items():
        if name not in body.values or not (math.isfinite(error) and error >= 0):
            raise InputError(
                f"errors.{name}: {error:g} is no error of a figure given", field=f"errors.{name}"
            )
    return body


def _check_one(family: Family, job: Job, name: str, value: float) -> None:
    field = f"values.{name}"
    if name not in family.figures:
        titles = {key: entry.title for key, entry in family.figures.items()}
        shown = name if len(name) <= 60 else f"{name[:57]}..."
        raise InputError(
            f"{field[:80]}: there is no figure {shown!r}",
            field=field[:80],
            remedy=did_you_mean(name[:60], titles),
        )
    entry = family.figures[name]
    _fits(family, job, entry)
    if not (math.isfinite(value) and entry.low <= value <= entry.high):
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit} cannot be".replace("  ", " "),
            field=field,
            remedy=_slip(entry, value),
        )
    if entry.whole and value != int(value):
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit}", field=field, remedy="Give a whole number"
        )
    if entry.values and value not in entry.values:
        there = " or ".join(f"{v:g}" for v in entry.values)
        raise ReadingError(
            f"{entry.title}: {value:g} {entry.unit} cannot be", field=field, remedy=f"Give {there}"
        )


def _fits(family: Family, job: Job, entry: FigureEntry) -> None:
    """Refuse a figure that only another kind of machine of the family has."""
    for feature, wanted in entry.needs.items():
        has = job.intake.features.get(feature)
        if has is not None and has != wanted:
            named = family.features[feature].values
            raise InputError(
                f"{entry.title}: only for machines with {named[wanted]!r}; this one is down as {named[has]!r}",
                field="features",
                remedy="Leave it out, or correct the intake",
            )


def _slip(entry: FigureEntry, value: float) -> str:
    unit = f" {entry.unit}" if entry.unit else ""
    allowed = f"Give {entry.low:g} to {entry.high:g}{unit}"
    meant = [value * slip for slip in _SLIPS if entry.low <= value * slip <= entry.high]
    return f"Did you mean {meant[0]:.3g}{unit}? {allowed}" if meant and not entry.whole else allowed


def figures_of_job(job: Job) -> Mapping[str, Known]:
    """Return what the job holds of its machine, by figure; the latest standing entry goes before earlier ones."""
    found: dict[str, Known] = {}
    for entry in job.standing:
        if isinstance(entry.body, Figures):
            for name, value in entry.body.values.items():
                error = entry.body.errors.get(name, 0.0)
                found[name] = Known(
                    name, value, error, entry.body.how, entry.number, entry.body.recording
                )
    return found


def fitting(family: Family, job: Job) -> tuple[FigureEntry, ...]:
    """Return the figures that this job's machine can have, in the order of the catalog."""
    has = job.intake.features
    return tuple(
        entry
        for entry in family.figures.values()
        if all(has.get(feature, wanted) == wanted for feature, wanted in entry.needs.items())
    )


__all__ = ["Known", "check_figures", "figures_of_job", "fitting"]
