"""How far the planner is from the best plan after a tenth of a second.

``python -m benchmarks.distance``: random models of the sizes that Jensen et al. 2001 (The SACSO
methodology, Table 2) printed distances for: 6 to 16 repairs that may fail, 2 to 10 questions with
errors, one fault, no ending. The best plan is the exact search's. Times are processor time.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterable
from typing import TypedDict

import numpy as np

from counterpoise.reasoning.model import Check, Fault, Model, Repair
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.planning.timed_solver import plan_within
from counterpoise.reasoning.problem import compile_model

MODELS, SECONDS, BUDGET = 200, 0.1, 400_000


class Distances(TypedDict):
    """Distances to the best plan in percent of its cost, and processor seconds."""

    models: int
    seconds: float
    proven: int
    mean_percent: float
    worst_percent: float
    not_proven: int
    mean_at_most_percent: float | None
    slowest_seconds: float


def drawn(seed: int) -> Model:
    """A model of the published sizes.

    Each fault has a repair of its own, which cures it with a probability of 0.6 to 1.
    """
    rng = np.random.default_rng([seed, 2001])
    count, questions = int(rng.integers(6, 17)), int(rng.integers(2, 11))
    names = [f"f{i}" for i in range(count)]
    repairs = [
        Repair(f"r{i}", float(rng.integers(1, 21)), {name: float(rng.uniform(0.6, 1.0))})
        for i, name in enumerate(names)
    ]
    return Model(
        tuple(
            Fault(name, float(p))
            for name, p in zip(names, rng.dirichlet(np.ones(count)), strict=True)
        ),
        checks=tuple(_question(rng, f"q{i}", names) for i in range(questions)),
        repairs=tuple(repairs),
    )


def _question(rng: np.random.Generator, name: str, faults: list[str]) -> Check:
    tells = {fault: bool(rng.random() < rng.uniform(0.1, 0.5)) for fault in faults}
    under = {
        f: {"yes": float(rng.uniform(0.5, 1.0) if there else rng.uniform(0.0, 0.3))}
        for f, there in tells.items()
    }
    return Check(name, float(rng.uniform(0.5, 5.0)), ("no", "yes"), under, exclusive=True)


def distances(seeds: Iterable[int], seconds: float, budget: int) -> Distances:
    """Distance of each model in percent of the least cost; at most how far where not proven."""
    proven, at_most, slowest = [], [], 0.0
    for seed in seeds:
        problem = compile_model(drawn(seed))
        began = time.process_time()
        quick = plan_within(problem, seconds, clock=time.process_time)
        slowest = max(slowest, time.process_time() - began)
        best = quick if quick.exact else solve_exactly(problem, budget=budget, slots=1 << 20)
        far = 100 * (best.upper - quick.lower) / -best.upper
        (proven if best.exact else at_most).append(max(0.0, far))
        print(
            f"{seed} {len(problem.repairs)}+{len(problem.checks)} {far:.4f} "
            f"{'' if best.exact else 'at most'}",
            flush=True,
        )
    return {
        "models": len(proven) + len(at_most),
        "seconds": seconds,
        "proven": len(proven),
        "mean_percent": float(np.mean(proven)),
        "worst_percent": float(np.max(proven)),
        "not_proven": len(at_most),
        "mean_at_most_percent": float(np.mean(at_most)) if at_most else None,
        "slowest_seconds": slowest,
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--models", type=int, default=MODELS)
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--budget", type=int, default=BUDGET)
    asked = parser.parse_args()
    print(json.dumps(distances(range(asked.models), asked.seconds, asked.budget), indent=2))
