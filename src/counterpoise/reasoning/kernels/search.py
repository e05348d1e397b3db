"""AND/OR search with memoised states and admissible bounds, depth first.

Each state keeps a lower and an upper bound on its worth. A state is searched only as far as is
needed to show that it is worth no more than ``need``, or to know it exactly; so what it returns is
always a valid bracket.
"""

import numpy as np

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    check_opening,
    hindsight,
    opened_after_failure,
    opened_by_check,
    opening_cost,
)
from counterpoise.reasoning.kernels.compilation import kernel
from counterpoise.reasoning.kernels.dense_ratio_policy import dense_ratio_policy
from counterpoise.reasoning.kernels.free_checks_bound import free_checks_bound
from counterpoise.reasoning.kernels.search_actions import (
    TOL,
    add_state,
    bound_outcomes,
    insert_action,
    rank_actions,
    to_failed,
    to_outcome,
    upper_bound,
)
from counterpoise.reasoning.kernels.search_workspace import (
    BEST,
    BUDGET,
    COUNT,
    CURRENT,
    DONE,
    GOT_HIGH,
    GOT_LOW,
    HIGH,
    LOW,
    MASS,
    NEED,
    NEXT,
    NODES,
    OPENED,
    OUTCOME,
    REST,
    SLOT,
    TRIED,
    WANTED,
    find_slot,
)

SOURCE_DIGEST = "b308fb985a54e6ab"  # see the package


@kernel
def _open_frame(k, s, depth):
    """Look the state of a frame up, or enter it; closes the frame where its bracket will do."""
    frame, sums, w = s.frames[depth], s.sums[depth], s.w[depth]
    done, tried, opened = frame[DONE], frame[TRIED], frame[OPENED]
    slot = find_slot(s, depth, done, tried, opened)
    frame[SLOT], frame[COUNT], frame[NEXT], frame[CURRENT] = slot, 0, 0, -1
    sums[REST] = -np.inf
    # the table is full: the state gets a bracket, and no place
    if slot < 0:
        low, _, _ = dense_ratio_policy(k, w, tried, opened, s.scratch, s.chain)
        high = hindsight(k, w, tried, opened, s.hindsight[depth])
        sums[LOW], sums[HIGH] = low, max(low, high)
        return
    if s.act[slot] == 0:
        add_state(k, s, depth, slot, done, tried, opened)
    losses, first = np.zeros(k.repair_cost.size), np.zeros(k.repair_cost.size, np.bool_)
    if k.separable and s.high[slot] - s.low[slot] > TOL and s.high[slot] > sums[NEED]:
        free, charge, losses, first = free_checks_bound(k, w, done, tried, opened, True)
        # the charge holds under this belief whatever the way here, so it is kept
        s.high[slot] = max(s.low[slot], min(s.high[slot], free - charge))
    sums[LOW], sums[HIGH], frame[BEST] = s.low[slot], s.high[slot], s.act[slot] - 1
    if (
        sums[HIGH] - sums[LOW] <= TOL
        or sums[HIGH] <= sums[NEED]
        or s.meter[NODES] >= s.meter[BUDGET]
    ):
        frame[SLOT] = -1  # nothing new to write
        return
    frame[COUNT] = rank_actions(k, s, depth, losses, first)


@kernel
def _begin_action(k, s, depth):
    """Set up the next action of a frame; False when no action left could matter.

    An action's bound is worked out in full when its turn comes; where another then promises more,
    that one goes first.
    """
    frame, sums = s.frames[depth], s.sums[depth]
    sums[WANTED] = max(sums[LOW], sums[NEED])
    while frame[NEXT] < frame[COUNT]:
        a, bound = s.order[depth, frame[NEXT]], s.bound[depth, frame[NEXT]]
        # the actions come by falling bound, so no later one matters either
        if bound <= sums[WANTED] + TOL:
            sums[REST] = max(sums[REST], bound)
            return False
        fresh = s.fresh[depth, frame[NEXT]]
        frame[NEXT] += 1
        full_bound = min(bound, _set_up(k, s, depth, a))
        if fresh and frame[NEXT] < frame[COUNT] and full_bound < s.bound[depth, frame[NEXT]]:
            frame[NEXT] -= 1
            start = frame[NEXT]
            for i in range(start, frame[COUNT] - 1):
                s.order[depth, i], s.bound[depth, i] = s.order[depth, i + 1], s.bound[depth, i + 1]
                s.fresh[depth, i] = s.fresh[depth, i + 1]
            insert_action(s, depth, start, frame[COUNT] - 1, a, full_bound, False)
            continue
        frame[CURRENT], frame[OUTCOME] = a, -1
        return True
    return False


@kernel
def _set_up(k, s, depth, a):
    """Make action ``a`` the one in hand; returns its bound from the states it leads to."""
    frame, sums = s.frames[depth], s.sums[depth]
    checks, opened, tried = k.check_cost.size, frame[OPENED], frame[TRIED]
    if a < checks:
        cost, now_open = (
            k.check_cost[a] + check_opening(k, a, opened),
            opened_by_check(k, a, opened),
        )
        sums[GOT_HIGH] = bound_outcomes(k, s, depth, a, tried, now_open) - cost
        sums[GOT_LOW] = -cost
        return sums[GOT_HIGH]
    r = a - checks
    # a repair is worth what it is sure to earn, and the state where its retest failed
    left, passed = to_failed(k, s, depth, r)
    sums[GOT_LOW] = passed - k.repair_cost[r] - opening_cost(k, k.repair_panels[r], opened)
    sums[GOT_HIGH], sums[MASS] = sums[GOT_LOW], left
    if left <= EPS:
        return sums[GOT_LOW]
    now_tried, now_open = tried | 1 << r, opened_after_failure(k, r, opened)
    return sums[GOT_LOW] + left * upper_bound(k, s, depth + 1, frame[DONE], now_tried, now_open)


@kernel
def _next_child(k, s, depth):
    """Prepare the next state to look into for the action in hand; False when the action is settled.

    A state need be looked into only as far as it could lift the action above what is wanted.
    """
    frame, sums, checks = s.frames[depth], s.sums[depth], k.check_cost.size
    a = frame[CURRENT]
    child, into = s.frames[depth + 1], s.sums[depth + 1]
    child[DONE], child[TRIED] = frame[DONE], frame[TRIED]
    if a >= checks:
        r = a - checks
        if frame[OUTCOME] >= 0 or sums[MASS] <= EPS:
            return False
        frame[OUTCOME] = 0
        child[TRIED] |= 1 << r
        child[OPENED] = opened_after_failure(k, r, frame[OPENED])
        to_failed(k, s, depth, r)
        into[NEED] = (sums[WANTED] - sums[GOT_HIGH]) / sums[MASS]
        return True
    while frame[OUTCOME] + 1 < k.outcomes[a]:
        frame[OUTCOME] += 1
        o = frame[OUTCOME]
        mass = s.outcome_mass[depth, o]
        if mass > EPS:
            to_outcome(k, s, depth, a, o)
            child[DONE] |= 1 << a
            child[OPENED] = opened_by_check(k, a, frame[OPENED])
            sums[MASS] = mass
            into[NEED] = (sums[WANTED] - sums[GOT_HIGH] + s.outcome_bound[depth, o]) / mass
            return True
    return False


@kernel
def _absorb(k, s, depth, low, high):
    """Add what a state looked into is worth to the action in hand of the frame above it."""
    frame, sums = s.frames[depth], s.sums[depth]
    a, mass = frame[CURRENT], sums[MASS]
    if a >= k.check_cost.size:
        sums[GOT_LOW] += mass * low
        sums[GOT_HIGH] += mass * high
        return
    # the outcome's bound was counted in full; what it fell short of it is taken off
    expected = s.outcome_bound[depth, frame[OUTCOME]]
    sums[GOT_LOW] += mass * low
    sums[GOT_HIGH] += min(mass * high, expected) - expected
    # the check can no longer be the best: leave it
    if sums[GOT_HIGH] <= sums[WANTED] + TOL:
        sums[GOT_LOW] = -np.inf
        frame[OUTCOME] = k.outcomes[a]


@kernel
def _advance(k, s, depth):
    """Work on a frame until it needs a state looked into (True) or is finished (False)."""
    frame, sums = s.frames[depth], s.sums[depth]
    while frame[COUNT] > 0:
        if frame[CURRENT] >= 0:
            if _next_child(k, s, depth):
                return True
            if sums[GOT_LOW] > sums[LOW] + EPS:
                sums[LOW], frame[BEST] = sums[GOT_LOW], frame[CURRENT]
            sums[REST] = max(sums[REST], sums[GOT_HIGH])
            frame[CURRENT] = -1
        if not _begin_action(k, s, depth):
            break
    slot = frame[SLOT]
    if slot >= 0:
        # nothing left that could do better than the best action and its bound
        high = min(sums[HIGH], sums[REST]) if sums[REST] > -np.inf else sums[LOW]
        sums[HIGH] = max(sums[LOW], high)
        s.low[slot], s.high[slot], s.act[slot] = sums[LOW], sums[HIGH], frame[BEST] + 1
    return False


@kernel
def solve(k, s, depth, done, tried, opened, need):
    """Bracket (low, high) of the state in row ``depth``.

    Exact, or with high <= ``need``, or as far as the budget of states went.
    """
    top = depth
    frame = s.frames[depth]
    frame[DONE], frame[TRIED], frame[OPENED] = done, tried, opened
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
