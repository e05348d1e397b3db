"""What a state of the exact search can do: first bracket, actions by bound, where they lead."""

import numpy as np

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    hindsight,
    opened_after_failure,
    opening_cost,
)
from counterpoise.reasoning.kernels.compilation import kernel
from counterpoise.reasoning.kernels.dense_ratio_policy import dense_ratio_policy
from counterpoise.reasoning.kernels.free_checks_bound import free_checks_bound
from counterpoise.reasoning.kernels.search_workspace import (
    DONE,
    NODES,
    OPENED,
    SLOT,
    TRIED,
    find_slot,
)

SOURCE_DIGEST = "daa5ca6a8574ded4"  # see the package

TOL = 1e-9  # brackets narrower than this are closed


@kernel
def add_state(k, s, depth, slot, done, tried, opened):
    """Give a fresh state its first bracket, and the first action of the policy below it."""
    checks, repairs = k.check_cost.size, k.repair_cost.size
    value, first, ending = dense_ratio_policy(k, s.w[depth], tried, opened, s.scratch, s.chain)
    s.low[slot] = value
    s.act[slot] = 1 + (checks + first if first >= 0 else checks + repairs + max(ending, 0))
    s.free[slot] = hindsight(k, s.w[depth], tried, opened, s.hindsight[depth])
    if k.one_fault:
        free = free_checks_bound(k, s.w[depth], done, tried, opened, False)[0]
        s.free[slot] = min(s.free[slot], free)
    # rounding could put the bound below what the policy earns
    s.high[slot] = max(value, s.free[slot])
    s.meter[NODES] += 1


@kernel
def upper_bound(k, s, depth, done, tried, opened):
    """Upper bound on the state in row ``depth``: from the table, or worked out and kept."""
    slot = find_slot(s, depth, done, tried, opened)
    if slot < 0:
        return hindsight(k, s.w[depth], tried, opened, s.hindsight[depth])
    # states are entered when their bound is first asked for, not when they are searched
    if s.act[slot] == 0:
        add_state(k, s, depth, slot, done, tried, opened)
    return s.high[slot]


@kernel
def _informative(k, w, c):
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


@kernel
def _repair_bound(k, s, depth, r, tried, opened, free):
    """Upper bound on trying repair ``r`` here; minus infinity where it could cure nothing.

    Where the free worth says more than hindsight, hindsight is not asked.
    """
    left, passed, moved = after_repair(k, r, s.w[depth], s.w[depth + 1])
    # a repair without cures still proves, where nothing may be wrong
    if moved <= EPS and (
        k.move_start[r + 1] > k.move_start[r] or (passed <= 0.0 and left >= 1.0 - EPS)
    ):
        return -np.inf
    if k.one_fault:
        return free
    cost = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)
    rest = 0.0
    if left > EPS:
        now_open = opened_after_failure(k, r, opened)
        rest = hindsight(k, s.w[depth + 1], tried | 1 << r, now_open, s.hindsight[depth + 1])
    return min(free, passed - cost + rest)


@kernel
def insert_action(s, depth, start, count, a, bound, fresh):
    """Put an action into a frame's order by its bound, from place ``start``; returns the count."""
    place = count
    while place > start and s.bound[depth, place - 1] < bound:
        s.bound[depth, place] = s.bound[depth, place - 1]
        s.order[depth, place] = s.order[depth, place - 1]
        s.fresh[depth, place] = s.fresh[depth, place - 1]
        place -= 1
    s.bound[depth, place], s.order[depth, place], s.fresh[depth, place] = bound, a, fresh
    return count + 1


@kernel
def rank_actions(k, s, depth, losses, first):
    """List the useful actions of a frame's state by upper bound, largest first; returns how many.

    ``losses`` (R,) say how much less than the free worth each repair can earn when it comes first.
    Where one may as well come ``first`` whatever the outcomes and no panel is in the way, nothing
    else need be tried.
    """
    frame = s.frames[depth]
    done, tried, opened = frame[DONE], frame[TRIED], frame[OPENED]
    checks, count, free = k.check_cost.size, 0, s.free[frame[SLOT]]
    for c in range(checks):
        if not done >> c & 1 and _informative(k, s.w[depth], c):
            # opening on the way cannot gain more than it costs
            # no outcome looked into yet: the free worth less the price
            count = insert_action(s, depth, 0, count, c, free - k.check_cost[c], True)
    # where a retest shuts the panels, what is open now is in the way of the next repair
    sure = opening_cost(k, (1 << k.panel_cost.size) - 1, opened & k.retest_keeps) == 0.0
    for r in range(k.repair_cost.size):
        # of twins only the first is tried: the other would earn the same
        if tried >> r & 1 or (s.twin[r] >= 0 and not tried >> s.twin[r] & 1):
            continue
        bound = _repair_bound(k, s, depth, r, tried, opened, free) - losses[r]
        if bound == -np.inf:
            continue
        if sure and first[r]:
            return insert_action(s, depth, 0, 0, checks + r, bound, True)
        count = insert_action(s, depth, 0, count, checks + r, bound, True)
    return count


@kernel
def bound_outcomes(k, s, depth, c, tried, opened):
    """Chance and upper bound of each outcome of check ``c``; returns their sum, before the cost."""
    w, total, done = s.w[depth], 0.0, s.frames[depth, DONE] | 1 << c
    for o in range(k.outcomes[c]):
        mass = 0.0
        for h in range(w.size):
            mass += w[h] * k.table[c, o, h]
        s.outcome_mass[depth, o], s.outcome_bound[depth, o] = mass, 0.0
        # an outcome that cannot come has no belief after it
        if mass > EPS:
            to_outcome(k, s, depth, c, o)
            s.outcome_bound[depth, o] = mass * upper_bound(k, s, depth + 1, done, tried, opened)
            total += s.outcome_bound[depth, o]
    return total


@kernel
def to_outcome(k, s, depth, c, o):
    """Write the belief after outcome ``o`` of check ``c`` one row deeper."""
    mass = s.outcome_mass[depth, o]
    for h in range(s.w.shape[1]):
        s.w[depth + 1, h] = s.w[depth, h] * k.table[c, o, h] / mass


@kernel
def to_failed(k, s, depth, r):
    """Write the belief after repair ``r`` failed one row deeper.

    Returns (mass left, value of passing).
    """
    left, passed, _ = after_repair(k, r, s.w[depth], s.w[depth + 1])
    if left > EPS:
        for h in range(s.w.shape[1]):
            s.w[depth + 1, h] /= left
    return left, passed
