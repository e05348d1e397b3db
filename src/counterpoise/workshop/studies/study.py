"""The study: many virtual jobs under each policy, against one who knows what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed
from counterpoise.workshop.studies.checkpoints import Order, Reader, append, finished, print_of
from counterpoise.workshop.studies.policies import Memory, Policy, careful_policy, policies
from counterpoise.workshop.studies.simulated_jobs import Bench, World, draw_machine, perfect

BLOCK = 50  # jobs worked on in one go; each block of a perturbed study has a catalog of its own


Block = tuple[Order, int, int]


def blocks(order: Order) -> list[Block]:
    """The work cut into blocks: (order, first job, number of jobs)."""
    return [(order, first, min(BLOCK, order.jobs - first)) for first in range(0, order.jobs, BLOCK)]


def play_block(order: Order, first: int, count: int, kept: str | None = None) -> dict[str, Any]:
    """Jobs ``first`` to ``first + count`` under every policy.

    ``perfect`` holds what one who knows would earn of each job, ``played`` the net value, minutes and comebacks of each
    under each policy. Each job is the same machine for every policy, and what chance does to it is seeded by the job.
    Decisions made in earlier blocks are remembered, and read from the file ``kept`` where there is one; they change
    nothing but the time.
    """
    believed = _believed(replace(order, jobs=1, seed=0, perturb=False))
    if kept is not None:
        believed.read.catch_up(Path(kept), believed.memory)
    world = believed.world
    if order.perturb:
        family = perturbed(load_family(order.family), np.random.default_rng([order.seed, 1, first]))
        world = World.of(family, order.settings)
    block: dict[str, Any] = {
        "first": first,
        "count": count,
        "perfect": [],
        "played": {n: [] for n in believed.ways},
    }
    for job in range(first, first + count):
        machine = draw_machine(world, np.random.default_rng([order.seed, 0, job]))
        problem, truly = believed.world.taken_in(machine), world.costed(machine.age_years)
        block["perfect"].append(perfect(world, machine))
        for name, policy in believed.ways.items():
            bench = Bench(
                world, problem, truly, machine, np.random.default_rng([order.seed, 2, job])
            )
            played = bench.play(policy)
            block["played"][name].append((played.net, played.minutes, played.comeback))
    block["learned"] = believed.memory.take_fresh()
    return block


@dataclass(frozen=True)
class _Believed:
    world: World
    memory: Memory
    ways: Mapping[str, Policy]
    read: Reader


@lru_cache(maxsize=2)
def _believed(order: Order) -> _Believed:
    """What a process keeps from block to block; the same for all orders of one family, effort and workshop."""
    family, memory = load_family(order.family), Memory()
    world, effort = World.of(family, order.settings), Effort(growths=order.growths)
    ways = dict(policies(family, effort, memory))
    if order.careful:
        ways["careful"] = memory.remembering(
            "careful", careful_policy(family, order.settings, effort)
        )
    return _Believed(world, memory, ways, Reader(print_of(order)))


def run_study(
    order: Order,
    workers: int = 1,
    note: Callable[[int], None] = lambda _: None,
    *,
    kept: Path | None = None,
) -> dict[str, Any]:
    """Play all blocks, on ``workers`` processes; ``note`` is told how many jobs each finished block held.

    With ``kept``, finished blocks are appended to that file, and those that are there already are not played again.
    """
    return carried_out(order, lambda work: _played(work, workers, kept), note, kept)


def carried_out(
    order: Order,
    play: Callable[[Sequence[Block]], Iterator[dict[str, Any]]],
    note: Callable[[int], None],
    kept: Path | None,
) -> dict[str, Any]:
    """The figures of a study whose blocks ``play`` plays, as far as they are not in the file ``kept``."""
    there = {} if kept is None else finished(kept, order)
    work = blocks(order)
    found = [there[block[1:]] for block in work if block[1:] in there]
    note(sum(block["count"] for block in found))
    for block in play([block for block in work if block[1:] not in there]):
        if kept is not None:
            append(kept, order, block)
        found.append(block)
        note(block["count"])
    return summed(found, order)


def summed(found: Sequence[Mapping[str, Any]], order: Order) -> dict[str, Any]:
    """Blocks put together into the figures of the study: means a job; ``kept`` is the share of perfect information.

    ``ahead``: by how much ours earns more than each other way, a job. Errors are standard errors of the means, from
    the jobs; where each block has a catalog of its own, from the blocks, whose jobs are not independent.
    """
    ordered = sorted(found, key=lambda block: int(block["first"]))
    owner = np.repeat(np.arange(len(ordered)), [int(block["count"]) for block in ordered])
    played = {
        name: np.array([row for b in ordered for row in b["played"][name]]) for name in order.ways
    }
    groups = owner if order.perturb and len(ordered) > 1 else np.arange(owner.size)
    best = float(np.mean([value for block in ordered for value in block["perfect"]]))
    ours = played["ours"][:, 0]
    return {
        "family": order.family,
        "jobs": int(owner.size),
        "seed": order.seed,
        "perturb": order.perturb,
        "perfect": best,
        "policies": {name: _figures(rows, groups, best) for name, rows in played.items()},
        "ahead": {
            name: {
                "net": float((ours - rows[:, 0]).mean()),
                "error": _error(ours - rows[:, 0], groups),
            }
            for name, rows in played.items()
            if name != "ours"
        },
    }


def _figures(rows: Floats, groups: Ints, best: float) -> Mapping[str, float]:
    net, minutes, comebacks = rows.mean(axis=0).tolist()
    error = _error(rows[:, 0], groups)
    return {
        "net": net,
        "error": error,
        "minutes": minutes,
        "comebacks": comebacks,
        "kept": net / best,
    }


def _error(values: Floats, groups: Ints) -> float:
    """Standard error of the mean, values of one group taken as dependent."""
    sums = np.bincount(groups, weights=values - values.mean())
    if sums.size < 2:
        return 0.0
    return float(np.sqrt((sums**2).sum() * sums.size / (sums.size - 1)) / values.size)


def _played(work: Sequence[Block], workers: int, kept: Path | None) -> Iterator[dict[str, Any]]:
    where = None if kept is None else str(kept)
    if workers <= 1:
        yield from (play_block(*block, where) for block in work)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for done in as_completed([pool.submit(play_block, *block, where) for block in work]):
            yield done.result()
