"""The states of the exact search: their work space, and the table that remembers them.

States that differ only by which of several interchangeable blocks is which (a check with the faults only it tells of,
and their repairs) share a place in the table, and so do beliefs equal to rounding.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from counterpoise.reasoning.kernels.bounds import EPS

SOURCE_DIGEST = "f4c70fa061ca5ff5"  # see the package

NODES, BUDGET, FULL = 0, 1, 2  # places in Space.meter
MIX_A, MIX_B = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xD6E8FEB86659FD93)
GRAIN = float(2**40)  # beliefs closer than this are one state
CHECK, REPAIR = 1 << 41, 1 << 42  # what a place in a block stands for


class Space(NamedTuple):
    """Work space of a search: rows by depth, and the table of states."""

    w: NDArray[np.float64]  # (D, H) beliefs
    u: NDArray[np.float64]  # (D, H) hindsight values
    order: NDArray[np.int64]  # (D, actions)
    bound: NDArray[np.float64]  # (D, actions)
    fresh: NDArray[np.bool_]  # (D, actions) the bound is the first, cheap one
    part: NDArray[np.float64]  # (D, 2, O) mass and upper bound of each outcome
    way: NDArray[np.int64]  # (D, 9) frames: where each state in hand is
    sums: NDArray[np.float64]  # (D, 8) frames: what is known of it
    scratch: NDArray[np.float64]  # (2, H)
    chain: NDArray[np.float64]  # (4, R + 1)
    block: NDArray[
        np.int64
    ]  # (H + C + R, 2) block and place in it of each set, check and repair; block 0: none
    twin: NDArray[np.int64]  # (R,) an earlier repair like this one, or -1
    keys: NDArray[np.uint64]  # (N, 2)
    low: NDArray[np.float64]  # (N,)
    high: NDArray[np.float64]  # (N,)
    free: NDArray[np.float64]  # (N,) worth if every check were free, at most
    act: NDArray[np.int64]  # (N,) one more than the action; 0 where the slot is free
    meter: NDArray[np.int64]  # (3,)


def new_space(
    k: Any, block: NDArray[np.int64], twin: NDArray[np.int64], slots: int, budget: int
) -> Space:
    """Work space for a problem; ``slots`` is a power of two. Memory is taken as states are met."""
    checks, outcomes, sets = k.table.shape
    repairs = k.repair_cost.size
    depth, actions = checks + repairs + 2, checks + repairs
    return Space(
        w=np.zeros((depth, sets)),
        u=np.zeros((depth, sets)),
        order=np.zeros((depth, actions), dtype=np.int64),
        bound=np.zeros((depth, actions)),
        fresh=np.zeros((depth, actions), dtype=np.bool_),
        part=np.zeros((depth, 2, outcomes)),
        way=np.zeros((depth, 9), dtype=np.int64),
        sums=np.zeros((depth, 8)),
        scratch=np.zeros((2, sets)),
        chain=np.zeros((4, max(repairs, k.cure.shape[1]) + 1)),
        block=block,
        twin=twin,
        keys=np.zeros((slots, 2), dtype=np.uint64),
        low=np.zeros(slots),
        high=np.zeros(slots),
        free=np.zeros(slots),
        act=np.zeros(slots, dtype=np.int64),
        meter=np.array([0, budget, int(0.8 * slots)], dtype=np.int64),
    )


@njit(cache=True)
def _mix(seed, value):
    x = (seed ^ value) * MIX_A
    x ^= x >> np.uint64(29)
    x *= MIX_B
    return x ^ (x >> np.uint64(32))


@njit(cache=True)
def _key(s, depth, done, tried, opened):
    """Two words that stand for the state; what is in blocks is added up, so that their order does not matter."""
    w, checks = s.w[depth], s.order.shape[1] - s.twin.size
    sets = w.size
    blocks = (
        np.zeros(s.block[:, 0].max() + 1, np.uint64) if s.block.size else np.zeros(1, np.uint64)
    )
    a = _mix(np.uint64(1), np.uint64(opened))
    for i in range(s.block.shape[0]):
        if i < sets:
            token = np.uint64(0) if w[i] <= EPS else np.uint64(np.int64(w[i] * GRAIN + 0.5))
        elif i < sets + checks:
            token = np.uint64(CHECK) if done >> (i - sets) & 1 else np.uint64(0)
        else:
            token = np.uint64(REPAIR) if tried >> (i - sets - checks) & 1 else np.uint64(0)
        if token == np.uint64(0):
            continue
        b, place = s.block[i, 0], np.uint64(s.block[i, 1])
        if b == 0:
            a = _mix(a, token + (np.uint64(i) << np.uint64(43)))
        else:
            blocks[b] += _mix(token, place + np.uint64(1))
    second = _mix(a, np.uint64(7))
    total, other = np.uint64(0), np.uint64(0)
    for b in range(1, blocks.size):
        total += _mix(blocks[b], np.uint64(3))
        other += _mix(blocks[b], np.uint64(5))
    return _mix(a, total), _mix(second, other)


@njit(cache=True)
def find(s, depth, done, tried, opened):
    """Slot of the state at ``depth``, taken or free; -1 where the table is full."""
    a, b = _key(s, depth, done, tried, opened)
    size = s.act.size
    slot = np.int64(a % np.uint64(size))
    while s.act[slot] != 0:
        if s.keys[slot, 0] == a and s.keys[slot, 1] == b:
            return slot
        slot = slot + 1 if slot + 1 < size else 0
    if s.meter[NODES] >= s.meter[FULL]:
        return -1
    s.keys[slot, 0], s.keys[slot, 1] = a, b
    return slot
