"""What a closing is asked with the answers that the evidence suggests: one look, and it is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from counterpoise.catalog.family import Family
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.hazards import BY_HAND, ELSE, SHOWN
from counterpoise.workshop.jobs.entries import Finding, Job, Proof, RepairDone
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.learning.account import account_of

# fields of a closing; empty: it was never known
Word = Literal["faults", "likely", "ruled_out", ""]
# From these chances on a cause is asked about, taken for likely, and taken for seen where a hand or
# a repair that held has shown it (from memory).
ASKED, LIKELY, SURE = 0.05, 0.5, 0.8
MOST_ASKED = 8


@dataclass(frozen=True, slots=True)
class AskedCause:
    """A cause that a closing asks about: its chance when the machine came in, and the likely word.

    ``word`` is the field of the closing it goes into, empty where it was never known.
    """

    id: str
    title: str
    chance: float
    word: Word


def asked_causes(family: Family, settings: Settings, job: Job) -> tuple[AskedCause, ...]:
    """The causes that a job may have had, the likeliest first, each with the word it suggests."""
    model, belief = family_model(family), account_of(family, settings, job).belief(labelled=False)
    chances = {fault.id: float(belief @ model.mask(fault.id)) for fault in family.faults.values()}
    ranked = sorted(chances.items(), key=lambda pair: -pair[1])
    shown = _shown(family, job)
    return tuple(
        AskedCause(name, family.faults[name].title, chance, _word(chance, name in shown))
        for name, chance in ranked[:MOST_ASKED]
        if chance >= ASKED
    )


def _word(chance: float, shown: bool) -> Word:
    # nobody is made to say that they saw what only the figures say
    if chance >= SURE and shown:
        return "faults"
    return "likely" if chance >= LIKELY else ""


def _shown(family: Family, job: Job) -> set[str]:
    """Faults that a look, a hand or a meter showed, or that a repair mended that held."""
    shown: set[str] = set()
    mended: set[str] = set()
    for entry in job.standing:
        body = entry.body
        if isinstance(body, Finding) and body.check in family.checks:
            check = family.checks[body.check]
            # what such an answer comes of without a fault is no proof of any
            if check.kind in BY_HAND and check.otherwise.get(body.outcome, 0.0) <= ELSE:
                shown |= {
                    key.partition(":")[0]
                    for key, row in check.under.items()
                    if row.get(body.outcome, 0.0) >= SHOWN
                }
        elif isinstance(body, RepairDone) and body.repair in family.repairs:
            mended = {key.partition(":")[0] for key in family.repairs[body.repair].cures}
        elif isinstance(body, Proof):
            # the last repair before a proof that ran true is the one that held
            shown |= mended if body.passed else set()
            mended = set()
    return shown


def parts_put_in(family: Family, job: Job) -> tuple[str, ...]:
    """Titles of the parts of the repairs done, each once."""
    repairs = [
        family.repairs[e.body.repair]
        for e in job.standing
        if isinstance(e.body, RepairDone) and e.body.repair in family.repairs
    ]
    names = dict.fromkeys(part for repair in repairs for part in repair.parts)
    return tuple(family.parts[name].title for name in names if name in family.parts)


__all__ = ["AskedCause", "asked_causes", "parts_put_in"]
