"""The figures of a job's own machine: as they are put down, and as the machine in motion takes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from counterpoise.report.words.entry_lines import HOW_KNOWN
from counterpoise.report.words.numbers import number, read_number
from counterpoise.workshop.jobs.entries import Figures, How
from counterpoise.workshop.jobs.machine_figures import KnownFigure, figures_of_job, fitting

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family, FigureEntry
    from counterpoise.workshop.jobs.entries import Job

TOTAL, TOP = (
    "machine_kg",
    "top_rpm",
)  # what the machine in motion takes apart, and what belongs to the spin
WET = 1.5  # wet laundry after the first spin over dry; from memory


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A figure that can be known of the machine; ``value`` None where it is not. ``error``: one standard error."""

    id: str
    title: str
    unit: str
    low: float
    high: float
    values: tuple[float, ...]
    where: str
    intake: bool
    source: str
    value: float | None
    error: float
    how: str
    entry: int
    recording: str


@dataclass(frozen=True, slots=True)
class OwnFigures:
    """What the job holds of its machine, and what it could hold. ``last`` goes back as ``expected_last``."""

    number: int
    last: int
    figures: tuple[FigureLine, ...]


@dataclass(frozen=True, slots=True)
class OwnMachine:
    """A job's figures as the machine in motion takes them: SI by the model's names; ``words`` say how each is known."""

    held: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    top_rpm: float | None = None
    total_kg: float | None = None
    full_load_kg: float | None = None

    def values(self, key: str, typed: Mapping[str, float]) -> dict[str, float]:
        """The family values, the weight of the whole machine shared out. Raises InputError where that cannot be."""
        from counterpoise.dynamics.machines.families import (
            shared_out,  # the model takes a moment to load
        )

        given = {**self.held, **typed}
        shared = shared_out(key, self.total_kg, given) if self.total_kg is not None else {}
        return {**shared, **self.held}


NOTHING = OwnMachine()


def known_words(known: KnownFigure) -> str:
    """How a figure of the job is known."""
    return f"from the job: {HOW_KNOWN[known.how]} (entry {known.entry})"


def own_figures(job: Job, family: Family) -> OwnFigures:
    """All figures the machine can have, with what the job holds of them."""
    known = figures_of_job(job)
    lines = tuple(_line(entry, known.get(entry.id)) for entry in fitting(family, job))
    return OwnFigures(job.number, job.entries[-1].number, lines)


def _line(entry: FigureEntry, known: KnownFigure | None) -> FigureLine:
    return FigureLine(
        id=entry.id, title=entry.title, unit=entry.unit, low=entry.low, high=entry.high, values=entry.values,
        where=entry.where, intake=entry.intake, source=entry.source,
        value=known.value if known else None, error=known.error if known else 0.0,
        how=HOW_KNOWN[known.how] if known else "", entry=known.entry if known else 0,
        recording=known.recording if known else "",
    )  # fmt: skip


def own_machine(job: Job, family: Family) -> OwnMachine:
    """The job's figures for the machine in motion."""
    fit = {entry.id for entry in fitting(family, job)}
    known = {key: one for key, one in figures_of_job(job).items() if key in fit}
    named = {key: family.figures[key].twin or "" for key in known}
    held = {
        named[key]: round(one.value * family.figures[key].scale, 9)
        for key, one in known.items()
        if named[key]
    }
    words = {named[key]: known_words(one) for key, one in known.items() if named[key]}
    total, top = held.pop(TOTAL, None), held.pop(TOP, None)
    if total is not None:
        shared = f"shared out from the whole machine's {number(total)} kg, {words.pop(TOTAL)}"
        words = {"oscillating_kg": shared, "cabinet_kg": shared} | words
    rated = known.get("rated_load_kg")
    return OwnMachine(held, words, top, total, WET * rated.value if rated else None)


def read_figures(texts: Mapping[str, str], family: Family, how: How, note: str = "") -> Figures:
    """What was typed as an entry; empty fields are left out. Raises InputError naming the field."""
    titles = {name: entry.title for name, entry in family.figures.items()}
    typed = {name: text for name, text in texts.items() if text.strip()}
    values = {
        name: read_number(text, titles.get(name, name), -1e9, 1e9) for name, text in typed.items()
    }
    return Figures(values, how, note=note)
