"""The study: many virtual jobs under each policy, against one who knows what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from multiprocessing import get_context
from typing import Any

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.errors import InputError
from counterpoise.reasoning.lookahead import Effort
from counterpoise.workshop.compile import base_of
from counterpoise.workshop.perturb import perturbed
from counterpoise.workshop.policies import policies
from counterpoise.workshop.settings import Settings
from counterpoise.workshop.virtual import Bench, World, draw_machine, perfect, start

BLOCK = 50  # jobs worked on in one go; each block of a perturbed study has a catalog of its own
POLICIES = ("ours", "one_step", "ratio", "information", "checklist")


@dataclass(frozen=True)
class Order:
    """What to study. ``growths`` is our planner's effort a decision."""

    family: str
    jobs: int
    seed: int
    perturb: bool = False
    growths: int = 4
    settings: Settings = field(default_factory=lambda: Settings(people=2))

    def __post_init__(self) -> None:
        if self.jobs < 1:
            raise InputError(f"{self.jobs} jobs", field="jobs", remedy="Give one or more")


def blocks(order: Order) -> list[tuple[Order, int, int]]:
    """The work cut into blocks: (order, first job, number of jobs)."""
    return [(order, first, min(BLOCK, order.jobs - first)) for first in range(0, order.jobs, BLOCK)]


def play_block(order: Order, first: int, count: int) -> dict[str, Any]:
    """Jobs ``first`` to ``first + count`` under every policy; sums, so that blocks add up.

    Each job is the same machine for every policy, and what chance does to it is seeded by the job.
    """
    family = load_family(order.family)
    believed = base_of(family)
    real = believed
    if order.perturb:
        real = base_of(perturbed(family, np.random.default_rng([order.seed, 1, first])))
    world = World(real, order.settings)
    ways = policies(family, Effort(growths=order.growths))
    totals: dict[str, Any] = {"jobs": count, "perfect": 0.0, "policies": {n: np.zeros(4) for n in ways}}
    for job in range(first, first + count):
        machine = draw_machine(world, np.random.default_rng([order.seed, 0, job]))
        problem, truly = start(believed, order.settings, machine), start(real, order.settings, machine)
        totals["perfect"] += perfect(truly, machine.truth)
        for name, policy in ways.items():
            bench = Bench(world, problem, truly, machine, np.random.default_rng([order.seed, 2, job]))
            played = bench.play(policy)
            totals["policies"][name] += (played.net, played.minutes, played.comeback, played.net**2)
    return totals


def run_study(order: Order, workers: int = 1, note: Callable[[int], None] = lambda _: None) -> dict[str, Any]:
    """Play all blocks, on ``workers`` processes; ``note`` is told how many jobs each finished block held."""
    return summed(_noted(_played(order, workers), note), order)


def summed(results: Iterator[dict[str, Any]], order: Order) -> dict[str, Any]:
    """Blocks added up into the figures of the study: means a job; ``kept`` is the share of perfect information."""
    perfect_sum, sums = 0.0, {name: np.zeros(4) for name in POLICIES}
    for block in results:
        perfect_sum += block["perfect"]
        for name in POLICIES:
            sums[name] = sums[name] + block["policies"][name]
    n = order.jobs
    best = perfect_sum / n
    return {
        "family": order.family,
        "jobs": n,
        "seed": order.seed,
        "perturb": order.perturb,
        "perfect": best,
        "policies": {name: _figures(values, n, best) for name, values in sums.items()},
    }


def _figures(values: np.ndarray, n: int, best: float) -> Mapping[str, float]:
    net, minutes, comebacks, squares = (values / n).tolist()
    error = float(np.sqrt(max(0.0, squares - net**2) / n))
    return {"net": net, "error": error, "minutes": minutes, "comebacks": comebacks, "kept": net / best}


def _played(order: Order, workers: int) -> Iterator[dict[str, Any]]:
    work = blocks(order)
    if workers <= 1:
        yield from (play_block(*block) for block in work)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for done in as_completed([pool.submit(play_block, *block) for block in work]):
            yield done.result()


def _noted(results: Iterator[dict[str, Any]], note: Callable[[int], None]) -> Iterator[dict[str, Any]]:
    for block in results:
        note(block["jobs"])
        yield block
