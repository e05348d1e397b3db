"""The figures of a job's own machine: as put down, and as the model in motion takes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from counterpoise.report.words.entry_lines import HOW_KNOWN
from counterpoise.report.words.numbers import number, read_number
from counterpoise.workshop.jobs.choices import How
from counterpoise.workshop.jobs.entries import Figures
from counterpoise.workshop.jobs.machine_figures import KnownFigure, figures_of_job, fitting

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.catalog.figure_entry import FigureEntry
    from counterpoise.workshop.jobs.entries import Job

# what the model in motion takes apart, and what belongs to the spin rather than to the machine
TOTAL, TOP = "machine_kg", "top_rpm"
# kg of wet laundry after the first spin for each kg of dry; from memory
WET = 1.5
_WIDE = 1e9  # the family's own range is checked where the entry is; this only keeps it finite


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A figure that can be known of the machine, in ``unit``; ``value`` None where it is not.

    ``error`` is one standard error, ``how`` how it is known, ``entry`` the number that says so, or
    0.
    """

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
    """What the job holds of its machine, and what it could hold.

    ``last`` goes back as ``expected_last``.
    """

    number: int
    last: int
    figures: tuple[FigureLine, ...]


@dataclass(frozen=True, slots=True)
class OwnMachine:
    """A job's figures as the model in motion takes them: SI by the model's names.

    ``words`` say how each is known. ``total_kg`` is of the whole machine, ``full_load_kg`` of wet
    laundry; None where they are not known.
    """

    held: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    top_rpm: float | None = None
    total_kg: float | None = None
    full_load_kg: float | None = None

    def values(self, key: str, typed: Mapping[str, float]) -> dict[str, float]:
        """The family values, the weight of the whole machine shared out among its parts.

        ``key`` is the model's kind, ``typed`` what goes before. Raises InputError where the parts
        together would weigh more than the whole.
        """
        # the model takes a moment to load; a form needs none of it
        from counterpoise.dynamics.machines.families import shared_out

        given = {**self.held, **typed}
        shared = shared_out(key, self.total_kg, given) if self.total_kg is not None else {}
        return {**shared, **self.held}


NOTHING = OwnMachine()


def known_words(known: KnownFigure) -> str:
    """How a figure of the job is known, with the number of its entry."""
    return f"from the job: {HOW_KNOWN[known.how]} (entry {known.entry})"


def own_figures(job: Job, family: Family) -> OwnFigures:
    """All figures that fit the machine, each with the value the job holds, None without one."""
    # the latest of each figure that was not taken back
    known = figures_of_job(job)
    lines = tuple(_line(entry, known.get(entry.id)) for entry in fitting(family, job))
    return OwnFigures(job.number, job.entries[-1].number, lines)


def _line(entry: FigureEntry, known: KnownFigure | None) -> FigureLine:
    return FigureLine(
        id=entry.id,
        title=entry.title,
        unit=entry.unit,
        low=entry.low,
        high=entry.high,
        values=entry.values,
        where=entry.where,
        intake=entry.intake,
        source=entry.source,
        value=known.value if known else None,
        error=known.error if known else 0.0,
        how=HOW_KNOWN[known.how] if known else "",
        entry=known.entry if known else 0,
        recording=known.recording if known else "",
    )


def own_machine(job: Job, family: Family) -> OwnMachine:
    """The job's figures for the model in motion, in SI; empty where the job holds none."""
    # a figure of belt machines says nothing of one that turned out to be direct driven
    fit = {entry.id for entry in fitting(family, job)}
    known = {key: figure for key, figure in figures_of_job(job).items() if key in fit}
    held, words = {}, {}
    for key, figure in known.items():
        entry = family.figures[key]
        if entry.twin:
            # nine digits: what a conversion of units adds must not make the same figure another
            held[entry.twin] = round(figure.value * entry.scale, 9)
            words[entry.twin] = known_words(figure)
    total, top = held.pop(TOTAL, None), held.pop(TOP, None)
    if total is not None:
        shared = f"shared out from the whole machine's {number(total)} kg, {words.pop(TOTAL)}"
        # one weighing of the whole stands for the two that the model wants
        words = {"oscillating_kg": shared, "cabinet_kg": shared} | words
    rated = known.get("rated_load_kg")
    return OwnMachine(held, words, top, total, WET * rated.value if rated else None)


def read_figures(texts: Mapping[str, str], family: Family, how: How, note: str = "") -> Figures:
    """What was typed, in the catalog's units, as an entry; empty fields are left out.

    Raises InputError naming the field.
    """
    titles = {name: entry.title for name, entry in family.figures.items()}
    typed = {name: text for name, text in texts.items() if text.strip()}
    values = {
        name: read_number(text, titles.get(name, name), -_WIDE, _WIDE)
        for name, text in typed.items()
    }
    return Figures(values, how, note=note)
