"""Which cautions of a step stand in full, and which as short marks that open.

A caution is read in full the first time in a job. Once work was done under it, its mark reminds of
it; a sentence that is shown at every step is no longer read at any.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.diagnosis.steps import caution_texts
from counterpoise.workshop.jobs.entries import CANNOT_REACH, Body, Finding, Proof, RepairDone

if TYPE_CHECKING:
    from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.diagnosis.assessment import Step


@dataclass(frozen=True, slots=True)
class Mark:
    """A caution that was worked under before: its mark of a few words, and its text."""

    mark: str
    text: str


@dataclass(frozen=True, slots=True)
class Care:
    """The cautions before a step and its panels, each once: in ``full``, and as ``marks``."""

    full: tuple[str, ...]
    marks: tuple[Mark, ...] = ()


def care(view: JobView, step: Step | None, lifting: tuple[str, ...] = ()) -> Care:
    """The cautions of a step as this job has to read them; ``lifting`` is always in full.

    So is whatever forbids to run the machine, and a caution that is none of the family's own.
    """
    if step is None:
        return Care(lifting)
    texts = dict.fromkeys((*step.cautions, *(t for o in step.openings for t in o.cautions)))
    names = {c.text: c.mark or c.id.replace("_", " ") for c in view.family.cautions.values()}
    # why it must not be run changes with every finding, and is never known by heart
    read = _worked_under(view) - set(step.forbidden)
    full = tuple(text for text in texts if text not in read or text not in names)
    marks = (text for text in texts if text not in full)
    return Care((*full, *lifting), tuple(Mark(names[text], text) for text in marks))


def _worked_under(view: JobView) -> set[str]:
    """The cautions of all that was done since the machine came in, or came back."""
    family = view.family
    done = (e.body for e in view.job.standing if e.number > view.job.came_back)
    return {text for body in done for text in caution_texts(family, _cautions(family, body))}


def _cautions(family: Family, body: Body) -> Iterator[str]:
    """The ids of the cautions that stood before an entry's step and its panels."""
    if isinstance(body, Proof):
        yield from family.proof_cautions
    entry: CheckEntry | RepairEntry | None = None
    # who could not reach it has not worked under what stands before it
    if isinstance(body, Finding) and body.outcome != CANNOT_REACH:
        entry = family.checks.get(body.check)
    elif isinstance(body, RepairDone):
        entry = family.repairs.get(body.repair)
    if entry is not None:
        yield from entry.cautions
        for panel in panels_for(family, entry.access):
            yield from family.access[panel].cautions
