"""Work space of the planner's kernels, and the tables of the checks in the form they are summed over fastest."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

DEEPEST = 9  # checks in a row that the looking policy follows
ROWS = 512  # tables of hindsight kept
TABLES = ("order", "usual", "far_start", "far_set", "far_first", "far_by")  # what the kernels only read


class Room(NamedTuple):
    """Work space, by depth where the first size is D; and the tables of the checks as what differs from the usual.

    Most checks speak of few sets of faults: under all others their outcomes are as likely as where nothing is wrong.
    ``usual`` holds that column, ``far_set`` the sets that differ and ``far_by`` by how much, outcome by outcome.
    """

    beliefs: NDArray[np.float64]  # (D, H)
    values: NDArray[np.float64]  # (N + D + 2, H) what hindsight would earn, by the repairs tried and the panels opened
    calls: NDArray[np.int64]  # (N + D + 2, H) the repair that each set calls for then, R for none
    known: NDArray[np.int64]  # (N, 2) of which repairs and panels a row of those two tells, -1 where of none
    filled: NDArray[np.int64]  # (1,) how many rows are known
    scratch: NDArray[np.float64]  # (2, H)
    chain: NDArray[np.float64]  # (4, max(R, F) + 1)
    joint: NDArray[np.float64]  # (R + 1,) belief by what it calls for
    ways: NDArray[np.int64]  # (D, 8)
    sums: NDArray[np.float64]  # (D, 4)
    chances: NDArray[np.float64]  # (F + 1,)
    ends: NDArray[np.float64]  # (E,)
    prices: NDArray[np.float64]  # (2, R) of the repairs, at first and once more panels are open
    priced: NDArray[np.int64]  # (1,) the panels open for the first of them
    steps: NDArray[np.float64]  # (most moves of a repair,)
    cured: NDArray[np.float64]  # (R,) chance of each repair to cure something
    ratios: NDArray[np.float64]  # (R,) the same over its price
    uneven: NDArray[np.bool_]  # (E,) endings whose worth hangs on what is wrong
    rest: NDArray[np.int64]  # (R,) repairs that may still help
    live: NDArray[np.int64]  # (H,) sets that are believed possible
    shift: NDArray[np.float64]  # (R + 1, O)
    touched: NDArray[np.int64]  # (R + 1,)
    marked: NDArray[np.bool_]  # (R + 1,)
    order: NDArray[np.int64]  # (C,) the checks, cheapest first
    usual: NDArray[np.float64]  # (C, O)
    far_start: NDArray[np.int64]  # (C + 1,) into far_set
    far_set: NDArray[np.int64]  # (N,)
    far_first: NDArray[np.int64]  # (C + 1,) into far_by
    far_by: NDArray[np.float64]  # the differences, (sets that differ, outcomes) of one check after the other


def work_space(k: Any, beside: Room | None = None) -> Room:
    """Work space for the kernels that plan ahead; with the tables of another of the same problem, if there is one."""
    sets, repairs, depth = k.passes.size, k.repair_cost.size, DEEPEST + 1
    most = max(int(np.diff(k.move_start).max(initial=0)), 1)
    return Room(
        beliefs=np.zeros((depth, sets)),
        values=np.zeros((ROWS + depth + 2, sets)),
        calls=np.zeros((ROWS + depth + 2, sets), dtype=np.int64),
        known=np.full((ROWS, 2), -1, dtype=np.int64),
        filled=np.zeros(1, dtype=np.int64),
        scratch=np.zeros((2, sets)),
        chain=np.zeros((4, max(repairs, k.cure.shape[1]) + 1)),
        joint=np.zeros(repairs + 1),
        ways=np.zeros((depth, 8), dtype=np.int64),
        sums=np.zeros((depth, 4)),
        chances=np.zeros(k.cure.shape[1]),
        ends=np.zeros(k.ending_value.shape[0]),
        prices=np.zeros((2, repairs)),
        priced=np.full(1, -1, dtype=np.int64),
        steps=np.zeros(most),
        cured=np.zeros(repairs),
        ratios=np.zeros(repairs),
        uneven=(k.ending_value != k.ending_value[:, :1]).any(axis=1),
        rest=np.zeros(repairs, dtype=np.int64),
        live=np.zeros(sets, dtype=np.int64),
        shift=np.zeros((repairs + 1, k.table.shape[1])),
        touched=np.zeros(repairs + 1, dtype=np.int64),
        marked=np.zeros(repairs + 1, dtype=np.bool_),
        **({name: getattr(beside, name) for name in TABLES} if beside else _tables(k)),
    )


def _tables(k: Any) -> dict[str, Any]:
    """What the kernels only read, the rest is theirs to write."""
    usual = np.ascontiguousarray(k.table[:, :, 0])
    start, sets, first, by = [0], [], [0], []
    for c, many in enumerate(k.outcomes.tolist()):
        apart = k.table[c, :many] - k.table[c, :many, :1]
        far = np.flatnonzero((apart != 0.0).any(axis=0))
        sets.append(far)
        by.append(apart[:, far].T.ravel())
        start.append(start[-1] + far.size)
        first.append(first[-1] + by[-1].size)
    return {
        "order": np.argsort(k.check_cost, kind="stable").astype(np.int64),
        "usual": usual,
        "far_start": np.array(start, dtype=np.int64),
        "far_set": np.concatenate([np.zeros(0, np.int64), *sets]).astype(np.int64),
        "far_first": np.array(first, dtype=np.int64),
        "far_by": np.concatenate([np.zeros(0), *by]),
    }
