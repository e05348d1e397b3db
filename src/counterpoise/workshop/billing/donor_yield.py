"""A machine as a donor: which of its assemblies are good, by what is believed of it, and which repay their minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import AssemblyEntry, Family
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.problem import Prices
from counterpoise.workshop.diagnosis.replay import Situation, replay
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NOTHING, Supply, pieces_of, whole_ones

LIKELY_GOOD = 0.5


@dataclass(frozen=True, slots=True)
class Yield:
    """An assembly of a machine. ``good``: chance that no fault has spoiled it.

    ``gain_minor``: what taking it off is expected to bring, as far as parts find a buyer, less the bench time;
    ``keep``: it repays its minutes and is good more likely than not. ``pieces``: what it is put on the shelf as;
    ``stocked``: how many lie there already.
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


def yields(
    family: Family,
    settings: Settings,
    job: Job,
    supply: Supply = NOTHING,
    situation: Situation | None = None,
) -> tuple[Yield, ...]:
    """The assemblies of this machine, those that bring the most first; what its features rule out is left out.

    ``situation``: the job replayed already.
    """
    situation = situation or replay(family, settings, job)
    prices = Prices.of(situation, settings, supply)
    found = [
        _yield(entry, situation, prices)
        for entry in family.assemblies.values()
        if fits(entry.needs, situation.intake.features)
    ]
    return tuple(sorted(found, key=lambda one: (not one.keep, -one.gain_minor)))


def _yield(entry: AssemblyEntry, situation: Situation, prices: Prices) -> Yield:
    hypotheses = situation.base.hypotheses
    unspoiled = np.array([1.0 - entry.spoiled_by.get(key, 0.0) for key in hypotheses.fault_ids])
    good = float(np.clip(situation.probabilities @ hypotheses.product_over(unspoiled), 0.0, 1.0))
    gain = prices.assembly_minor(entry)
    keep = gain > 0 and good >= LIKELY_GOOD
    pieces = pieces_of(prices.family, entry)
    stocked = whole_ones(prices.family, entry, prices.supply.on_shelf)
    return Yield(
        entry.id,
        entry.title,
        good,
        entry.value_minor,
        entry.minutes,
        round(gain * good),
        keep,
        pieces,
        stocked,
    )
