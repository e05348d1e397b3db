"""The study: many virtual jobs under each policy, against one who knows what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import TypedDict

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed
from counterpoise.workshop.studies.bench_world import BenchWorld
from counterpoise.workshop.studies.checkpoints import (
    BlockFigures,
    PlayedJob,
    Reader,
    StudyOrder,
    append,
    fingerprint,
    finished,
)
from counterpoise.workshop.studies.policies import (
    DecisionMemory,
    policies,
)
from counterpoise.workshop.studies.simulated_jobs import SimulatedJob, value_if_known
from counterpoise.workshop.studies.stand import Policy

BLOCK = 50  # jobs worked on in one go; each block of a perturbed study has a catalog of its own
Block = tuple[StudyOrder, int, int]


class PolicyFigures(TypedDict):
    """Means a job of one policy: net (minor units) and its standard error, minutes, comebacks.

    ``kept``: net as a share of what one who knows what is wrong would earn. ``ended_wrongly``: the
    share of jobs ended for good on a machine that was worth saving; ``regret``: what that cost a
    job, in minor units, and ``regret_error`` its standard error. ``expected_regret``: the same as
    it was believed to be at the ending, which a study of few jobs says more surely.
    """

    net: float
    error: float
    minutes: float
    comebacks: float
    kept: float
    ended_wrongly: float
    regret: float
    regret_error: float
    expected_regret: float
    expected_regret_error: float


class Lead(TypedDict):
    """What ours earns more a job than another policy, and its standard error, in minor units.

    ``regret`` and ``expected_regret``: what ours throws away more, with their standard errors.
    """

    net: float
    error: float
    regret: float
    regret_error: float
    expected_regret: float
    expected_regret_error: float


class StudyFigures(TypedDict):
    """The figures of a study: ``perfect`` is the mean net, in minor units, of one who knows."""

    family: str
    jobs: int
    seed: int
    perturb: bool
    perfect: float
    policies: dict[str, PolicyFigures]
    ahead: dict[str, Lead]


def blocks(order: StudyOrder) -> list[Block]:
    """The work cut into blocks: (order, index of the first job, number of jobs)."""
    return [(order, first, min(BLOCK, order.jobs - first)) for first in range(0, order.jobs, BLOCK)]


def play_block(order: StudyOrder, first: int, count: int, kept: str | None = None) -> BlockFigures:
    """Jobs ``first`` to ``first + count`` under every policy; net values in minor units.

    Each job is the same machine for every policy, and what chance does to it is seeded by the job.
    Decisions made in earlier blocks are remembered, and read from the file ``kept`` where there is
    one; they change nothing but the time.
    """
    # jobs, seed and catalog left out: what is decided does not depend on them
    planner = _planner(
        replace(order, jobs=1, seed=0, perturb=False, known_share=0.0, repeat_share=0.0)
    )
    if kept is not None:
        planner.reader.catch_up(Path(kept), planner.memory)
    world = planner.world
    if order.perturb:
        # the machines behave by another catalog than the one the policies believe
        family = perturbed(order.machines(), np.random.default_rng([order.seed, 1, first]))
        world = BenchWorld.of(family, order.settings)
    perfect: list[float] = []
    played: dict[str, list[PlayedJob]] = {name: [] for name in planner.policies}
    for job in range(first, first + count):
        # seeds by purpose: 0 the machine, 1 the catalog, 2 what chance does
        machine = world.draw(np.random.default_rng([order.seed, 0, job]), order.known_share)
        perfect.append(value_if_known(world, machine))
        for name, policy in planner.policies.items():
            # anew for each policy: all of them meet the same luck
            luck, believed = (order.seed, 2, job), planner.world.family
            work = SimulatedJob(world, believed, machine, luck, order.repeat_share)
            result = work.play(policy)
            played[name].append(
                (
                    result.net,
                    result.minutes,
                    result.comeback,
                    result.ended_wrongly,
                    result.regret,
                    result.expected_regret,
                )
            )
    return BlockFigures(
        first=first,
        count=count,
        perfect=perfect,
        played=played,
        learned=planner.memory.take_fresh(),
    )


@dataclass(frozen=True)
class _Planner:
    """What a process keeps from block to block: world believed, decisions made, policies."""

    world: BenchWorld
    memory: DecisionMemory
    policies: Mapping[str, Policy]
    reader: Reader


@lru_cache(maxsize=2)
def _planner(order: StudyOrder) -> _Planner:
    """The same for all orders of one family, effort and workshop."""
    # read here, not passed in: a process of its own loads the catalog once, not with each block
    family, memory = order.machines(), DecisionMemory()
    world, effort = BenchWorld.of(family, order.settings), Effort(growths=order.growths)
    by_name = policies(family, effort, memory)
    by_name = {name: by_name[name] for name in order.policies}
    return _Planner(world, memory, by_name, Reader(fingerprint(order)))


def run_study(
    order: StudyOrder,
    workers: int = 1,
    note: Callable[[int], None] = lambda _: None,
    *,
    kept: Path | None = None,
) -> StudyFigures:
    """Play all blocks, on ``workers`` processes; ``note`` is told how many jobs each block held.

    With ``kept``, finished blocks are appended to that file, and those that are there already are
    not played again. Raises InputError for a file that no study wrote.
    """
    return carry_out(order, lambda work: _play_all(work, workers, kept), note, kept)


def carry_out(
    order: StudyOrder,
    play: Callable[[Sequence[Block]], Iterator[BlockFigures]],
    note: Callable[[int], None],
    kept: Path | None,
) -> StudyFigures:
    """The figures of a study; ``play`` plays what ``kept`` lacks. Raises InputError."""
    in_file = {} if kept is None else finished(kept, order)
    work = blocks(order)
    done: list[BlockFigures] = [in_file[block[1:]] for block in work if block[1:] in in_file]
    # the bar begins where the last run stopped
    note(sum(block["count"] for block in done))
    for block in play([block for block in work if block[1:] not in in_file]):
        # on disk before the next begins, so that a stop loses one block at most
        if kept is not None:
            append(kept, order, block)
        done.append(block)
        note(block["count"])
    return summed(done, order)


def summed(done: Sequence[BlockFigures], order: StudyOrder) -> StudyFigures:
    """Blocks put together into the figures of the study: means a job, in minor units and minutes.

    Errors are standard errors of the means, from the jobs; where each block has a catalog of its
    own, from the blocks, whose jobs are not independent.
    """
    # blocks finish in any order; sorted, the sums come out the same to the last bit
    ordered = sorted(done, key=lambda block: int(block["first"]))
    owner = np.repeat(np.arange(len(ordered)), [int(block["count"]) for block in ordered])
    played = {
        name: np.array([row for block in ordered for row in block["played"][name]])
        for name in order.policies
    }
    # jobs of one block share a perturbed catalog, so they err together
    groups = owner if order.perturb and len(ordered) > 1 else np.arange(owner.size)
    # of the very jobs played: two studies of one seed have the same one
    best = float(np.mean([value for block in ordered for value in block["perfect"]]))
    # against ours, where it was played
    ours = played.get("ours")
    return StudyFigures(
        family=order.family,
        jobs=int(owner.size),
        seed=order.seed,
        perturb=order.perturb,
        perfect=best,
        policies={name: _policy_figures(rows, groups, best) for name, rows in played.items()},
        ahead={
            # machine by machine: what they have in common is no uncertainty of the difference
            name: _lead(ours - rows, groups)
            for name, rows in played.items()
            if ours is not None and name != "ours"
        },
    )


def _lead(difference: Floats, groups: Ints) -> Lead:
    """``difference`` is (jobs, 6), of two ways of working on the same machines."""
    mean = difference.mean(axis=0).tolist()
    error = [_standard_error(column, groups) for column in difference.T]
    return Lead(
        net=mean[0],
        error=error[0],
        regret=mean[4],
        regret_error=error[4],
        expected_regret=mean[5],
        expected_regret_error=error[5],
    )


def _policy_figures(rows: Floats, groups: Ints, best: float) -> PolicyFigures:
    """``rows`` is (jobs, 6), as :data:`PlayedJob`; ``groups`` (jobs,) the block of each."""
    net, minutes, comebacks, ended_wrongly, regret, expected = rows.mean(axis=0).tolist()
    return PolicyFigures(
        net=net,
        error=_standard_error(rows[:, 0], groups),
        minutes=minutes,
        comebacks=comebacks,
        kept=net / best,
        ended_wrongly=ended_wrongly,
        regret=regret,
        regret_error=_standard_error(rows[:, 4], groups),
        expected_regret=expected,
        expected_regret_error=_standard_error(rows[:, 5], groups),
    )


def _standard_error(values: Floats, groups: Ints) -> float:
    """Standard error of the mean, values of one group taken as dependent; 0 for a single group."""
    # whole groups vary independently of each other, what lies in one does not
    sums = np.bincount(groups, weights=values - values.mean())
    if sums.size < 2:
        return 0.0
    return float(np.sqrt((sums**2).sum() * sums.size / (sums.size - 1)) / values.size)


def _play_all(work: Sequence[Block], workers: int, kept: Path | None) -> Iterator[BlockFigures]:
    file = None if kept is None else str(kept)
    if workers <= 1:
        yield from (play_block(*block, file) for block in work)
        return
    # spawned, not forked: compiled code and its threads do not survive a fork
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for future in as_completed([pool.submit(play_block, *block, file) for block in work]):
            yield future.result()
