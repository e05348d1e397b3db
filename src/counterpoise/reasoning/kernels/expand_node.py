"""One step ahead of a state: every useful action with the bracket of each state it can lead to."""

import numpy as np

from counterpoise.reasoning.kernels.bounds import EPS, after_repair, panels_to_open
from counterpoise.reasoning.kernels.checking_policy import (
    insight,
    list_live,
    look_listed,
    sharpness,
)
from counterpoise.reasoning.kernels.clairvoyant_cache import expected, hope_row, make_room
from counterpoise.reasoning.kernels.ratio_policy import list_belief, repair_listed
from counterpoise.reasoning.kernels.workspace import DEEPEST, lean

SOURCE_DIGEST = "a71c957f208ca489"  # see the package

SAME = 1e-9  # outcomes whose chance differs less than this between hypotheses teach nothing


@lean
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
    count = list_belief(w, room.root_sets, room.root_weights)
    sets, weights = room.root_sets[:count], room.root_weights[:count]
    for c in range(checks):
        if not done >> c & 1:
            _one_check(k, sets, weights, c, state, 0.0, mass[c], low[c], high[c], fixed, room)
    for r in range(repairs):
        if not tried >> r & 1:
            _one_repair(
                k,
                w,
                r,
                state,
                0.0,
                mass[checks + r],
                low[checks + r],
                high[checks + r],
                fixed,
                room,
            )
    _promising(k, w, room.calls[here], keen, mass, low, fixed, room)
    for a in range(fixed.size):
        if not room.chosen[a]:
            continue
        if a < checks:
            _one_check(k, sets, weights, a, state, reach, mass[a], low[a], high[a], fixed, room)
        else:
            _one_repair(k, w, a - checks, state, reach, mass[a], low[a], high[a], fixed, room)


@lean
def _promising(k, w, calls, keen, mass, low, fixed, room):
    """Mark in ``room.chosen`` the ``keen`` actions worth most, and the checks that tell most for their cost."""
    checks, (worth, telling), chosen = k.check_cost.size, room.scores, room.chosen
    before = sharpness(w, list_live(w, room.live), calls, room)
    worth[:] = -np.inf
    telling[:] = -np.inf
    chosen[:] = False
    for a in range(fixed.size):
        if fixed[a] == -np.inf:
            continue
        worth[a] = fixed[a]
        for o in range(mass.shape[1]):
            worth[a] += mass[a, o] * low[a, o]
        if a < checks:
            telling[a] = (insight(k, w, a, before, calls, room) - before) / max(-fixed[a], EPS)
    _mark_best(keen, worth, -np.inf, chosen)
    _mark_best(keen, telling, SAME, chosen)


@lean
def _mark_best(count, scores, least, chosen):
    """Mark the ``count`` largest scores, but none that is not above ``least``; the scores are used up."""
    for _ in range(count):
        best, which = least, -1
        for a in range(scores.size):
            if scores[a] > best:
                best, which = scores[a], a
        if which < 0:
            return
        chosen[which], scores[which] = True, -np.inf


@lean
def _chances(k, sets, weights, c, mass):
    """Fill ``mass`` (O,) with the chance of each outcome of a check; returns whether any of them teaches something."""
    teaches = False
    for o in range(k.outcomes[c]):
        row, part = k.table[c, o], 0.0
        for i in range(sets.size):
            part += weights[i] * row[sets[i]]
        mass[o] = part
        if part > EPS and not teaches:
            for i in range(sets.size):
                if weights[i] > EPS and abs(row[sets[i]] - part) > SAME:
                    teaches = True
                    break
    return teaches


@lean
def _one_check(k, sets, weights, c, state, reach, mass, low, high, fixed, room):
    done, tried, opened = state
    now_open = opened | k.check_panels[c]
    opening = panels_to_open(k, k.check_panels[c], opened)
    if not _chances(k, sets, weights, c, mass):
        mass[:] = 0.0
        return
    fixed[c] = -k.check_cost[c] - opening
    values = room.values[hope_row(k, tried, now_open, DEEPEST + 2, room)]
    left, parts = room.sets[0], room.beliefs[0]
    for o in range(k.outcomes[c]):
        if mass[o] <= EPS:
            mass[o] = 0.0
            continue
        row, count = k.table[c, o], 0
        for i in range(sets.size):
            part = weights[i] * row[sets[i]] / mass[o]
            if part > 0.0:
                left[count], parts[count] = sets[i], part
                count += 1
        best = expected(values, left, parts, count)
        if reach > 0.0:
            low[o] = look_listed(k, count, (done | 1 << c, tried, now_open), reach * mass[o], room)[
                0
            ]
        else:
            low[o] = repair_listed(k, left, parts, count, tried, now_open, room)[0]
        high[o] = max(low[o], best)


@lean
def _one_repair(k, w, r, state, reach, mass, low, high, fixed, room):
    done, tried, opened = state
    now_tried, now_open = tried | 1 << r, opened | k.repair_panels[r]
    belief = room.left
    left, passed, moved = after_repair(k, r, w, belief)
    has_moves = k.move_start[r + 1] > k.move_start[r]
    if moved <= EPS and (has_moves or left >= 1.0 - EPS):
        return
    fixed[k.check_cost.size + r] = (
        passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    )
    if left <= EPS:
        return
    mass[0] = left
    sets, parts = room.sets[0], room.beliefs[0]
    count = list_belief(belief, sets, parts)
    for i in range(count):
        parts[i] /= left
    best = expected(
        room.values[hope_row(k, now_tried, now_open, DEEPEST + 2, room)], sets, parts, count
    )
    if reach > 0.0:
        low[0] = look_listed(k, count, (done, now_tried, now_open), reach * left, room)[0]
    else:
        low[0] = repair_listed(k, sets, parts, count, now_tried, now_open, room)[0]
    high[0] = max(low[0], best)
