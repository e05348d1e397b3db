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

TOL = 1e-9
NODES, BUDGET, FULL = 0, 1, 2  # places in Space.meter
MIX_A, MIX_B = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xD6E8FEB86659FD93)
GRAIN = float(2**40)  # beliefs closer than this are one state


class Space(NamedTuple):
    """Work space of a search: rows by depth, and the table of states."""

    w: NDArray[np.float64]  # (D, H) beliefs
    u: NDArray[np.float64]  # (D, H) hindsight values
    order: NDArray[np.int64]  # (D, actions)
    bound: NDArray[np.float64]  # (D, actions)
    part: NDArray[np.float64]  # (D, 2, O) mass and upper bound of each outcome
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
def solve(k, s, depth, done, tried, opened, need):
    """Bracket (low, high) of the state at ``depth``: exact, or with high <= need, or as far as the budget went."""
    slot = find(s, depth, done, tried, opened)
    if slot < 0:
        low, _, _ = plain_policy(k, s.w[depth], tried, opened, s.scratch, s.chain)
        return low, max(low, hindsight(k, s.w[depth], tried, opened, s.u[depth]))
    if s.act[slot] == -1:
        enter(k, s, depth, slot, tried, opened)
    low, high, act = s.low[slot], s.high[slot], s.act[slot]
    if high - low <= TOL or high <= need or s.meter[NODES] >= s.meter[BUDGET]:
        return low, high
    checks = k.check_cost.size
    count = rank(k, s, depth, done, tried, opened)
    rest = -np.inf
    for i in range(count):
        a, bound = s.order[depth, i], s.bound[depth, i]
        wanted = max(low, need)
        if bound <= wanted + TOL:
            rest = max(rest, bound)
            break
        if a < checks:
            now_open = opened | k.check_panels[a]
            cost = k.check_cost[a] + panels_to_open(k, k.check_panels[a], opened)
            got_high = outcome_parts(k, s, depth, a, tried, now_open) - cost
            got_low = -cost
            for o in range(k.outcomes[a]):
                mass = s.part[depth, 0, o]
                if mass <= EPS:
                    continue
                to_outcome(k, s, depth, a, o)
                others = got_high - s.part[depth, 1, o]
                child = solve(k, s, depth + 1, done | 1 << a, tried, now_open, (wanted - others) / mass)
                got_low += mass * child[0]
                got_high = others + mass * min(child[1], s.part[depth, 1, o] / mass)
                if got_high <= wanted + TOL:
                    got_low = -np.inf
                    break
        else:
            r = a - checks
            now_open = opened | k.repair_panels[r]
            left, passed = to_failed(k, s, depth, r)
            got_low = got_high = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
            if left > EPS:
                child = solve(k, s, depth + 1, done, tried | 1 << r, now_open, (wanted - got_high) / left)
                got_low += left * child[0]
                got_high += left * child[1]
        if got_low > low + EPS:
            low, act = got_low, a
        rest = max(rest, got_high)
    s.low[slot], s.act[slot] = low, act
    s.high[slot] = max(low, min(high, rest)) if rest > -np.inf else low
    return s.low[slot], s.high[slot]
