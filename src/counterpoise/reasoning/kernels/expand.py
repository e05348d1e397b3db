"""One step ahead of a state: every useful action with the bracket of each state it can lead to."""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, after_repair, panels_to_open
from counterpoise.reasoning.kernels.hope import expected, hope_row, make_room
from counterpoise.reasoning.kernels.probe import insight, list_live, looking_policy, sharpness
from counterpoise.reasoning.kernels.repairing import repair_by_ratio
from counterpoise.reasoning.kernels.room import DEEPEST

DRAWS_ON = "9d627a5fcee21113"  # see the package

SAME = 1e-9  # outcomes whose chance differs less than this between hypotheses teach nothing


@njit(cache=True, nogil=True)
def expand(k, w, state, keen, reach, mass, low, high, fixed, room):
    """Fill, for each action a and outcome o, the mass and bracket of the state it leads to.

    ``state`` is (done, tried, opened). ``mass``, ``low``, ``high`` are (C + R, O); ``fixed`` (C + R,) is what the
    action earns for certain (minus its cost, plus the value of a passed retest), minus infinity where it is useless.
    A repair has one outcome, that the retest failed. The ``keen`` most promising actions by their lower bound, and as
    many by insight over cost, have their outcomes looked at with the policy that checks before it repairs, as far as
    the chance ``reach`` of coming to this state makes worthwhile.
    """
    done, tried, opened = state
    checks, repairs = k.check_cost.size, k.repair_cost.size
    mass[:] = 0.0
    fixed[:] = -np.inf
    make_room(room)
    here = hope_row(k, tried, opened, DEEPEST + 1, room)
    for c in range(checks):
        if not done >> c & 1:
            _one_check(k, w, c, state, 0.0, mass[c], low[c], high[c], fixed, room)
    for r in range(repairs):
        if not tried >> r & 1:
            _one_repair(k, w, r, state, 0.0, mass[checks + r], low[checks + r], high[checks + r], fixed, room)
    for a in _promising(k, w, room.calls[here], keen, mass, low, fixed, room):
        if a < checks:
            _one_check(k, w, a, state, reach, mass[a], low[a], high[a], fixed, room)
        else:
            _one_repair(k, w, a - checks, state, reach, mass[a], low[a], high[a], fixed, room)


@njit(cache=True, nogil=True)
def _promising(k, w, calls, keen, mass, low, fixed, room):
    checks, actions = k.check_cost.size, fixed.size
    worth, telling = np.full(actions, -np.inf), np.full(actions, -np.inf)
    count = list_live(w, room.live)
    before = sharpness(w, count, calls, room)
    for a in range(actions):
        if fixed[a] == -np.inf:
            continue
        worth[a] = fixed[a]
        for o in range(mass.shape[1]):
            worth[a] += mass[a, o] * low[a, o]
        if a < checks:
            telling[a] = (insight(k, w, a, before, calls, room) - before) / max(-fixed[a], EPS)
    chosen = np.zeros(actions, dtype=np.bool_)
    by_worth, by_telling = np.argsort(-worth), np.argsort(-telling)
    for i in range(min(keen, actions)):
        if worth[by_worth[i]] > -np.inf:
            chosen[by_worth[i]] = True
        if telling[by_telling[i]] > SAME:
            chosen[by_telling[i]] = True
    return np.flatnonzero(chosen)


@njit(cache=True, nogil=True)
def _one_check(k, w, c, state, reach, mass, low, high, fixed, room):
    done, tried, opened = state
    now_open = opened | k.check_panels[c]
    opening = panels_to_open(k, k.check_panels[c], opened)
    teaches = False
    for o in range(k.outcomes[c]):
        part = 0.0
        for h in range(w.size):
            part += w[h] * k.table[c, o, h]
        mass[o] = part
        if part > EPS and not teaches:
            for h in range(w.size):
                if w[h] > EPS and abs(k.table[c, o, h] - part) > SAME:
                    teaches = True
                    break
    if not teaches:
        mass[:] = 0.0
        return
    fixed[c] = -k.check_cost[c] - opening
    values = room.values[hope_row(k, tried, now_open, DEEPEST + 2, room)]
    belief = np.empty(w.size)
    for o in range(k.outcomes[c]):
        if mass[o] <= EPS:
            mass[o] = 0.0
            continue
        best = 0.0
        for h in range(w.size):
            belief[h] = w[h] * k.table[c, o, h] / mass[o]
            if belief[h] > 0.0:
                best += belief[h] * values[h]
        if reach > 0.0:
            low[o] = looking_policy(k, belief, (done | 1 << c, tried, now_open), reach * mass[o], room)[0]
        else:
            low[o] = repair_by_ratio(k, belief, tried, now_open, room)[0]
        high[o] = max(low[o], best)


@njit(cache=True, nogil=True)
def _one_repair(k, w, r, state, reach, mass, low, high, fixed, room):
    done, tried, opened = state
    now_tried, now_open = tried | 1 << r, opened | k.repair_panels[r]
    belief = np.empty(w.size)
    left, passed, moved = after_repair(k, r, w, belief)
    has_moves = k.move_start[r + 1] > k.move_start[r]
    if moved <= EPS and (has_moves or left >= 1.0 - EPS):
        return
    fixed[k.check_cost.size + r] = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    if left <= EPS:
        return
    mass[0] = left
    for h in range(w.size):
        belief[h] /= left
    best = expected(belief, room.values[hope_row(k, now_tried, now_open, DEEPEST + 2, room)])
    if reach > 0.0:
        low[0] = looking_policy(k, belief, (done, now_tried, now_open), reach * left, room)[0]
    else:
        low[0] = repair_by_ratio(k, belief, now_tried, now_open, room)[0]
    high[0] = max(low[0], best)
