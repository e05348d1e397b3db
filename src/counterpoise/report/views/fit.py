"""The machine in motion fitted to a recording of a job: what page and terminal tell of it, and what is put down."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.dynamics.fitting.spin_levels import USUAL_FREE, SpinLevels
from counterpoise.dynamics.fitting.spin_recording import FittedFigure, SpinFit, fit_spin
from counterpoise.errors import InputError
from counterpoise.report.views.machine_figures import NOTHING, OwnMachine, own_machine
from counterpoise.report.views.twin import model_kind_of
from counterpoise.report.words.numbers import number
from counterpoise.spin.features.resonance import find_resonances
from counterpoise.spin.features.signature import levels
from counterpoise.workshop.jobs.entries import Figures, Job, Retraction

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.spin.reading import Reading
    from counterpoise.workshop.services.workshop import Workshop

BIN = 0.08  # speeds 8 % apart
GOOD, FAIR = 1.25, 1.6  # by what factor the levels may differ; estimate
AXES = {"flat": "across", "up": "up and down"}
DRUM_WORDS = {
    "unbalance_kg": ("Out of balance in the drum", "kg"),
    "depth": ("Its place, 0 at the hub to 1 at the opening", ""),
    "load_kg": ("Wet load", "kg"),
    "phone_x_m": ("Phone to the right of the middle", "m"),
    "phone_y_m": ("Phone behind the middle", "m"),
}


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A fitted figure in the catalog's unit; ``told``: the recording decides it, else it stays about as usual."""

    id: str
    title: str
    unit: str
    value: float
    error: float
    usual: float
    low: float
    high: float
    told: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Swing:
    """A resonance: along which axis, read off the recording, and of the machine as fitted."""

    words: str
    measured_rpm: float
    fitted_rpm: float


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """A fit: in a sentence, figure by figure, with what lay in the drum, resonances, and what the job held.

    ``off``: by what factor the shake differs over all speeds, ``off_usual`` the same before the fit.
    """

    number: int
    recording: str
    name: str
    last: int
    sentence: str
    advice: str
    off: float
    off_usual: float
    speeds: int
    figures: tuple[FittedLine, ...]
    drum: tuple[FittedLine, ...]
    resonances: tuple[Swing, ...]
    kept: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FitRequest:
    """What is known of the run, and what may move; empty: the usual figures of the kind."""

    load_kg: float | None = None
    unbalance_kg: float | None = None
    free: tuple[str, ...] = ()


def levels_of(
    reading: Reading, load_kg: float | None = None, unbalance_kg: float | None = None
) -> SpinLevels:
    """What a recording shows once a turn, as medians at speeds 8 % apart above 160 rpm."""
    lev = levels(reading.orders, reading.course)
    good = np.isfinite(lev.flat[1]) & np.isfinite(lev.up[1]) & (lev.rpm > 160)
    slot = np.round(np.log(lev.rpm[good]) / BIN).astype(int)
    rows = [
        [float(np.median(x[good][slot == k])) for k in np.unique(slot)]
        for x in (lev.rpm, lev.flat[1], lev.up[1])
    ]
    rpm, flat, up = (np.array(row) for row in rows)
    peaks = tuple(
        (one.axis, one.rpm)
        for one in find_resonances(lev)
        if rpm.size and rpm[0] < one.rpm < rpm[-1]
    )
    return SpinLevels(rpm, flat, up, peaks, load_kg, unbalance_kg)


def fit_recording(
    workshop: Workshop, number: int, recording: str, asked: FitRequest
) -> tuple[SpinLevels, SpinFit]:
    """The recording's levels and the machine fitted to them. Raises InputError where it cannot decide."""
    job, family = workshop.jobs.get(number), workshop.jobs.family_of(number)
    key = model_kind_of(job, family)
    own = own_machine(without_fitted(job), family)
    given = own.values(key, {})
    free = tuple(_model_name(family, one) for one in asked.free)
    seen = levels_of(workshop.recordings.reading(recording), asked.load_kg, asked.unbalance_kg)
    return seen, _fit(
        key, _Held(seen, (recording, asked.load_kg, asked.unbalance_kg)), tuple(given.items()), free
    )


class _Held:
    """Levels with a name to remember them by."""

    def __init__(self, seen: SpinLevels, name: tuple[object, ...]) -> None:
        self.seen, self.name = seen, name

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and self.name == other.name

    def __hash__(self) -> int:
        return hash(self.name)


@lru_cache(maxsize=8)
def _fit(
    key: str, held: _Held, given: tuple[tuple[str, float], ...], free: tuple[str, ...]
) -> SpinFit:
    return fit_spin(key, held.seen, dict(given), free)


def without_fitted(job: Job) -> Job:
    """The job as if nothing had been fitted yet: a new fit does not lean on an old one."""
    gone = {e.number for e in job.entries if isinstance(e.body, Figures) and e.body.how == "fitted"}
    gone |= {
        e.number for e in job.entries if isinstance(e.body, Retraction) and e.body.entry in gone
    }
    return Job(job.number, tuple(e for e in job.entries if e.number not in gone))


def _model_name(family: Family, figure: str) -> str:
    entry = family.figures.get(figure)
    if entry is None or not entry.twin:
        known = [
            one.id for one in family.figures.values() if one.twin in USUAL_FREE.get(family.id, ())
        ]
        raise InputError(
            f"free: {figure[:60]} cannot be fitted",
            field="free",
            remedy=f"One of {', '.join(known)}.",
        )
    return entry.twin


def fit_answer(workshop: Workshop, number: int, recording: str, asked: FitRequest) -> FitAnswer:
    """Fit the job's machine to one of its recordings, and tell."""
    job, family = workshop.jobs.get(number), workshop.jobs.family_of(number)
    seen, fit = fit_recording(workshop, number, recording, asked)
    figures = tuple(line for one in fit.figures if (line := _line(family, one)) is not None)
    return FitAnswer(
        number, recording, workshop.recordings.get(recording)[0], job.entries[-1].number, _sentence(seen, fit), _advice(fit),
        fit.off, fit.off_usual, int(seen.rpm.size), figures, tuple(_drum_line(one) for one in fit.drum),
        tuple(Swing(AXES[axis], measured, found) for axis, measured, found in fit.resonances),
        _kept(own_machine(without_fitted(job), family), family),
    )  # fmt: skip


def _kept(own: OwnMachine, family: Family) -> tuple[str, ...]:
    titles = {one.twin: one.title for one in family.figures.values() if one.twin}
    return tuple(
        f"{titles.get(name, name)}, {words}" for name, words in own.words.items() if own != NOTHING
    )


def _line(family: Family, one: FittedFigure) -> FittedLine | None:
    entry = next((figure for figure in family.figures.values() if figure.twin == one.name), None)
    if entry is None:
        return None
    value, error, usual, low, high = (
        x / entry.scale for x in (one.value, one.error, one.usual, one.low, one.high)
    )
    return _worded(entry.id, entry.title, entry.unit, (value, error, usual, low, high), one)


def _drum_line(one: FittedFigure) -> FittedLine:
    title, unit = DRUM_WORDS[one.name]
    return _worded(one.name, title, unit, (one.value, one.error, one.usual, one.low, one.high), one)


def _worded(
    key: str, title: str, unit: str, numbers: tuple[float, ...], one: FittedFigure
) -> FittedLine:
    value, error, usual, low, high = numbers
    about = f"{_short(value)} {unit}".strip()
    said = f"{title}: {about}, give or take {_short(error)} (usual {_short(usual)})"
    if one.at_limit:
        said = f"{title}: at the end of what can be ({about}); do not rely on it"
    elif not one.determined:
        said = (
            f"{title}: this recording does not tell it (usual {_short(usual)} {unit}".rstrip() + ")"
        )
    return FittedLine(key, title, unit, value, error, usual, low, high, one.determined, said)


def _short(value: float) -> str:
    return number(float(f"{value:.2g}" if abs(value) < 10 else f"{value:.3g}"))


def _sentence(seen: SpinLevels, fit: SpinFit) -> str:
    how = "well" if fit.off <= GOOD else "fairly" if fit.off <= FAIR else "badly"
    return (
        f"Fitted {how}: over {seen.rpm.size} speeds from {seen.rpm[0]:.0f} to {seen.rpm[-1]:.0f} rpm the shake differs "
        f"by a factor of {fit.off:.2f} (before the fit {fit.off_usual:.2f})."
    )


def _advice(fit: SpinFit) -> str:
    if fit.off > FAIR:
        return "The model does not follow this machine; something may be wrong with it. Do not rely on these figures."
    return (
        "It is the machine as it was in this spin, faults included: little friction may be the fault itself. What two "
        "recordings of it differ by is surer than either figure."
    )


def figures_entry(told: FitAnswer, note: str = "") -> Figures:
    """The entry that puts the figures down which the recording tells. Raises InputError where it tells none."""
    lines = [line for line in told.figures if line.told]
    if not lines:
        raise InputError(
            "This recording tells no figure of the machine",
            field="recording",
            remedy="Record a spin up to top speed.",
        )
    values = {line.id: min(max(_round(line.value), line.low), line.high) for line in lines}
    errors = {line.id: _round(line.error) for line in lines}
    return Figures(values, "fitted", errors, f"{told.sentence} {note}".strip(), told.recording)


def _round(value: float) -> float:
    return float(f"{value:.4g}")


def fit_svg(workshop: Workshop, number: int, recording: str, asked: FitRequest) -> bytes:
    """Shake once a turn against speed: as recorded, and of the machine as fitted."""
    from counterpoise.report.figures.dynamics import fit_figure, svg

    return svg(fit_figure(*fit_recording(workshop, number, recording, asked)))


__all__ = ["FitAnswer", "FitRequest", "figures_entry", "fit_answer", "fit_svg", "levels_of"]
