"""AND/OR search with memoised states and admissible bounds, depth first.

Each state keeps a lower and an upper bound on its worth. A state is searched only as far as is needed to show that it
is worth no more than ``need``, or to know it exactly; so what it returns is always a valid bracket.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    hindsight,
    panels_to_open,
    plain_policy,
)

DRAWS_ON = "a2745f27b5d7db78"  # see the package

TOL = 1e-9
NODES, BUDGET, FULL = 0, 1, 2  # places in Space.meter
DONE, TRIED, OPENED, SLOT, COUNT, NEXT, BEST, CURRENT, OUTCOME = range(9)  # places in a frame of Space.way
NEED, LOW, HIGH, REST, GOT_LOW, GOT_HIGH, WANTED, MASS = range(8)  # places in a frame of Space.sums
MIX_A, MIX_B = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xD6E8FEB86659FD93)
GRAIN = float(2**40)  # beliefs closer than this are one state


class Space(NamedTuple):
    """Work space of a search: rows by depth, and the table of states."""

    w: NDArray[np.float64]  # (D, H) beliefs
    u: NDArray[np.float64]  # (D, H) hindsight values
    order: NDArray[np.int64]  # (D, actions)
    bound: NDArray[np.float64]  # (D, actions)
    part: NDArray[np.float64]  # (D, 2, O) mass and upper bound of each outcome
    way: NDArray[np.int64]  # (D, 9) frames: where each state in hand is
    sums: NDArray[np.float64]  # (D, 8) frames: what is known of it
    scratch: NDArray[np.float64]  # (2, H)
    chain: NDArray[np.float64]  # (4, R + 1)
    keys: NDArray[np.uint64]  # (N, 2)
    low: NDArray[np.float64]  # (N,)
    high: NDArray[np.float64]  # (N,)
    act: NDArray[np.int64]  # (N,) -1 where the slot is free
    meter: NDArray[np.int64]  # (3,)


def new_space(k: Any, slots: int, budget: int) -> Space:
    """Work space for a problem; ``slots`` is a power of two."""
    checks, outcomes, sets = k.table.shape
    repairs = k.repair_cost.size
    depth = checks + repairs + 2
    return Space(
        w=np.zeros((depth, sets)),
        u=np.zeros((depth, sets)),
        order=np.zeros((depth, checks + repairs), dtype=np.int64),
        bound=np.zeros((depth, checks + repairs)),
        part=np.zeros((depth, 2, outcomes)),
        way=np.zeros((depth, 9), dtype=np.int64),
        sums=np.zeros((depth, 8)),
        scratch=np.zeros((2, sets)),
        chain=np.zeros((4, max(repairs, k.cure.shape[1]) + 1)),
        keys=np.zeros((slots, 2), dtype=np.uint64),
        low=np.zeros(slots),
        high=np.zeros(slots),
        act=np.full(slots, -1, dtype=np.int64),
        meter=np.array([0, budget, int(0.8 * slots)], dtype=np.int64),
    )


@njit(cache=True)
def _mix(seed, value):
    x = (seed ^ value) * MIX_A
    x ^= x >> np.uint64(29)
    x *= MIX_B
    return x ^ (x >> np.uint64(32))


@njit(cache=True)
def find(s, depth, done, tried, opened):
    """Slot of the state at ``depth``, taken or free; -1 where the table is full."""
    a = _mix(_mix(_mix(np.uint64(1), np.uint64(done)), np.uint64(tried)), np.uint64(opened))
    b = _mix(a, np.uint64(7))
    w = s.w[depth]
    for h in range(w.size):
        if w[h] > EPS:
            grain = np.uint64(np.int64(w[h] * GRAIN + 0.5)) + (np.uint64(h) << np.uint64(42))
            a, b = _mix(a, grain), _mix(b, grain ^ MIX_A)
    size = s.act.size
    slot = np.int64(a % np.uint64(size))
    while s.act[slot] != -1:
        if s.keys[slot, 0] == a and s.keys[slot, 1] == b:
            return slot
        slot = slot + 1 if slot + 1 < size else 0
    if s.meter[NODES] >= s.meter[FULL]:
        return -1
    s.keys[slot, 0], s.keys[slot, 1] = a, b
    return slot


@njit(cache=True)
def enter(k, s, depth, slot, tried, opened):
    """Give a fresh state its first bracket and the first action of the policy that earns the lower end."""
    checks, repairs = k.check_cost.size, k.repair_cost.size
    value, first, ending = plain_policy(k, s.w[depth], tried, opened, s.scratch, s.chain)
    s.low[slot] = value
    s.act[slot] = checks + first if first >= 0 else checks + repairs + max(ending, 0)
    s.high[slot] = max(value, hindsight(k, s.w[depth], tried, opened, s.u[depth]))
    s.meter[NODES] += 1


@njit(cache=True)
def _check_bound(k, s, depth, c, tried, opened, mean):
    """Upper bound on doing check ``c`` here; minus infinity where it could teach nothing."""
    w, teaches = s.w[depth], False
    for o in range(k.outcomes[c]):
        mass = 0.0
        for h in range(w.size):
            mass += w[h] * k.table[c, o, h]
        if mass > EPS:
            for h in range(w.size):
                if w[h] > EPS and abs(k.table[c, o, h] - mass) > TOL:
                    teaches = True
                    break
        if teaches:
            break
    if not teaches:
        return -np.inf
    opening = panels_to_open(k, k.check_panels[c], opened)
    if opening > 0.0:
        mean = hindsight(k, w, tried, opened | k.check_panels[c], s.u[depth + 1])
    return mean - k.check_cost[c] - opening


@njit(cache=True)
def _repair_bound(k, s, depth, r, tried, opened):
    """Upper bound on trying repair ``r`` here; minus infinity where it could cure nothing."""
    left, passed, moved = after_repair(k, r, s.w[depth], s.w[depth + 1])
    if moved <= EPS and k.move_start[r + 1] > k.move_start[r]:
        return -np.inf
    if moved <= EPS and passed <= 0.0 and left >= 1.0 - EPS:
        return -np.inf
    cost = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened)
    rest = 0.0
    if left > EPS:
        rest = hindsight(k, s.w[depth + 1], tried | 1 << r, opened | k.repair_panels[r], s.u[depth + 1])
    return passed - cost + rest


@njit(cache=True)
def rank(k, s, depth, done, tried, opened):
    """List the useful actions of a state by upper bound, largest first; returns how many."""
    checks, count = k.check_cost.size, 0
    mean = hindsight(k, s.w[depth], tried, opened, s.u[depth])
    for a in range(checks + k.repair_cost.size):
        if a < checks:
            bound = -np.inf if done >> a & 1 else _check_bound(k, s, depth, a, tried, opened, mean)
        else:
            r = a - checks
            bound = -np.inf if tried >> r & 1 else _repair_bound(k, s, depth, r, tried, opened)
        if bound == -np.inf:
            continue
        place = count
        while place > 0 and s.bound[depth, place - 1] < bound:
            s.bound[depth, place], s.order[depth, place] = s.bound[depth, place - 1], s.order[depth, place - 1]
            place -= 1
        s.bound[depth, place], s.order[depth, place] = bound, a
        count += 1
    return count


@njit(cache=True)
def outcome_parts(k, s, depth, c, tried, opened):
    """Mass and upper bound of each outcome of check ``c``; returns the upper bound of all, before the check's cost."""
    w, total = s.w[depth], 0.0
    hindsight(k, w, tried, opened, s.u[depth])
    for o in range(k.outcomes[c]):
        mass, high = 0.0, 0.0
        for h in range(w.size):
            part = w[h] * k.table[c, o, h]
            if part > 0.0:
                mass += part
                high += part * s.u[depth, h]
        s.part[depth, 0, o], s.part[depth, 1, o] = mass, high
        if mass > EPS:
            total += high
    return total


@njit(cache=True)
def to_outcome(k, s, depth, c, o):
    """Write the belief after outcome ``o`` of check ``c`` one row deeper."""
    mass = s.part[depth, 0, o]
    for h in range(s.w.shape[1]):
        s.w[depth + 1, h] = s.w[depth, h] * k.table[c, o, h] / mass


@njit(cache=True)
def to_failed(k, s, depth, r):
    """Write the belief after repair ``r`` failed one row deeper; returns (mass left, value of passing)."""
    left, passed, _ = after_repair(k, r, s.w[depth], s.w[depth + 1])
    if left > EPS:
        for h in range(s.w.shape[1]):
            s.w[depth + 1, h] /= left
    return left, passed


@njit(cache=True)
def _open_frame(k, s, depth):
    """Look the state of a frame up, or enter it; closes the frame where its bracket is good enough already."""
    way, sums = s.way[depth], s.sums[depth]
    done, tried, opened = way[DONE], way[TRIED], way[OPENED]
    slot = find(s, depth, done, tried, opened)
    way[SLOT], way[COUNT], way[NEXT], way[CURRENT] = slot, 0, 0, -1
    sums[REST] = -np.inf
    if slot < 0:
        low, _, _ = plain_policy(k, s.w[depth], tried, opened, s.scratch, s.chain)
        sums[LOW], sums[HIGH] = low, max(low, hindsight(k, s.w[depth], tried, opened, s.u[depth]))
        return
    if s.act[slot] == -1:
        enter(k, s, depth, slot, tried, opened)
    sums[LOW], sums[HIGH], way[BEST] = s.low[slot], s.high[slot], s.act[slot]
    if sums[HIGH] - sums[LOW] <= TOL or sums[HIGH] <= sums[NEED] or s.meter[NODES] >= s.meter[BUDGET]:
        way[SLOT] = -1  # nothing new to write
        return
    way[COUNT] = rank(k, s, depth, done, tried, opened)


@njit(cache=True)
def _begin_action(k, s, depth):
    """Set up the next action of a frame; False when no action left could matter."""
    way, sums = s.way[depth], s.sums[depth]
    if way[NEXT] >= way[COUNT]:
        return False
    a, bound = s.order[depth, way[NEXT]], s.bound[depth, way[NEXT]]
    way[NEXT] += 1
    sums[WANTED] = max(sums[LOW], sums[NEED])
    if bound <= sums[WANTED] + TOL:
        sums[REST] = max(sums[REST], bound)
        return False
    way[CURRENT], way[OUTCOME] = a, -1
    checks, opened = k.check_cost.size, way[OPENED]
    if a < checks:
        cost = k.check_cost[a] + panels_to_open(k, k.check_panels[a], opened)
        sums[GOT_HIGH] = outcome_parts(k, s, depth, a, way[TRIED], opened | k.check_panels[a]) - cost
        sums[GOT_LOW] = -cost
    else:
        r = a - checks
        left, passed = to_failed(k, s, depth, r)
        sums[GOT_LOW] = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
        sums[GOT_HIGH], sums[MASS] = sums[GOT_LOW], left
    return True


@njit(cache=True)
def _next_child(k, s, depth):
    """Prepare the next state to look into for the current action of a frame; False when the action is settled."""
    way, sums, checks = s.way[depth], s.sums[depth], k.check_cost.size
    a = way[CURRENT]
    child, into = s.way[depth + 1], s.sums[depth + 1]
    child[DONE], child[TRIED] = way[DONE], way[TRIED]
    if a >= checks:
        r = a - checks
        if way[OUTCOME] >= 0 or sums[MASS] <= EPS:
            return False
        way[OUTCOME] = 0
        child[TRIED] |= 1 << r
        child[OPENED] = way[OPENED] | k.repair_panels[r]
        into[NEED] = (sums[WANTED] - sums[GOT_HIGH]) / sums[MASS]
        return True
    while way[OUTCOME] + 1 < k.outcomes[a]:
        way[OUTCOME] += 1
        o = way[OUTCOME]
        mass = s.part[depth, 0, o]
        if mass > EPS:
            to_outcome(k, s, depth, a, o)
            child[DONE] |= 1 << a
            child[OPENED] = way[OPENED] | k.check_panels[a]
            sums[MASS] = mass
            into[NEED] = (sums[WANTED] - sums[GOT_HIGH] + s.part[depth, 1, o]) / mass
            return True
    return False


@njit(cache=True)
def _absorb(k, s, depth, low, high):
    """Add what a state looked into is worth to the current action of the frame above it."""
    way, sums = s.way[depth], s.sums[depth]
    a, mass = way[CURRENT], sums[MASS]
    if a >= k.check_cost.size:
        sums[GOT_LOW] += mass * low
        sums[GOT_HIGH] += mass * high
        return
    expected = s.part[depth, 1, way[OUTCOME]]
    sums[GOT_LOW] += mass * low
    sums[GOT_HIGH] += min(mass * high, expected) - expected
    if sums[GOT_HIGH] <= sums[WANTED] + TOL:  # the check can no longer be the best: leave it
        sums[GOT_LOW] = -np.inf
        way[OUTCOME] = k.outcomes[a]


@njit(cache=True)
def _advance(k, s, depth):
    """Work on a frame until it needs a state looked into (True) or is finished (False)."""
    way, sums = s.way[depth], s.sums[depth]
    while way[COUNT] > 0:
        if way[CURRENT] >= 0:
            if _next_child(k, s, depth):
                return True
            if sums[GOT_LOW] > sums[LOW] + EPS:
                sums[LOW], way[BEST] = sums[GOT_LOW], way[CURRENT]
            sums[REST] = max(sums[REST], sums[GOT_HIGH])
            way[CURRENT] = -1
        if not _begin_action(k, s, depth):
            break
    slot = way[SLOT]
    if slot >= 0:
        high = min(sums[HIGH], sums[REST]) if sums[REST] > -np.inf else sums[LOW]
        sums[HIGH] = max(sums[LOW], high)
        s.low[slot], s.high[slot], s.act[slot] = sums[LOW], sums[HIGH], way[BEST]
    return False


@njit(cache=True)
def solve(k, s, depth, done, tried, opened, need):
    """Bracket (low, high) of the state in row ``depth``: exact, or with high <= need, or as far as the budget went."""
    top = depth
    s.way[depth, DONE], s.way[depth, TRIED], s.way[depth, OPENED] = done, tried, opened
    s.sums[depth, NEED] = need
    _open_frame(k, s, depth)
    while True:
        if _advance(k, s, depth):
            depth += 1
            _open_frame(k, s, depth)
        elif depth == top:
            return s.sums[depth, LOW], s.sums[depth, HIGH]
        else:
            depth -= 1
            _absorb(k, s, depth, s.sums[depth + 1, LOW], s.sums[depth + 1, HIGH])
