"""A policy that looks one step ahead with a guess of what lies beyond, as far as it matters.

The guess only chooses the steps. What the policy earns is reckoned exactly, so it is a lower bound
on the best plan; what is left of the belief when a branch matters less than ``tolerance`` is left
to repairing by ratio.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    check_opening,
    opened_after_failure,
    opened_by_check,
    opening_cost,
)
from counterpoise.reasoning.kernels.clairvoyant_cache import clairvoyant_row, forget_rows
from counterpoise.reasoning.kernels.compilation import kernel_nogil
from counterpoise.reasoning.kernels.concentration import (
    concentration,
    expected_concentration,
    list_support,
)
from counterpoise.reasoning.kernels.dense_ratio_policy import chance_to_cure, marginals
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.kernels.workspace import Workspace, new_workspace

SOURCE_DIGEST = "ce8377d92429c081"  # see the package

DEEPEST = 30  # steps in a row
# Checks tried at a state: those that settle most for their cost, and those that settle most in all.
BY_COST, BY_GAIN = 3, 2
TELLING = 1e-4  # a check that settles less than this share of the doubt is not tried

# Places in a frame of ``OneStepWorkspace.frames``: done, tried, opened (bits), action or -1, next
# outcome.
DONE, TRIED, OPENED, ACTION, NEXT = range(5)
FRAME = 5
# Places in a frame of ``OneStepWorkspace.sums``: the chance of coming here, the worth of repairing
# by ratio, the worth so far, the chance of the outcome looked into.
REACH, RATIO_WORTH, SO_FAR, PART = range(4)
SUMS = 4


class Guide(NamedTuple):
    """What the guess of a state's worth is made from, reckoned at the panels ``opened`` at first.

    ``optimism`` (0..1) is the share of what knowing adds that is hoped for.
    """

    known: Floats  # (H,) what knowing each set is worth
    commitment: Floats  # (R + E, H) what each repair and then knowing, or each ending, earns
    opened: int
    optimism: float


class OneStepWorkspace(NamedTuple):
    """Workspace of :func:`one_step_policy`, by depth where the first size is D."""

    beliefs: Floats  # (D, H)
    frames: Ints  # (D, FRAME)
    sums: Floats  # (D, SUMS)
    belief: Floats  # (H,)
    chosen: NDArray[np.bool_]  # (C + R,)
    work: Workspace


def new_one_step_workspace(k: Arrays) -> OneStepWorkspace:
    """Workspace of :func:`one_step_policy` for a problem."""
    sets, actions = k.pass_chance.size, k.check_cost.size + k.repair_cost.size
    return OneStepWorkspace(
        beliefs=np.zeros((DEEPEST + 1, sets)),
        frames=np.zeros((DEEPEST + 1, FRAME), dtype=np.int64),
        sums=np.zeros((DEEPEST + 1, SUMS)),
        belief=np.zeros(sets),
        chosen=np.zeros(actions, dtype=np.bool_),
        work=new_workspace(k),
    )


@kernel_nogil
def _mark_largest(score, count, chosen):
    """Mark the ``count`` largest positive scores; they are used up."""
    for _ in range(count):
        best = 0
        for i in range(score.size):
            if score[i] > score[best]:
                best = i
        # a score of 0 was never worth trying, or is used up
        if score.size == 0 or score[best] <= 0.0:
            return
        chosen[best], score[best] = True, 0.0


@kernel_nogil
def _mark_checks(k, w, state, stake, chosen, work):
    """Mark the checks that settle most of the doubt for their cost, and those that do in all."""
    done, tried, opened = state
    forget_rows(work)
    best_repair = work.best_repair[clairvoyant_row(k, tried, opened, 0, work)]
    before = concentration(w, list_support(w, work.live), best_repair, work)
    checks = k.check_cost.size
    ratio, gain = np.zeros(checks), np.zeros(checks)
    for c in range(checks):
        cost = k.check_cost[c] + check_opening(k, c, opened)
        if done >> c & 1 or cost >= stake:
            continue
        after = expected_concentration(k, w, c, before, best_repair, work)
        settled = (after - before) / max(1.0 - before, EPS)
        if settled > TELLING:
            ratio[c], gain[c] = settled / max(cost, EPS), settled * stake - cost
    _mark_largest(ratio, BY_COST, chosen)
    _mark_largest(gain, BY_GAIN, chosen)


@kernel_nogil
def _mark_repairs(k, w, state, chances, chosen):
    """Mark the repairs of largest chance over cost, of largest gain, and those that only prove."""
    _, tried, opened = state
    checks = k.check_cost.size
    marginals(k, w, chances)
    ratio, gain, by_ratio, by_gain = 0.0, -np.inf, -1, -1
    for r in range(k.repair_cost.size):
        if tried >> r & 1:
            continue
        cured = chance_to_cure(k, r, chances)
        price = max(k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened), EPS)
        # a repair without cures is the bare retest: it pays where nothing may be wrong
        if k.cured_start[r] == k.cured_start[r + 1] and w[0] > 0.0:
            chosen[checks + r] = True
        elif cured > EPS:
            if cured / price > ratio:
                ratio, by_ratio = cured / price, r
            if cured * k.pass_value[0] - price > gain:
                gain, by_gain = cured * k.pass_value[0] - price, r
    if by_ratio >= 0:
        chosen[checks + by_ratio] = True
        chosen[checks + by_gain] = True


@kernel_nogil
def _beyond(k, belief, state, guide):
    """Guess of a state's worth: the best repair or ending now, and a share of what knowing adds.

    ``belief`` (H,) need not sum to one.
    """
    _, tried, opened = state
    mass = belief.sum()
    # panels opened since cost nothing any more
    knowing = opening_cost(k, opened, guide.opened) * mass + np.dot(guide.known, belief)
    worth = np.dot(guide.commitment, belief)
    best = -np.inf
    for r in range(worth.size):
        if r >= k.repair_cost.size:
            best = max(best, worth[r])
        elif not tried >> r & 1:
            # opened since, or shut since
            saved = opening_cost(k, k.repair_panels[r] & opened, guide.opened)
            lost = opening_cost(k, k.repair_panels[r] & guide.opened, opened)
            best = max(best, worth[r] + (saved - lost) * mass)
    if best == -np.inf:
        best = 0.0
    return best + guide.optimism * max(0.0, knowing - best)


@kernel_nogil
def _promise(k, w, a, state, guide, belief):
    """Guess of what action ``a`` is worth; ``belief`` (H,) is scratch."""
    done, tried, opened = state
    checks = k.check_cost.size
    if a < checks:
        after = (done | 1 << a, tried, opened_by_check(k, a, opened))
        value = -k.check_cost[a] - check_opening(k, a, opened)
        for o in range(k.outcomes[a]):
            belief[:] = w * k.table[a, o]
            value += _beyond(k, belief, after, guide)
        return value
    r = a - checks
    _, passed, _ = after_repair(k, r, w, belief)
    after = (done, tried | 1 << r, opened_after_failure(k, r, opened))
    value = passed - k.repair_cost[r] - opening_cost(k, k.repair_panels[r], opened)
    return value + _beyond(k, belief, after, guide)


@kernel_nogil
def _choose(k, depth, guide, stake, s):
    """The action of most promise, -1 where repairing by ratio earns as much as any promises."""
    w, frame = s.beliefs[depth], s.frames[depth]
    state = (frame[DONE], frame[TRIED], frame[OPENED])
    s.chosen[:] = False
    _mark_checks(k, w, state, stake, s.chosen, s.work)
    _mark_repairs(k, w, state, s.work.chances, s.chosen)
    best, which = s.sums[depth, RATIO_WORTH] + EPS, -1
    # only the few marked actions are weighed: a promise costs a pass over all outcomes
    for a in range(s.chosen.size):
        if s.chosen[a]:
            promise = _promise(k, w, a, state, guide, s.belief)
            if promise > best:
                best, which = promise, a
    return which


@kernel_nogil
def _arrive(k, depth, guide, tolerance, s):
    """Open the frame of the belief in row ``depth``: worth of repairing by ratio, action if any."""
    frame, sums, w = s.frames[depth], s.sums[depth], s.beliefs[depth]
    tried, opened = frame[TRIED], frame[OPENED]
    plain = ratio_policy(k, w, tried, opened, s.work)[0]
    sums[RATIO_WORTH] = plain
    frame[ACTION], frame[NEXT] = -1, 0
    # what knowing everything would add here; panels opened since count as paid
    stake = opening_cost(k, opened, guide.opened) + np.dot(guide.known, w) - plain
    if sums[REACH] * stake <= tolerance or depth + 1 >= s.beliefs.shape[0]:
        return
    a = _choose(k, depth, guide, stake, s)
    frame[ACTION] = a
    if a >= k.check_cost.size:
        r = a - k.check_cost.size
        sums[SO_FAR] = -k.repair_cost[r] - opening_cost(k, k.repair_panels[r], opened)
    elif a >= 0:
        sums[SO_FAR] = -k.check_cost[a] - check_opening(k, a, opened)


@kernel_nogil
def _keep(depth, s):
    """Normalise the belief in the row below and note its chance; False where nothing is left."""
    below = s.beliefs[depth + 1]
    part = below.sum()
    if part <= EPS * EPS:
        return False
    below /= part
    s.sums[depth, PART], s.sums[depth + 1, REACH] = part, s.sums[depth, REACH] * part
    return True


@kernel_nogil
def _descend(k, depth, s):
    """Write the belief after the frame's next outcome one row deeper; False when none is left."""
    beliefs, frame, below = s.beliefs, s.frames[depth], s.frames[depth + 1]
    a, checks = frame[ACTION], k.check_cost.size
    below[DONE], below[TRIED], below[OPENED] = frame[DONE], frame[TRIED], frame[OPENED]
    if a >= checks:
        if frame[NEXT] > 0:
            return False
        frame[NEXT] = 1
        r = a - checks
        _, passed, _ = after_repair(k, r, beliefs[depth], beliefs[depth + 1])
        s.sums[depth, SO_FAR] += passed
        below[TRIED] |= 1 << r
        below[OPENED] = opened_after_failure(k, r, frame[OPENED])
        return _keep(depth, s)
    below[DONE] |= 1 << a
    below[OPENED] = opened_by_check(k, a, frame[OPENED])
    while frame[NEXT] < k.outcomes[a]:
        o = frame[NEXT]
        frame[NEXT] += 1
        for h in range(beliefs.shape[1]):
            beliefs[depth + 1, h] = beliefs[depth, h] * k.table[a, o, h]
        if _keep(depth, s):
            return True
    return False


@kernel_nogil
def one_step_policy(k, w, state, guide, tolerance, s):
    """Worth of the policy from belief ``w`` (H,), its first action, and the states it came to.

    The action is -1 for repairing by ratio. ``state`` is (done, tried, opened), ``guide`` a
    :class:`Guide`. A state is followed while its chance times what knowing would add exceeds
    ``tolerance`` (in the unit of value).
    """
    frames, sums = s.frames, s.sums
    s.beliefs[0][:] = w
    frames[0, DONE], frames[0, TRIED], frames[0, OPENED] = state
    depth, states, first = 0, 1, -1
    sums[0, REACH] = 1.0
    _arrive(k, 0, guide, tolerance, s)
    while True:
        if frames[depth, ACTION] >= 0 and _descend(k, depth, s):
            depth += 1
            states += 1
            _arrive(k, depth, guide, tolerance, s)
            continue
        value = sums[depth, RATIO_WORTH]
        # what the steps earned may fall short of what was guessed
        if frames[depth, ACTION] >= 0 and sums[depth, SO_FAR] > value:
            value = sums[depth, SO_FAR]
            if depth == 0:
                first = frames[0, ACTION]
        if depth == 0:
            return value, first, states
        depth -= 1
        sums[depth, SO_FAR] += sums[depth, PART] * value
