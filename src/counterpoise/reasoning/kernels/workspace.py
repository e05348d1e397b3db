"""Work space of the planner's kernels, and the tables of the model in the form they are summed over fastest.

A belief is *listed* here: the sets of faults it holds possible, rising, and the chance of each. Most checks and repairs
speak of few sets, and further down few are left, so that the lists are a fraction of all sets.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

DEEPEST = 9  # checks in a row that the looking policy follows
ROWS = 512  # tables of hindsight kept
PRICED = 64  # tables of prices kept; a power of two
LANES = 4  # outcomes summed at once: a check with fewer has outcomes of no chance added
# Without counting who holds an array: else the compiled code counts at every call for each of the some eighty arrays of
# a model and a work space, which took a good part of the time. Such kernels must make no array of their own.
lean = njit(cache=True, nogil=True, _nrt=False)  # type: ignore[call-overload]
Index = NDArray[
    np.uint32
]  # without a sign, or the compiler would look for negative ones at every access


class Tables(NamedTuple):
    """What the kernels only read; two work spaces share it.

    Under most sets of faults the outcomes of a check are as likely as where nothing is wrong: ``usual`` holds that
    column, ``far_set`` the sets that differ and ``far_by`` by how much.
    """

    order: NDArray[np.int64]  # (C,) the checks, cheapest first
    usual: NDArray[np.float64]  # (C, B, LANES) outcomes in blocks
    far_start: NDArray[np.int64]  # (C + 1,) into far_set
    far_set: Index  # (N,)
    far_by: NDArray[np.float64]  # (N, B, LANES)
    members: Index  # (H, M) faults of a set, padded with F
    source: Index  # (K,) of the moves
    target: Index  # (K,)
    uneven: NDArray[np.int64]  # (U,) endings whose worth hangs on what is wrong
    gain: NDArray[np.float64]  # (K, U) of these endings by each move
    cured_chance: NDArray[np.float64]  # (Q,) beside k.cured_fault
    share_start: NDArray[np.int64]  # (H, M) into share
    share: NDArray[
        np.float64
    ]  # for each fault of a set, what each of its repairs costs it at least


class Room(NamedTuple):
    """Work space, by depth where the first size is D."""

    tables: Tables
    sets: Index  # (D, H) listed beliefs
    beliefs: NDArray[np.float64]  # (D, H) the chances of these sets
    values: NDArray[
        np.float64
    ]  # (N + D + 2, H) what hindsight would earn, by the repairs tried and the panels opened
    calls: NDArray[np.uint8]  # (N + D + 2, H) the repair that each set calls for then, R for none
    known: NDArray[
        np.int64
    ]  # (N, 2) of which repairs and panels a row of those two tells, -1 where of none
    filled: NDArray[np.int64]  # (1,) how many rows are known
    now: NDArray[np.float64]  # (H,)
    dense: NDArray[np.float64]  # (H,) all zero but where a belief is looked at by set
    chain: NDArray[np.float64]  # (4, max(R, F) + 1)
    joint: NDArray[np.float64]  # (R + 1,) belief by what it calls for
    acts: Index  # (R + 1,) what is called for at all
    called: NDArray[np.int64]  # (1,) how many of these
    ways: NDArray[np.int64]  # (D, 9)
    sums: NDArray[np.float64]  # (D, 4)
    chances: NDArray[np.float64]  # (F + 1,)
    ends: NDArray[np.float64]  # (E,)
    prices: NDArray[np.float64]  # (P, R) of the repairs, by the panels open
    thrift: NDArray[np.float64]  # (P, R) one over them
    priced: NDArray[np.int64]  # (P,) the panels open for each of these rows, -1 where none
    openings: NDArray[
        np.float64
    ]  # (R,) what opening would cost each repair; infinite for those tried
    least: NDArray[np.float64]  # (F + 1,) the least of them for each fault
    cured: NDArray[np.float64]  # (R,) chance of each repair to cure something
    ratios: NDArray[np.float64]  # (R,) the same over its price
    rest: Index  # (R,) repairs that may still help
    live: Index  # (H,) a listed belief
    weights: NDArray[np.float64]  # (H,) its chances
    shift: NDArray[np.float64]  # (R + 1, LANES)
    root_sets: Index  # (H,) the belief that is looked ahead of
    root_weights: NDArray[np.float64]  # (H,)
    left: NDArray[np.float64]  # (H,) a belief after a repair
    scores: NDArray[np.float64]  # (2, C + R) what actions promise
    chosen: NDArray[np.bool_]  # (C + R,)


def work_space(k: Any, beside: Room | None = None) -> Room:
    """Work space for the kernels that plan ahead; with the tables of another of the same problem, if there is one."""
    sets, repairs, depth = k.passes.size, k.repair_cost.size, DEEPEST + 1
    return Room(
        tables=beside.tables if beside else tables_of(k),
        sets=np.zeros((depth, sets), dtype=np.uint32),
        beliefs=np.zeros((depth, sets)),
        values=np.zeros((ROWS + depth + 2, sets)),
        calls=np.zeros((ROWS + depth + 2, sets), dtype=np.uint8),
        known=np.full((ROWS, 2), -1, dtype=np.int64),
        filled=np.zeros(1, dtype=np.int64),
        now=np.zeros(sets),
        dense=np.zeros(sets),
        chain=np.zeros((4, max(repairs, k.cure.shape[1]) + 1)),
        joint=np.zeros(repairs + 1),
        acts=np.zeros(repairs + 1, dtype=np.uint32),
        called=np.zeros(1, dtype=np.int64),
        ways=np.zeros((depth, 9), dtype=np.int64),
        sums=np.zeros((depth, 4)),
        chances=np.zeros(k.cure.shape[1]),
        ends=np.zeros(k.ending_value.shape[0]),
        prices=np.zeros((PRICED, repairs)),
        thrift=np.zeros((PRICED, repairs)),
        priced=np.full(PRICED, -1, dtype=np.int64),
        openings=np.zeros(repairs),
        least=np.zeros(k.cure.shape[1]),
        cured=np.zeros(repairs),
        ratios=np.zeros(repairs),
        rest=np.zeros(repairs, dtype=np.uint32),
        live=np.zeros(sets, dtype=np.uint32),
        weights=np.zeros(sets),
        shift=np.zeros((repairs + 1, LANES)),
        root_sets=np.zeros(sets, dtype=np.uint32),
        root_weights=np.zeros(sets),
        left=np.zeros(sets),
        scores=np.zeros((2, k.check_cost.size + repairs)),
        chosen=np.zeros(k.check_cost.size + repairs, dtype=np.bool_),
    )


def tables_of(k: Any) -> Tables:
    """The tables of a problem, from its arrays."""
    checks, outcomes, _ = k.table.shape
    blocks = -(-outcomes // LANES)
    usual = np.zeros((checks, blocks * LANES))
    usual[:, :outcomes] = k.table[:, :, 0]
    far_start, far_set, far_by = _far_sets(k.table, blocks * LANES)
    uneven = np.flatnonzero((k.ending_value != k.ending_value[:, :1]).any(axis=1))
    ends = k.ending_value[uneven]
    start, share = _shares(k)
    return Tables(
        order=np.argsort(k.check_cost, kind="stable").astype(np.int64),
        usual=usual.reshape(checks, blocks, LANES),
        far_start=far_start,
        far_set=far_set,
        far_by=far_by.reshape(-1, blocks, LANES),
        members=k.members.astype(np.uint32),
        source=k.move_source.astype(np.uint32),
        target=k.move_target.astype(np.uint32),
        uneven=uneven.astype(np.int64),
        gain=np.ascontiguousarray((ends[:, k.move_target] - ends[:, k.move_source]).T),
        cured_chance=k.cure[k.cure > 0],
        share_start=start,
        share=share,
    )


@njit(cache=True)
def _far_sets(table, wide):
    """Where the outcomes of each check are not as likely as under the empty set, and by how much."""
    checks, outcomes, sets = table.shape
    start, which = np.zeros(checks + 1, np.int64), np.empty(checks * sets, np.uint32)
    count = 0
    for c in range(checks):
        for h in range(sets):
            for o in range(outcomes):
                if table[c, o, h] != table[c, o, 0]:
                    which[count] = h
                    count += 1
                    break
        start[c + 1] = count
    by = np.zeros((count, wide))
    for c in range(checks):
        for i in range(start[c], start[c + 1]):
            for o in range(outcomes):
                by[i, o] = table[c, o, which[i]] - table[c, o, 0]
    return start, which[:count].copy(), by


@njit(cache=True)
def _shares(k):
    """For each fault of a set, repair by repair: the price less what a missing retest may add, shared by those cured.

    The order is that of ``k.cure_repair``; (H, M) where they start, and the shares.
    """
    sets, width = k.members.shape
    none, count = k.cure.shape[1] - 1, 0
    start = np.zeros((sets, width), np.int64)
    for h in range(sets):
        for m in range(width):
            start[h, m] = count
            if k.members[h, m] < none:
                count += k.cure_start[k.members[h, m] + 1] - k.cure_start[k.members[h, m]]
    share, at = np.empty(count), 0
    for h in range(sets):
        for m in range(width):
            fault = k.members[h, m]
            if fault == none:
                break
            for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
                r, sharing = k.cure_repair[q], 0
                for n in range(width):
                    if k.cure[r, k.members[h, n]] > 0.0:
                        sharing += 1
                share[at] = max(0.0, k.repair_cost[r] - k.slip[h]) / sharing
                at += 1
    return start, share
