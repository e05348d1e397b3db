"""AND/OR search with memoised states and admissible bounds, depth first.

Each state keeps a lower and an upper bound on its worth. A state is searched only as far as is needed to show that it
is worth no more than ``need``, or to know it exactly; so what it returns is always a valid bracket.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    hindsight,
    panels_to_open,
    plain_policy,
)
from counterpoise.reasoning.kernels.free_checks_bound import informed
from counterpoise.reasoning.kernels.search_workspace import BUDGET, NODES, find

SOURCE_DIGEST = "09fefc012468dac7"  # see the package

TOL = 1e-9
DONE, TRIED, OPENED, SLOT, COUNT, NEXT, BEST, CURRENT, OUTCOME = range(
    9
)  # places in a frame of Space.way
NEED, LOW, HIGH, REST, GOT_LOW, GOT_HIGH, WANTED, MASS = range(8)  # places in a frame of Space.sums


@njit(cache=True)
def enter(k, s, depth, slot, done, tried, opened):
    """Give a fresh state its first bracket and the first action of the policy that earns the lower end."""
    checks, repairs = k.check_cost.size, k.repair_cost.size
    value, first, ending = plain_policy(k, s.w[depth], tried, opened, s.scratch, s.chain)
    s.low[slot] = value
    s.act[slot] = 1 + (checks + first if first >= 0 else checks + repairs + max(ending, 0))
    s.free[slot] = hindsight(k, s.w[depth], tried, opened, s.u[depth])
    if k.one_fault:
        s.free[slot] = min(s.free[slot], informed(k, s.w[depth], done, tried, opened, False)[0])
    s.high[slot] = max(value, s.free[slot])
    s.meter[NODES] += 1


@njit(cache=True)
def _high_of(k, s, depth, done, tried, opened):
    """Upper bound on the state in row ``depth``, from the table if it is there, else worked out and kept."""
    slot = find(s, depth, done, tried, opened)
    if slot < 0:
        return hindsight(k, s.w[depth], tried, opened, s.u[depth])
    if s.act[slot] == 0:
        enter(k, s, depth, slot, done, tried, opened)
    return s.high[slot]


@njit(cache=True)
def _teaches(k, w, c):
    """Whether an outcome of check ``c`` could change the belief."""
    for o in range(k.outcomes[c]):
        mass = 0.0
        for h in range(w.size):
            mass += w[h] * k.table[c, o, h]
        if mass > EPS:
            for h in range(w.size):
                if w[h] > EPS and abs(k.table[c, o, h] - mass) > TOL:
                    return True
    return False


@njit(cache=True)
def _repair_bound(k, s, depth, r, tried, opened, free):
    """Upper bound on trying repair ``r`` here; minus infinity where it could cure nothing.

    Where the free worth says more than hindsight, hindsight is not asked.
    """
    left, passed, moved = after_repair(k, r, s.w[depth], s.w[depth + 1])
    if moved <= EPS and (
        k.move_start[r + 1] > k.move_start[r] or (passed <= 0.0 and left >= 1.0 - EPS)
    ):
        return -np.inf
    if k.one_fault:
        return free
    cost = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened)
    rest = 0.0
    if left > EPS:
        rest = hindsight(
            k, s.w[depth + 1], tried | 1 << r, opened | k.repair_panels[r], s.u[depth + 1]
        )
    return min(free, passed - cost + rest)


@njit(cache=True)
def _place(s, depth, start, count, a, bound, fresh):
    """Put action ``a`` into the order of a frame, from place ``start`` on, by upper bound; returns the new count."""
    place = count
    while place > start and s.bound[depth, place - 1] < bound:
        s.bound[depth, place], s.order[depth, place] = (
            s.bound[depth, place - 1],
            s.order[depth, place - 1],
        )
        s.fresh[depth, place] = s.fresh[depth, place - 1]
        place -= 1
    s.bound[depth, place], s.order[depth, place], s.fresh[depth, place] = bound, a, fresh
    return count + 1


@njit(cache=True)
def rank(k, s, depth, losses, first):
    """List the useful actions of a frame's state by upper bound, largest first; returns how many.

    ``losses`` (R,) say how much less than the free worth each repair can earn when it comes first. Where one may as
    well come ``first`` whatever the outcomes and no panel is in the way, nothing else need be tried.
    """
    done, tried, opened = s.way[depth, DONE], s.way[depth, TRIED], s.way[depth, OPENED]
    checks, count, free = k.check_cost.size, 0, s.free[s.way[depth, SLOT]]
    for c in range(checks):
        if not done >> c & 1 and _teaches(k, s.w[depth], c):
            # opening on the way cannot gain more than it costs
            count = _place(s, depth, 0, count, c, free - k.check_cost[c], True)
    sure = panels_to_open(k, (1 << k.panel_cost.size) - 1, opened) == 0.0
    for r in range(k.repair_cost.size):
        if tried >> r & 1 or (s.twin[r] >= 0 and not tried >> s.twin[r] & 1):
            continue
        bound = _repair_bound(k, s, depth, r, tried, opened, free) - losses[r]
        if bound == -np.inf:
            continue
        if sure and first[r]:
            return _place(s, depth, 0, 0, checks + r, bound, True)
        count = _place(s, depth, 0, count, checks + r, bound, True)
    return count


@njit(cache=True)
def outcome_parts(k, s, depth, c, tried, opened):
    """Mass and upper bound of each outcome of check ``c``; returns the upper bound of all, before the check's cost."""
    w, total, done = s.w[depth], 0.0, s.way[depth, DONE] | 1 << c
    for o in range(k.outcomes[c]):
        mass = 0.0
        for h in range(w.size):
            mass += w[h] * k.table[c, o, h]
        s.part[depth, 0, o], s.part[depth, 1, o] = mass, 0.0
        if mass > EPS:
            to_outcome(k, s, depth, c, o)
            s.part[depth, 1, o] = mass * _high_of(k, s, depth + 1, done, tried, opened)
            total += s.part[depth, 1, o]
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
    if s.act[slot] == 0:
        enter(k, s, depth, slot, done, tried, opened)
    losses, first = np.zeros(k.repair_cost.size), np.zeros(k.repair_cost.size, np.bool_)
    if k.apart and s.high[slot] - s.low[slot] > TOL and s.high[slot] > sums[NEED]:
        free, charge, losses, first = informed(k, s.w[depth], done, tried, opened, True)
        s.high[slot] = max(s.low[slot], min(s.high[slot], free - charge))
    sums[LOW], sums[HIGH], way[BEST] = s.low[slot], s.high[slot], s.act[slot] - 1
    if (
        sums[HIGH] - sums[LOW] <= TOL
        or sums[HIGH] <= sums[NEED]
        or s.meter[NODES] >= s.meter[BUDGET]
    ):
        way[SLOT] = -1  # nothing new to write
        return
    way[COUNT] = rank(k, s, depth, losses, first)


@njit(cache=True)
def _begin_action(k, s, depth):
    """Set up the next action of a frame; False when no action left could matter.

    An action's bound is worked out in full when its turn comes; where another then promises more, that one goes first.
    """
    way, sums = s.way[depth], s.sums[depth]
    sums[WANTED] = max(sums[LOW], sums[NEED])
    while way[NEXT] < way[COUNT]:
        a, bound = s.order[depth, way[NEXT]], s.bound[depth, way[NEXT]]
        if bound <= sums[WANTED] + TOL:
            sums[REST] = max(sums[REST], bound)
            return False
        fresh = s.fresh[depth, way[NEXT]]
        way[NEXT] += 1
        found = min(bound, _set_up(k, s, depth, a))
        if fresh and way[NEXT] < way[COUNT] and found < s.bound[depth, way[NEXT]]:
            way[NEXT] -= 1
            shift = way[NEXT]
            for i in range(shift, way[COUNT] - 1):
                s.order[depth, i], s.bound[depth, i] = s.order[depth, i + 1], s.bound[depth, i + 1]
                s.fresh[depth, i] = s.fresh[depth, i + 1]
            _place(s, depth, shift, way[COUNT] - 1, a, found, False)
            continue
        way[CURRENT], way[OUTCOME] = a, -1
        return True
    return False


@njit(cache=True)
def _set_up(k, s, depth, a):
    """Make action ``a`` the one in hand of a frame; returns its upper bound from the states it leads to."""
    way, sums = s.way[depth], s.sums[depth]
    checks, opened, tried = k.check_cost.size, way[OPENED], way[TRIED]
    if a < checks:
        cost = k.check_cost[a] + panels_to_open(k, k.check_panels[a], opened)
        sums[GOT_HIGH] = outcome_parts(k, s, depth, a, tried, opened | k.check_panels[a]) - cost
        sums[GOT_LOW] = -cost
        return sums[GOT_HIGH]
    r = a - checks
    left, passed = to_failed(k, s, depth, r)
    sums[GOT_LOW] = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    sums[GOT_HIGH], sums[MASS] = sums[GOT_LOW], left
    if left <= EPS:
        return sums[GOT_LOW]
    return sums[GOT_LOW] + left * _high_of(
        k, s, depth + 1, way[DONE], tried | 1 << r, opened | k.repair_panels[r]
    )


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
        to_failed(k, s, depth, r)
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
        s.low[slot], s.high[slot], s.act[slot] = sums[LOW], sums[HIGH], way[BEST] + 1
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
