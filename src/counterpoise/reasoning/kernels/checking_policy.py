"""A policy that looks before it repairs: checks chosen by what they tell about the best repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too
faint to follow, which is charged as if it went as badly as it can) and is a lower bound that
repairing by ratio cannot reach.
"""

import numpy as np

from counterpoise.reasoning.kernels.arrays import NO_REPAIR, chances_of_hazards, run_is_barred
from counterpoise.reasoning.kernels.bounds import EPS, check_opening, opened_by_check
from counterpoise.reasoning.kernels.clairvoyant_cache import clairvoyant_row, expected_value
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.concentration import (
    concentration_listed,
    expected_concentration,
)
from counterpoise.reasoning.kernels.ratio_policy import list_belief, ratio_policy_listed
from counterpoise.reasoning.kernels.workspace import (
    CHECK,
    DEEPEST,
    DONE,
    IDLE_CHECKS,
    LISTED,
    NEXT,
    OPENED,
    PART,
    RATIO_ACT,
    RATIO_WORTH,
    REACH,
    ROW,
    SO_FAR,
    TRIED,
)

SOURCE_DIGEST = "18428c3841a8fae9"  # see the package

THIN = 0.015  # a branch less likely than this is left to repairing by ratio
DECIDED = 1e-3  # the best repair counts as known when nothing else is this likely
IDLE = 0.002  # a check that settles less than this share of the doubt is idle further down
FAINT = 1e-6  # belief below this is dropped, and charged as if it went as badly as it can


@kernel_without_refcounts
def _clearing_check(k, depth, at_stake, work):
    """The check that most likely clears the way for a run, for its cost, or -1; and how likely.

    Returns (chance over cost, check). None whose share of what is at stake does not exceed its
    cost.
    """
    frame, best, which = work.frames[depth], 0.0, -1
    sets, weights = work.sets[depth], work.beliefs[depth][: frame[LISTED]]
    for c in k.clearing:
        cost = k.check_cost[c] + check_opening(k, c, frame[OPENED])
        if frame[DONE] >> c & 1 or cost >= at_stake:
            continue
        cleared = 0.0
        for o in range(k.outcomes[c]):
            mass = chances_of_hazards(k, sets, weights, k.table[c, o], work.at_risk)
            if mass > EPS and not run_is_barred(k, work.at_risk, mass, frame[TRIED], NO_REPAIR):
                cleared += mass
        if cleared * at_stake > cost and cleared / max(cost, EPS) > best:
            best, which = cleared / max(cost, EPS), c
    return best, which


@kernel_without_refcounts
def _best_check(k, depth, at_stake, work):
    """The check that settles most for its cost, or -1 where none is worth its cost.

    Worth it is one whose share of what is at stake exceeds its cost. The frame then also says which
    checks need not be looked at again further down: done, or telling next to nothing.
    """
    frame = work.frames[depth]
    best_repair = work.best_repair[frame[ROW]]
    sets, weights, count, w = work.sets[depth], work.beliefs[depth], frame[LISTED], work.dense
    before = concentration_listed(sets, weights, count, best_repair, work)
    best, which, barred = 0.0, -1, False
    if k.hazard_limit.size:
        mass = chances_of_hazards(k, sets, weights[:count], work.ones, work.at_risk)
        barred = run_is_barred(k, work.at_risk, mass, frame[TRIED], NO_REPAIR)
    # what stands in the way of a run is cleared first, or nothing could be proved
    if barred:
        best, which = _clearing_check(k, depth, at_stake, work)
    # the best repair is known: no check can change it
    if before > 1.0 - DECIDED:
        return which
    # what a check tells is summed over sets that deviate, which wants the belief by set
    for i in range(count):
        w[sets[i]] = weights[i]
    idle, opened = frame[DONE] | frame[IDLE_CHECKS], frame[OPENED]
    # cheapest first, so that dear checks are soon beyond winning
    for c in work.tables.order:
        if idle >> c & 1 or (barred and k.check_runs[c]):
            continue
        cost = k.check_cost[c] + check_opening(k, c, opened)
        # at most all of the doubt is settled, so such a check could not win
        if cost >= at_stake or best * cost >= 1.0:
            continue
        after = expected_concentration(k, w, c, before, best_repair, work)
        settled = (after - before) / (1.0 - before)
        # further down it would hardly settle more, and asking takes time
        if settled < IDLE:
            frame[IDLE_CHECKS] |= 1 << c
        elif settled * at_stake > cost and settled / max(cost, EPS) > best:
            best, which = settled / max(cost, EPS), c
    # the dense belief is all zero again, as the next call expects it
    for i in range(count):
        w[sets[i]] = 0.0
    return which


@kernel_without_refcounts
def _arrive(k, depth, work):
    """Open the frame of the belief in row ``depth``.

    It then holds what repairing by ratio earns, and the check to do, if any pays.
    """
    frames, sums, sets, weights = work.frames, work.sums, work.sets[depth], work.beliefs[depth]
    tried, opened, count = frames[depth, TRIED], frames[depth, OPENED], frames[depth, LISTED]
    plain, first, ending = ratio_policy_listed(k, sets, weights, count, tried, opened, work)
    checks = k.check_cost.size
    frames[depth, CHECK], frames[depth, NEXT] = -1, 0
    stop = checks + k.repair_cost.size + max(ending, 0)
    frames[depth, RATIO_ACT] = checks + first if first >= 0 else stop
    sums[depth, RATIO_WORTH] = plain
    # a branch hardly ever come to is not worth a look
    if sums[depth, REACH] < THIN or depth >= DEEPEST:
        return
    row = clairvoyant_row(k, tried, opened, depth, work)
    frames[depth, ROW] = row
    at_stake = expected_value(work.values[row], sets, weights, count) - plain
    # perfect information would earn no more than repairing by ratio
    if at_stake <= EPS:
        return
    c = _best_check(k, depth, at_stake, work)
    frames[depth, CHECK] = c
    if c >= 0:
        sums[depth, SO_FAR] = -k.check_cost[c] - check_opening(k, c, opened)


@kernel_without_refcounts
def _part(row, depth, reach, forced, work):
    """List one row deeper what is left of a belief after an outcome.

    Returns (sets, mass, mass dropped); ``row`` (H,) is the outcome's chance under each set. Where
    repairing must go on, the faintest fault still has its repair tried, at the cost of all that is
    left, and nothing is dropped.
    """
    sets, weights, below, parts = (
        work.sets[depth],
        work.beliefs[depth],
        work.sets[depth + 1],
        work.beliefs[depth + 1],
    )
    kept, part, faint = 0, 0.0, 0.0
    for i in range(work.frames[depth, LISTED]):
        weight = weights[i] * row[sets[i]]
        # what is charged instead is so small that the bound hardly suffers
        if weight * reach < FAINT and not forced:
            faint += weight
        elif weight > 0.0:
            below[kept], parts[kept] = sets[i], weight
            part += weight
            kept += 1
    if part > EPS:
        scale = 1.0 / part
        for i in range(kept):
            parts[i] *= scale
    return kept, part, faint


@kernel_without_refcounts
def _descend(k, depth, work):
    """Write the belief after the frame's next outcome one row deeper; False when none is left."""
    frames, sums = work.frames, work.sums
    c = frames[depth, CHECK]
    # impossible outcomes are passed over
    while frames[depth, NEXT] < k.outcomes[c]:
        o = frames[depth, NEXT]
        frames[depth, NEXT] += 1
        kept, part, faint = _part(k.table[c, o], depth, sums[depth, REACH], k.forced, work)
        if faint > 0.0:
            worst = abs(sums[depth, RATIO_WORTH]) + k.pass_value[0] + k.check_cost.sum()
            sums[depth, SO_FAR] -= faint * worst
        if part > EPS:
            sums[depth, PART], sums[depth + 1, REACH] = part, sums[depth, REACH] * part
            frames[depth + 1, DONE] = frames[depth, DONE] | 1 << c
            frames[depth + 1, TRIED] = frames[depth, TRIED]
            frames[depth + 1, OPENED] = opened_by_check(k, c, frames[depth, OPENED])
            frames[depth + 1, IDLE_CHECKS] = frames[depth, IDLE_CHECKS]
            frames[depth + 1, LISTED] = kept
            return True
    return False


@kernel_without_refcounts
def checking_policy_listed(k, count, state, mass, work):
    """As :func:`checking_policy`, of the belief of ``count`` sets listed in row 0."""
    frames, sums = work.frames, work.sums
    frames[0, DONE], frames[0, TRIED], frames[0, OPENED] = state
    frames[0, IDLE_CHECKS], frames[0, LISTED] = 0, count
    sums[0, REACH] = mass
    # a plain 0 would be a type of its own, and all it is handed to compiled twice
    depth = np.int64(0)
    _arrive(k, depth, work)
    while True:
        if frames[depth, CHECK] >= 0 and _descend(k, depth, work):
            depth += 1
            _arrive(k, depth, work)
            continue
        value, act = sums[depth, RATIO_WORTH], frames[depth, RATIO_ACT]
        # looking may turn out to earn less than repairing at once: then it is not done
        if frames[depth, CHECK] >= 0 and sums[depth, SO_FAR] > value:
            value, act = sums[depth, SO_FAR], frames[depth, CHECK]
        if depth == 0:
            return value, act
        depth -= 1
        # back in the frame above: the outcome's worth, times its chance there
        sums[depth, SO_FAR] += sums[depth, PART] * value


@kernel_without_refcounts
def checking_policy(k, w, state, mass, work):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``w`` (H,) sums to one. ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is
    to come here, which says how far it is followed; ``work`` comes from
    :func:`counterpoise.reasoning.kernels.workspace.new_workspace`.
    """
    count = list_belief(w, work.sets[0], work.beliefs[0])
    return checking_policy_listed(k, count, state, mass, work)
