"""A machine as a donor: which assemblies are good, by the belief, and which repay their minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import AssemblyEntry
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.parts.offers import complete_assemblies, pieces_of

# A part is kept that is good more likely than not: each is tested before it is used.
LIKELY_GOOD = 0.5


@dataclass(frozen=True, slots=True)
class AssemblyYield:
    """An assembly of a machine as a donor. ``good``: chance that no fault has spoiled it.

    ``there``: chance that the machine has it, below 1 where it is not known what machine it is.
    ``gain_minor``: what taking it off is expected to bring, as far as parts find a buyer, less the
    bench time; ``keep``: it repays its minutes and is likely there and good. ``pieces``: what it is
    put on the shelf as; ``stocked``: how many lie there already.
    """

    id: str
    title: str
    good: float
    value_minor: int
    minutes: float
    gain_minor: int
    keep: bool
    pieces: tuple[str, ...] = ()
    stocked: int = 0
    there: float = 1.0


def assembly_yields(case: JobCase) -> tuple[AssemblyYield, ...]:
    """The assemblies of this machine, those that bring the most (minor units) first.

    What its features rule out is left out. Opening the machine is not counted: it is opened once
    for all of them, whatever stands open now.
    """
    rows = [
        _assembly_yield(entry, case)
        for entry in case.family.assemblies.values()
        if fits(entry.needs, case.situation.known)
    ]
    return tuple(sorted(rows, key=lambda row: (not row.keep, -row.gain_minor)))


def _assembly_yield(entry: AssemblyEntry, case: JobCase) -> AssemblyYield:
    situation, prices = case.situation, case.prices
    hypotheses, kinds = situation.model.hypotheses, situation.kinds.fit(entry.needs)
    # every fault present spoils the assembly independently of the others
    unspoiled = np.array([1.0 - entry.spoiled_by.get(key, 0.0) for key in hypotheses.fault_ids])
    chance = situation.joint[kinds].sum(axis=0) @ hypotheses.product_over(unspoiled)
    there = min(1.0, float(situation.joint[kinds].sum()))
    # among the machines that have it
    good = float(np.clip(chance / there, 0.0, 1.0)) if there > 0.0 else 0.0
    # of a good one; a bad one brings nothing and is not put on the shelf
    gain = prices.assembly_minor(entry)
    return AssemblyYield(
        id=entry.id,
        title=entry.title,
        good=good,
        value_minor=entry.value_minor,
        minutes=entry.minutes,
        gain_minor=round(gain * good * there),
        keep=gain > 0 and min(good, there) >= LIKELY_GOOD,
        pieces=pieces_of(case.family, entry),
        stocked=complete_assemblies(case.family, entry, case.supply.on_shelf),
        there=there,
    )
