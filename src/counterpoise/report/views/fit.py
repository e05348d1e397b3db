"""The machine in motion fitted to a recording: what page and terminal tell, what is put down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from counterpoise.dynamics.fitting.spin_levels import SpinLevels
from counterpoise.dynamics.fitting.spin_recording import FittedFigure, SpinFit
from counterpoise.errors import InputError
from counterpoise.report.figures.fit_chart import fit_chart
from counterpoise.report.views.machine_figures import NOTHING, OwnMachine, own_machine
from counterpoise.report.views.machine_fit import (
    FitRequest,
    fit_job,
    fit_recording,
    without_fitted,
)
from counterpoise.report.words.numbers import number
from counterpoise.workshop.jobs.entries import Figures

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.services.workshop import Workshop

# by what factor the levels may differ; estimate
GOOD, FAIR = 1.25, 1.6
# as the phone lies flat on the top panel
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
    """A fitted figure in the catalog's unit, with one standard error, usual value and range.

    ``told``: the recording decides it, else it stays about as usual.
    """

    id: str
    title: str
    unit: str
    value: float
    error: float
    usual: float
    low: float
    high: float
    # an external name: it goes out as JSON, and stays
    told: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Swing:
    """A resonance in rpm: its axis, as read off the recording, and of the machine as fitted."""

    words: str
    measured_rpm: float
    fitted_rpm: float


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """A fit: in a sentence, figure by figure, what lay in the drum, resonances, what the job held.

    ``off`` is the factor by which the shake differs over all speeds, ``off_usual`` the same before
    the fit. ``last`` goes back as ``expected_last``.
    """

    number: int
    recording: str
    name: str
    last: int
    sentence: str
    # a fit is easily believed too much: what to make of it stands beside it
    advice: str
    off: float
    off_usual: float
    speeds: int
    # those of the machine stay with it, those of the drum are of this spin alone
    figures: tuple[FittedLine, ...]
    drum: tuple[FittedLine, ...]
    resonances: tuple[Swing, ...]
    # known of the machine by other means: held fast while the others were fitted
    kept: tuple[str, ...]


def fit_answer(workshop: Workshop, number: int, recording: str, request: FitRequest) -> FitAnswer:
    """Fit the job's machine to one of its recordings, and tell.

    Raises InputError where it cannot decide, NotFoundError, RecordingError.
    """
    job = workshop.jobs.get(number)
    family = workshop.family(job.intake.family)
    spin_levels, fit = fit_job(workshop, job, family, recording, request)
    # figures of the model that no catalog names are left out
    lines = (_line(family, figure) for figure in fit.figures)
    return FitAnswer(
        number=number,
        recording=recording,
        name=workshop.recordings.get(recording)[0],
        last=job.entries[-1].number,
        sentence=_sentence(spin_levels, fit),
        advice=_advice(fit),
        off=fit.off,
        off_usual=fit.off_usual,
        speeds=int(spin_levels.rpm.size),
        figures=tuple(line for line in lines if line is not None),
        drum=tuple(_drum_line(figure) for figure in fit.drum),
        resonances=tuple(
            Swing(AXES[axis], measured, fitted) for axis, measured, fitted in fit.resonances
        ),
        kept=_kept(own_machine(without_fitted(job), family), family),
    )


def _kept(own: OwnMachine, family: Family) -> tuple[str, ...]:
    """What the job held already and the fit did not touch, each with how it is known."""
    if own == NOTHING:
        return ()
    # the catalog's words where it has some, else the model's own name
    titles = {figure.twin: figure.title for figure in family.figures.values() if figure.twin}
    return tuple(f"{titles.get(name, name)}, {words}" for name, words in own.words.items())


def _line(family: Family, figure: FittedFigure) -> FittedLine | None:
    """A figure of the model as one of the catalog; None where the catalog has none for it."""
    entry = next((known for known in family.figures.values() if known.twin == figure.name), None)
    if entry is None:
        return None
    return _worded(entry.id, entry.title, entry.unit, figure, entry.scale)


def _drum_line(figure: FittedFigure) -> FittedLine:
    title, unit = DRUM_WORDS[figure.name]
    return _worded(figure.name, title, unit, figure)


def _worded(
    key: str, title: str, unit: str, figure: FittedFigure, scale: float = 1.0
) -> FittedLine:
    """A fitted figure in words; ``scale`` is SI over the catalog's unit."""
    value, error, usual, low, high = (
        number / scale
        for number in (figure.value, figure.error, figure.usual, figure.low, figure.high)
    )
    about = f"{_short(value)} {unit}".strip()
    # the fit wanted further: the number is the end of what it was allowed
    if figure.at_limit:
        sentence = f"{title}: at the end of what can be ({about}); do not rely on it"
    elif not figure.determined:
        usually = f"{_short(usual)} {unit}".rstrip()
        sentence = f"{title}: this recording does not tell it (usual {usually})"
    else:
        sentence = f"{title}: {about}, give or take {_short(error)} (usual {_short(usual)})"
    return FittedLine(key, title, unit, value, error, usual, low, high, figure.determined, sentence)


def _short(value: float) -> str:
    """Two digits below ten, three above: a fit is no surer than that."""
    return number(float(f"{value:.2g}" if abs(value) < 10 else f"{value:.3g}"))


def _sentence(spin_levels: SpinLevels, fit: SpinFit) -> str:
    how = "well" if fit.off <= GOOD else "fairly" if fit.off <= FAIR else "badly"
    rpm = spin_levels.rpm
    return (
        f"Fitted {how}: over {rpm.size} speeds from {rpm[0]:.0f} to {rpm[-1]:.0f} rpm the shake"
        f" differs by a factor of {fit.off:.2f} (before the fit {fit.off_usual:.2f})."
    )


def _advice(fit: SpinFit) -> str:
    # a fit that is off may be off because something is wrong: which is what is sought
    if fit.off > FAIR:
        return (
            "The model does not follow this machine; something may be wrong with it. Do not rely on"
            " these figures."
        )
    return (
        "It is the machine as it was in this spin, faults included: little friction may be the"
        " fault itself. What two recordings of it differ by is surer than either figure."
    )


def figures_entry(fit: FitAnswer, note: str = "") -> Figures:
    """The entry that puts down the figures which the recording tells, in the catalog's units.

    Raises InputError where it tells none.
    """
    # a figure that stayed as usual is no knowledge of this machine
    lines = [line for line in fit.figures if line.told]
    if not lines:
        raise InputError(
            "This recording tells no figure of the machine",
            field="recording",
            remedy="Record a spin up to top speed.",
        )
    # rounding may carry a value at its limit just beyond it, which the entry would refuse
    values = {line.id: min(max(_round(line.value), line.low), line.high) for line in lines}
    errors = {line.id: _round(line.error) for line in lines}
    return Figures(values, "fitted", errors, f"{fit.sentence} {note}".strip(), fit.recording)


def _round(value: float) -> float:
    return float(f"{value:.4g}")


def fit_figure(
    workshop: Workshop,
    number: int,
    recording: str,
    request: FitRequest,
    wide: float | None = None,
) -> Markup:
    """Shake once a turn against speed: as recorded, and of the machine as fitted.

    ``wide`` px for a file of its own, None on a page. Raises InputError where the recording cannot
    decide, NotFoundError, RecordingError.
    """
    return fit_chart(*fit_recording(workshop, number, recording, request), wide)


__all__ = ["FitAnswer", "FitRequest", "figures_entry", "fit_answer", "fit_figure"]
