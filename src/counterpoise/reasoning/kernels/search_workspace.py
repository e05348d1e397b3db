"""The states of the exact search: their workspace, and the table that remembers them.

States that differ only by which of several interchangeable blocks is which (a check with the faults
only it tells of, and their repairs) share a place in the table, and so do beliefs equal to
rounding.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.bounds import EPS
from counterpoise.reasoning.kernels.compilation import kernel
from counterpoise.reasoning.kernels.dense_ratio_policy import CHAIN_ROWS

SOURCE_DIGEST = "6e726e0c9bd05133"  # see the package

# Places in ``SearchWorkspace.meter``: states entered, states allowed, states the table can hold.
NODES, BUDGET, FULL = range(3)
# Odd constants that spread bits over a word: the golden ratio's, and one of the same kind.
MIX_A, MIX_B = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xD6E8FEB86659FD93)
GRAIN = float(2**40)  # beliefs closer than this are one state
CHECK_DONE, REPAIR_TRIED = 1 << 41, 1 << 42  # tokens above any belief in units of the grain

# Places in a frame of ``SearchWorkspace.frames``: done, tried, opened (bits); slot in the table, or
# -1; how many actions are listed, the next of them, the best so far; the action in hand, or -1, and
# its outcome.
DONE, TRIED, OPENED, SLOT, COUNT, NEXT, BEST, CURRENT, OUTCOME = range(9)
FRAME = 9
# Places in a frame of ``SearchWorkspace.sums``: the worth above which it matters; the bracket; the
# highest bound of the actions left; the bracket of the action in hand; what it must exceed; the
# chance of the state looked into.
NEED, LOW, HIGH, REST, GOT_LOW, GOT_HIGH, WANTED, MASS = range(8)
SUMS = 8
# Columns of ``SearchWorkspace.block``.
BLOCK, PLACE = range(2)


class SearchWorkspace(NamedTuple):
    """Workspace of a search: rows by depth (D), and the table of states (N slots)."""

    w: Floats  # (D, H) beliefs
    hindsight: Floats  # (D, H) hindsight values
    order: Ints  # (D, C + R) actions, highest bound first
    bound: Floats  # (D, C + R)
    fresh: NDArray[np.bool_]  # (D, C + R) the bound is the first, cheap one
    outcome_mass: Floats  # (D, O) chance of each outcome of the check in hand
    outcome_bound: Floats  # (D, O) upper bound of each outcome, times its chance
    frames: Ints  # (D, FRAME)
    sums: Floats  # (D, SUMS)
    scratch: Floats  # (2, H)
    chain: Floats  # (CHAIN_ROWS, max(R, F) + 1)
    block: Ints  # (H + C + R, 2) block and place in it of sets, checks, repairs; block 0: none
    twin: Ints  # (R,) an earlier repair like this one, or -1
    keys: NDArray[np.uint64]  # (N, 2) two words that stand for a state
    low: Floats  # (N,)
    high: Floats  # (N,)
    free: Floats  # (N,) worth if every check were free, at most
    act: Ints  # (N,) one more than the action; 0 where the slot is free
    meter: Ints  # (3,)


def new_search_workspace(
    k: Arrays, block: Ints, twin: Ints, slots: int, budget: int
) -> SearchWorkspace:
    """Workspace for a problem; ``slots`` is a power of two. Memory is taken as states are met."""
    checks, outcomes, sets = k.table.shape
    repairs = k.repair_cost.size
    depth, actions = checks + repairs + 2, checks + repairs
    return SearchWorkspace(
        w=np.zeros((depth, sets)),
        hindsight=np.zeros((depth, sets)),
        order=np.zeros((depth, actions), dtype=np.int64),
        bound=np.zeros((depth, actions)),
        fresh=np.zeros((depth, actions), dtype=np.bool_),
        outcome_mass=np.zeros((depth, outcomes)),
        outcome_bound=np.zeros((depth, outcomes)),
        frames=np.zeros((depth, FRAME), dtype=np.int64),
        sums=np.zeros((depth, SUMS)),
        scratch=np.zeros((2, sets)),
        chain=np.zeros((CHAIN_ROWS, max(repairs, k.cure.shape[1]) + 1)),
        block=block,
        twin=twin,
        keys=np.zeros((slots, 2), dtype=np.uint64),
        low=np.zeros(slots),
        high=np.zeros(slots),
        free=np.zeros(slots),
        act=np.zeros(slots, dtype=np.int64),
        # four fifths of the table: probing for a free slot grows long beyond
        meter=np.array([0, budget, int(0.8 * slots)], dtype=np.int64),
    )


@kernel
def _mix(seed, value):
    """One word from two, in which every bit depends on all of theirs."""
    x = (seed ^ value) * MIX_A
    x ^= x >> np.uint64(29)
    x *= MIX_B
    return x ^ (x >> np.uint64(32))


@kernel
def _token(i, checks, w, done, tried):
    """What stands for set, check or repair ``i``; 0 where it is ruled out or not done."""
    sets = w.size
    # in units of the grain, so that beliefs equal to rounding are one state
    if i < sets:
        return np.uint64(0) if w[i] <= EPS else np.uint64(np.int64(w[i] * GRAIN + 0.5))
    if i < sets + checks:
        return np.uint64(CHECK_DONE) if done >> (i - sets) & 1 else np.uint64(0)
    return np.uint64(REPAIR_TRIED) if tried >> (i - sets - checks) & 1 else np.uint64(0)


@kernel
def _key(s, depth, done, tried, opened):
    """Two words that stand for the state; blocks are added up, so that their order is no matter."""
    w, checks = s.w[depth], s.order.shape[1] - s.twin.size
    blocks = np.zeros(s.block[:, BLOCK].max() + 1 if s.block.size else 1, np.uint64)
    a = _mix(np.uint64(1), np.uint64(opened))
    for i in range(s.block.shape[0]):
        token = _token(i, checks, w, done, tried)
        if token == np.uint64(0):
            continue
        b, place = s.block[i, BLOCK], np.uint64(s.block[i, PLACE])
        # what is in no block has its own place in the hash, by its number
        if b == 0:
            a = _mix(a, token + (np.uint64(i) << np.uint64(43)))
        else:
            blocks[b] += _mix(token, place + np.uint64(1))
    # a second word, for at millions of states one of 64 bits would collide now and then
    second = _mix(a, np.uint64(7))
    total, other = np.uint64(0), np.uint64(0)
    for b in range(1, blocks.size):
        total += _mix(blocks[b], np.uint64(3))
        other += _mix(blocks[b], np.uint64(5))
    return _mix(a, total), _mix(second, other)


@kernel
def find_slot(s, depth, done, tried, opened):
    """Slot of the state at ``depth``, taken or free; -1 where the table is full."""
    a, b = _key(s, depth, done, tried, opened)
    size = s.act.size
    slot = np.int64(a % np.uint64(size))
    # linear probing; nothing is ever taken out, so the first free slot ends the search
    while s.act[slot] != 0:
        if s.keys[slot, 0] == a and s.keys[slot, 1] == b:
            return slot
        slot = slot + 1 if slot + 1 < size else 0
    if s.meter[NODES] >= s.meter[FULL]:
        return -1
    s.keys[slot, 0], s.keys[slot, 1] = a, b
    return slot
