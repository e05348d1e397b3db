"""One step ahead of a state: every useful action with the bracket of each state it can lead to."""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, after_repair, hindsight, panels_to_open, plain_policy

SAME = 1e-9  # outcomes whose chance differs less than this between hypotheses teach nothing


@njit(cache=True, nogil=True)
def expand(k, w, state, mass, low, high, fixed, scratch, chain):
    """Fill, for each action a and outcome o, the mass and bracket of the state it leads to.

    ``state`` is (done, tried, opened). ``mass``, ``low``, ``high`` are (C + R, O); ``fixed`` (C + R,) is what the
    action earns for certain (minus its cost, plus the value of a passed retest), minus infinity where it is useless.
    A repair has one outcome, that the retest failed. ``scratch`` is (4, H).
    """
    done, tried, opened = state
    checks = k.check_cost.size
    mass[:] = 0.0
    hindsight(k, w, tried, opened, scratch[3])
    for c in range(checks):
        fixed[c] = -np.inf
        if not done >> c & 1:
            _one_check(k, w, c, (tried, opened), mass[c], low[c], high[c], fixed, scratch, chain)
    for r in range(k.repair_cost.size):
        a = checks + r
        fixed[a] = -np.inf
        if not tried >> r & 1:
            _one_repair(k, w, r, (tried, opened), mass[a], low[a], high[a], fixed, scratch, chain)


@njit(cache=True, nogil=True)
def _one_check(k, w, c, state, mass, low, high, fixed, scratch, chain):
    tried, opened = state
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
        return
    fixed[c] = -k.check_cost[c] - opening
    if opening > 0.0:
        values = scratch[2]
        hindsight(k, w, tried, now_open, values)
    else:
        values = scratch[3]
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
        low[o] = plain_policy(k, belief, tried, now_open, scratch[:2], chain)[0]
        high[o] = max(low[o], best)


@njit(cache=True, nogil=True)
def _one_repair(k, w, r, state, mass, low, high, fixed, scratch, chain):
    tried, opened = state
    now_tried, now_open = tried | 1 << r, opened | k.repair_panels[r]
    belief = np.empty(w.size)
    left, passed, moved = after_repair(k, r, w, belief)
    has_moves = k.move_start[r + 1] > k.move_start[r]
    if moved <= EPS and (has_moves or passed <= 0.0):
        return
    fixed[k.check_cost.size + r] = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    if left <= EPS:
        return
    mass[0] = left
    for h in range(w.size):
        belief[h] /= left
    low[0] = plain_policy(k, belief, now_tried, now_open, scratch[:2], chain)[0]
    high[0] = max(low[0], hindsight(k, belief, now_tried, now_open, scratch[2]))
