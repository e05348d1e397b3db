"""The reader of spins set by the workshop's own closed jobs that have a recording."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.learning.readers import Calibration, Readings, calibrate, log_words, recalibrated
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.set_reader import (
    SPIN,
    TEMPERATURE,
    WEIGHT,
    spin_outcomes,
)
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.learning.facts import JobFacts, present_by_fault
from counterpoise.workshop.learning.learned import FaultRates, LearnedFigure, odds_by

# a range holds eight times in ten: so many standard errors to either side
_EIGHT_IN_TEN = 1.2816
# however unsure, a temperature is said to be no higher than this
_LEAST_POWER = 0.05


def set_reader(
    family: Family, jobs: Sequence[JobFacts], rates: FaultRates, shares: Floats
) -> tuple[Calibration | None, tuple[LearnedFigure, ...]]:
    """How sure the reader of spins may be here, and the figures that are put in use of it.

    Several recordings of a machine count as one; ``shares`` (J,) is how much each job counts. None
    where no closed job has a recording.
    """
    readings = _readings(family, jobs, rates, shares)
    if readings is None:
        return None, ()
    learned = calibrate(readings)
    # each job is a machine: one that comes back opens its own job again
    numbers = tuple(job.number for job in jobs if job.spins)
    worth = float(readings.share.sum())
    return learned, tuple(_figures(family, learned, numbers, worth))


def as_set(jobs: Sequence[JobFacts], learned: Calibration | None) -> list[JobFacts]:
    """The jobs with their recordings as the reader that is set would have them.

    Rows of the check are counted from these: what the reader is to blame for is not blamed on them.
    """
    if learned is None or not learned.used:
        return list(jobs)
    weights = np.exp(learned.log_weights)
    # the words of the jobs stay as they were read: only this count sees them otherwise

    def of_job(job: JobFacts) -> JobFacts:
        readings = dict(job.readings)
        for check in {spin.check for spin in job.spins}:
            readings[check] = tuple(
                # a hand that tapped one answer is no reader
                recalibrated(each, learned.power, weights) if np.count_nonzero(each) > 1 else each
                for each in job.readings[check]
            )
        return replace(job, readings=readings)

    return [of_job(job) if job.spins else job for job in jobs]


def _readings(
    family: Family, jobs: Sequence[JobFacts], rates: FaultRates, shares: Floats
) -> Readings | None:
    """The recordings of all jobs, one below the other; None where there are none."""
    if not any(job.spins for job in jobs):
        return None
    model = family_model(family)
    present, odds_of = present_by_fault(model), odds_by(family)
    written = np.array([fault.prior for fault in family.faults.values()])
    # by the shares learned: a fault that is common here is no mistake of the reader
    factor = np.log(odds_of(rates.rates.mean)) - np.log(odds_of(written))
    words, before, after, machine, share = [], [], [], [], []
    for j, job in enumerate(jobs):
        moved = np.append(present[job.rows] @ factor, job.others_heard @ factor)
        for spin in job.spins:
            shown = model.tables[spin.check][:, job.rows]
            words.append(log_words(spin.words))
            before.append(_outcomes(job.heard + moved, shown, spin.others_heard))
            after.append(_outcomes(spin.beside + moved, shown, spin.others))
            # twice recorded is not twice seen: its readings share one machine's say
            machine.append(j)
            share.append(float(shares[j]) / len(job.spins))
    return Readings(
        np.array(words), np.array(before), np.array(after), np.array(machine), np.array(share)
    )


def _outcomes(log_weight: Floats, shown: Floats, others: Floats) -> Floats:
    """(O,) chances of what a recording points to, over the sets (M,) of a job and all others."""
    belief = np.exp(log_weight - log_weight.max())
    chances = shown @ belief[:-1] + others * belief[-1]
    return np.asarray(chances / chances.sum())


def _figures(
    family: Family, learned: Calibration, numbers: tuple[int, ...], worth: float
) -> Iterator[LearnedFigure]:
    if learned.power != 1.0:
        wide = _EIGHT_IN_TEN * learned.power_sd
        low, high = (1.0 / max(learned.power + d, _LEAST_POWER) for d in (wide, -wide))
        yield LearnedFigure(
            f"{SPIN}.{TEMPERATURE}", 1.0, 1.0 / learned.power, low, high,
            worth, numbers, learned.machines,
        )  # fmt: skip
    if not learned.log_weights.any():
        return
    for i, outcome in enumerate(spin_outcomes(family)):
        log, wide = float(learned.log_weights[i]), _EIGHT_IN_TEN * float(learned.weights_sd[i])
        yield LearnedFigure(
            f"{SPIN}.{WEIGHT}.{outcome}", 1.0, float(np.exp(log)), float(np.exp(log - wide)),
            float(np.exp(log + wide)), worth, numbers, learned.machines,
        )  # fmt: skip


__all__ = ["as_set", "set_reader"]
