"""The belief in random jobs of the full catalog, against an enumeration of its own.

``python -m benchmarks.posterior --jobs 50``: random ages, complaints, features and findings, each
reckoned by the program and by ``tests/workshop/diagnosis/kinds/enumeration.py``, which goes through
every kind of machine and every set of faults in plain Python. Prints the largest difference of any
probability. A job takes some seconds.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from tests.workshop.diagnosis.kinds.enumeration import enumerated

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import families, load_family
from counterpoise.errors import CounterpoiseError
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import NOT_THERE, Entry, Finding, Intake, Job, RepairDone
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.settings import Settings

AT = "2026-03-01T09:00:00Z"
MOST_FINDINGS = 6


def random_job(family: Family, rng: np.random.Generator) -> Job:
    """A job with random complaints, features known or not, findings, and now and then a repair."""
    names = list(family.complaints)
    complaints = tuple(str(c) for c in rng.choice(names, int(rng.integers(1, 3)), replace=False))
    features = {
        feature.id: str(rng.choice(list(feature.values), p=list(feature.share.values())))
        for feature in family.features.values()
        # half of them nobody has put down; what only some machines have is left open
        if not feature.needs and rng.random() < 0.5
    }
    age = float(rng.integers(0, 18))
    intake = Intake(family.id, "customer", "random", complaints, age, features)
    job = Job(1, (Entry(1, AT, "", intake),))
    for name in rng.permutation(list(family.checks))[: int(rng.integers(2, MOST_FINDINGS + 1))]:
        job = _with(family, job, _finding(family, str(name), rng))
        if rng.random() < 0.1:
            job = _with(family, job, RepairDone(str(rng.choice(list(family.repairs)))))
    return job


def _finding(family: Family, name: str, rng: np.random.Generator) -> Finding:
    check = family.checks[name]
    if check.reading is not None and rng.random() < 0.7:
        low, high = check.reading.low, check.reading.high
        return Finding(name, "", reading=float(rng.uniform(low, high)))
    outcomes = [*check.outcomes, *([NOT_THERE] if check.needs else [])]
    return Finding(name, str(rng.choice(outcomes)))


def _with(family: Family, job: Job, body: Finding | RepairDone) -> Job:
    try:
        checked = check_body(family, job, body)
    # a check of another kind of machine than was put down: the bench refuses it too
    except CounterpoiseError:
        return job
    return Job(1, (*job.entries, Entry(len(job.entries) + 1, AT, "", checked)))


def difference(family: Family, job: Job) -> float:
    """Largest difference of the probability of any kind of machine with any set of faults."""
    situation = replay(family, Settings(), job)
    expected = enumerated(family, situation.age_years, job)
    model = situation.model.hypotheses
    sets = [frozenset(model.fault_ids[i] for i in faults) for faults in model.sets]
    worst, total = 0.0, 0.0
    for machine, row in zip(situation.kinds.machines, situation.joint, strict=True):
        kind = tuple(machine.items())
        for faults, chance in zip(sets, row.tolist(), strict=True):
            other = expected.get((kind, faults), 0.0)
            worst, total = max(worst, abs(chance - other)), total + other
    # what the other has and the program has not would go unseen
    return max(worst, abs(total - 1.0))


def main() -> None:
    """Print the largest difference over so many jobs, by turns of each family."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    worst, begun = 0.0, time.monotonic()
    for number in range(given.jobs):
        family = load_family(families()[number % len(families())])
        job = random_job(family, np.random.default_rng([given.seed, number]))
        apart = difference(family, job)
        worst = max(worst, apart)
        findings = len(job.entries) - 1
        print(f"{number + 1}: {family.id}, {findings} findings and repairs, {apart:.1e}")
    print(f"largest difference {worst:.1e} in {given.jobs} jobs, {time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
