"""One step ahead of a state: every useful action with the bracket of each state it can lead to."""

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import (
    NO_REPAIR,
    chances_of_hazards,
    repair_is_barred,
    run_is_barred,
)
from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    check_opening,
    opened_after_failure,
    opened_by_check,
    opening_cost,
)
from counterpoise.reasoning.kernels.checking_policy import checking_policy_listed
from counterpoise.reasoning.kernels.clairvoyant_cache import (
    clairvoyant_row,
    expected_value,
    forget_rows,
)
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.concentration import (
    concentration,
    expected_concentration,
    list_support,
)
from counterpoise.reasoning.kernels.ratio_policy import list_belief, ratio_policy_listed
from counterpoise.reasoning.kernels.workspace import DEEPEST

SOURCE_DIGEST = "a7dea6d4091ab163"  # see the package

SAME = 1e-9  # outcomes whose chance differs less than this between hypotheses teach nothing
# Rows of clairvoyant values that are used over where all others are taken. Of the compiler's own
# kind of number: a plain one would be a type of its own, and all it is handed to compiled anew.
HERE, NEXT_STATE = np.int64(DEEPEST + 1), np.int64(DEEPEST + 2)


class Expansion(NamedTuple):
    """What each action a and outcome o leads to; a repair has one outcome, that its retest failed.

    ``fixed`` is what the action earns for certain: minus its cost, plus the value of a passed
    retest; minus infinity where it is useless.
    """

    mass: Floats  # (C + R, O) chance of each state
    low: Floats  # (C + R, O) its bracket
    high: Floats  # (C + R, O)
    fixed: Floats  # (C + R,)


@kernel_without_refcounts
def expand_node(k, w, state, width, reach, into, work):
    """Fill the :class:`Expansion` ``into`` of a state (done, tried, opened) with belief ``w`` (H,).

    The ``width`` most promising actions by their lower bound, and as many by what they tell for
    their cost, have their outcomes looked at with the policy that checks before it repairs, as far
    as the chance ``reach`` of coming to this state makes worthwhile.
    """
    done, tried, opened = state
    checks, repairs = k.check_cost.size, k.repair_cost.size
    into.mass[:] = 0.0
    into.fixed[:] = -np.inf
    forget_rows(work)
    # rows taken below may be used over, but not this one: it has a place of its own
    here = clairvoyant_row(k, tried, opened, HERE, work)
    count = list_belief(w, work.root_sets, work.root_weights)
    root = (work.root_sets[:count], work.root_weights[:count])
    barred, mass = False, 1.0
    if k.hazard_limit.size:
        mass = chances_of_hazards(k, root[0], root[1], work.ones, work.at_risk)
        barred = run_is_barred(k, work.at_risk, mass, tried, NO_REPAIR)
    # all actions roughly first, then the promising ones again, more closely
    for c in range(checks):
        if not done >> c & 1 and not (barred and k.check_runs[c]):
            _expand_check(k, root, c, state, 0.0, into, work)
    for r in range(repairs):
        # what waits while a hazard may be there stays useless here
        if not tried >> r & 1 and not repair_is_barred(k, r, work.at_risk, mass, tried):
            _expand_repair(k, w, r, state, 0.0, into, work)
    _mark_promising(k, w, work.best_repair[here], width, into, work)
    for a in range(into.fixed.size):
        if not work.chosen[a]:
            continue
        if a < checks:
            _expand_check(k, root, a, state, reach, into, work)
        else:
            _expand_repair(k, w, a - checks, state, reach, into, work)


@kernel_without_refcounts
def _mark_promising(k, w, best_repair, width, into, work):
    """Mark in ``work.chosen`` the actions worth most, and those that tell most for their cost.

    ``width`` of each kind.
    """
    checks, worth, telling, chosen = k.check_cost.size, work.worth, work.telling, work.chosen
    before = concentration(w, list_support(w, work.live), best_repair, work)
    worth[:] = -np.inf
    telling[:] = -np.inf
    chosen[:] = False
    for a in range(into.fixed.size):
        if into.fixed[a] == -np.inf:
            continue
        worth[a] = into.fixed[a]
        for o in range(into.mass.shape[1]):
            worth[a] += into.mass[a, o] * into.low[a, o]
        if a < checks:
            after = expected_concentration(k, w, a, before, best_repair, work)
            # minus what it earns for certain is what the check costs, opening included
            telling[a] = (after - before) / max(-into.fixed[a], EPS)
    _mark_best(width, worth, -np.inf, chosen)
    _mark_best(width, telling, SAME, chosen)


@kernel_without_refcounts
def _mark_best(count, scores, least, chosen):
    """Mark the ``count`` largest scores above ``least``; the scores are used up."""
    for _ in range(count):
        best, which = least, -1
        for a in range(scores.size):
            if scores[a] > best:
                best, which = scores[a], a
        if which < 0:
            return
        chosen[which], scores[which] = True, -np.inf


@kernel_without_refcounts
def _outcome_chances(k, root, c, mass):
    """Fill ``mass`` (O,) with the chance of each outcome; returns whether any teaches."""
    sets, weights = root
    teaches = False
    for o in range(k.outcomes[c]):
        row, part = k.table[c, o], 0.0
        for i in range(sets.size):
            part += weights[i] * row[sets[i]]
        mass[o] = part
        # an outcome teaches where it is likelier under some set than on average
        if part > EPS and not teaches:
            for i in range(sets.size):
                if weights[i] > EPS and abs(row[sets[i]] - part) > SAME:
                    teaches = True
                    break
    return teaches


@kernel_without_refcounts
def _expand_check(k, root, c, state, reach, into, work):
    """Fill the row of check ``c``.

    With a ``reach`` above 0 its outcomes are looked at by the checking policy.
    """
    done, tried, opened = state
    sets, weights = root
    mass, low, high = into.mass[c], into.low[c], into.high[c]
    now_open = opened_by_check(k, c, opened)
    opening = check_opening(k, c, opened)
    # no outcome could change the belief: the check stays useless
    if not _outcome_chances(k, root, c, mass):
        mass[:] = 0.0
        return
    into.fixed[c] = -k.check_cost[c] - opening
    values = work.values[clairvoyant_row(k, tried, now_open, NEXT_STATE, work)]
    left, parts = work.sets[0], work.beliefs[0]
    for o in range(k.outcomes[c]):
        if mass[o] <= EPS:
            mass[o] = 0.0
            continue
        # a plain 0 would be a type of its own, and all it is handed to compiled twice
        row, count = k.table[c, o], np.int64(0)
        for i in range(sets.size):
            part = weights[i] * row[sets[i]] / mass[o]
            if part > 0.0:
                left[count], parts[count] = sets[i], part
                count += 1
        # before the policy, which uses row 0 of the workspace for its own beliefs
        best = expected_value(values, left, parts, count)
        if reach > 0.0:
            after = (done | 1 << c, tried, now_open)
            low[o] = checking_policy_listed(k, count, after, reach * mass[o], work)[0]
        else:
            low[o] = ratio_policy_listed(k, left, parts, count, tried, now_open, work)[0]
        high[o] = max(low[o], best)


@kernel_without_refcounts
def _expand_repair(k, w, r, state, reach, into, work):
    """Fill the row of repair ``r``, left as it is where the repair could cure and prove nothing."""
    done, tried, opened = state
    now_tried, now_open = tried | 1 << r, opened_after_failure(k, r, opened)
    row = k.check_cost.size + r
    belief = work.left
    left, passed, moved = after_repair(k, r, w, belief)
    has_moves = k.move_start[r + 1] > k.move_start[r]
    # nothing to cure; the bare retest is still worth its price where something could pass
    if moved <= EPS and (has_moves or left >= 1.0 - EPS):
        return
    into.fixed[row] = passed - k.repair_cost[r] - opening_cost(k, k.repair_panels[r], opened)
    if left <= EPS:
        return
    into.mass[row, 0] = left
    sets, parts = work.sets[0], work.beliefs[0]
    count = list_belief(belief, sets, parts)
    for i in range(count):
        parts[i] /= left
    values = work.values[clairvoyant_row(k, now_tried, now_open, NEXT_STATE, work)]
    best = expected_value(values, sets, parts, count)
    if reach > 0.0:
        after = (done, now_tried, now_open)
        low = checking_policy_listed(k, count, after, reach * left, work)[0]
    else:
        low = ratio_policy_listed(k, sets, parts, count, now_tried, now_open, work)[0]
    into.low[row, 0], into.high[row, 0] = low, max(low, best)
