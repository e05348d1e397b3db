"""The model in motion fitted to a recording of a job's machine; the last few fits are kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.dynamics.fitting.spin_levels import USUAL_FREE, SpinLevels
from counterpoise.dynamics.fitting.spin_recording import SpinFit, fit_spin
from counterpoise.errors import InputError
from counterpoise.report.views.machine_figures import own_machine
from counterpoise.report.views.twin_question import model_kind_of
from counterpoise.spin.features.resonance import find_resonances
from counterpoise.spin.features.signature import levels
from counterpoise.workshop.jobs.entries import Figures, Job, Retraction

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.spin.reading import Reading
    from counterpoise.workshop.services.workshop import Workshop

# speeds 8 % apart: finer than any resonance is wide, coarse enough for a median in each
BIN = 0.08
SLOWEST_RPM = 160.0  # below it the drum tumbles, and what shakes is the laundry falling
_SHOWN = 60


@dataclass(frozen=True, slots=True)
class FitRequest:
    """What is known of the run in kg, and the ids of figures that may move (empty: the usual)."""

    load_kg: float | None = None
    unbalance_kg: float | None = None
    free: tuple[str, ...] = ()


def levels_of(
    reading: Reading, load_kg: float | None = None, unbalance_kg: float | None = None
) -> SpinLevels:
    """What a recording shows once a turn, in m/s2, as medians at speeds 8 % apart above 160 rpm.

    ``load_kg`` and ``unbalance_kg`` are None where they are not known.
    """
    by_rpm = levels(reading.orders, reading.course)
    flat_once, up_once = by_rpm.flat[1], by_rpm.up[1]
    good = np.isfinite(flat_once) & np.isfinite(up_once) & (by_rpm.rpm > SLOWEST_RPM)
    slot = np.round(np.log(by_rpm.rpm[good]) / BIN).astype(int)
    # a median: a knock or a hand on the machine spoils single turns, not half of them
    rpm, flat, up = (
        np.array([float(np.median(row[good][slot == each])) for each in np.unique(slot)])
        for row in (by_rpm.rpm, flat_once, up_once)
    )
    # one at the very end of the speeds may be no peak at all
    peaks = tuple(
        (resonance.axis, resonance.rpm)
        for resonance in find_resonances(by_rpm)
        if rpm.size and rpm[0] < resonance.rpm < rpm[-1]
    )
    return SpinLevels(rpm, flat, up, peaks, load_kg, unbalance_kg)


def fit_recording(
    workshop: Workshop, number: int, recording: str, request: FitRequest
) -> tuple[SpinLevels, SpinFit]:
    """The recording's levels and the machine fitted to them.

    Raises InputError where it cannot decide, NotFoundError, RecordingError.
    """
    job = workshop.jobs.get(number)
    return fit_job(workshop, job, workshop.family(job.intake.family), recording, request)


def fit_job(
    workshop: Workshop, job: Job, family: Family, recording: str, request: FitRequest
) -> tuple[SpinLevels, SpinFit]:
    """The same for a job that was read already.

    Raises NotFoundError where it has no such recording, InputError, RecordingError.
    """
    workshop.recordings.check_owned(job, recording)
    # refused before the recording is read: reading takes seconds
    key = model_kind_of(job, family)
    given = own_machine(without_fitted(job), family).values(key, {})
    free = tuple(_model_name(family, figure) for figure in request.free)
    known = (request.load_kg, request.unbalance_kg)
    spin_levels = levels_of(
        workshop.recordings.reading(recording, kind=workshop.recordings.kind(job)), *known
    )
    named = _NamedLevels(spin_levels, (recording, *known))
    return spin_levels, _fit(key, named, tuple(given.items()), free)


class _NamedLevels:
    """Levels that are compared by the name of what they were read from: arrays have no hash."""

    def __init__(self, levels: SpinLevels, name: tuple[object, ...]) -> None:
        self.levels, self.name = levels, name

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _NamedLevels) and self.name == other.name

    def __hash__(self) -> int:
        return hash(self.name)


@lru_cache(maxsize=8)
def _fit(
    key: str, named: _NamedLevels, given: tuple[tuple[str, float], ...], free: tuple[str, ...]
) -> SpinFit:
    return fit_spin(key, named.levels, dict(given), free)


def without_fitted(job: Job) -> Job:
    """The job as if nothing had been fitted yet: a new fit does not lean on an old one.

    The numbers of the entries left are no longer without gaps.
    """
    # by number: what was fitted, and what took a fit back
    gone = {e.number for e in job.entries if isinstance(e.body, Figures) and e.body.how == "fitted"}
    gone |= {
        e.number for e in job.entries if isinstance(e.body, Retraction) and e.body.entry in gone
    }
    return Job(job.number, tuple(e for e in job.entries if e.number not in gone))


def _model_name(family: Family, figure: str) -> str:
    entry = family.figures.get(figure)
    if entry is None or not entry.twin:
        # what is offered instead are the figures that a recording can decide at all
        usual = USUAL_FREE.get(family.id, ())
        known = [known.id for known in family.figures.values() if known.twin in usual]
        raise InputError(
            f"free: {figure[:_SHOWN]} cannot be fitted",
            field="free",
            remedy=f"One of {', '.join(known)}.",
        )
    return entry.twin
