"""A policy that looks one step ahead with a guess of what lies beyond, followed as far as it matters.

The guess only chooses the steps. What the policy earns is reckoned exactly, so it is a lower bound on the best plan;
what is left of the belief when a branch matters less than ``tolerance`` is left to plain repairing.
"""

from typing import Any

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    chance_to_cure,
    marginals,
    panels_to_open,
)
from counterpoise.reasoning.kernels.checking_policy import insight, list_live, sharpness
from counterpoise.reasoning.kernels.clairvoyant_cache import hope_row, make_room
from counterpoise.reasoning.kernels.ratio_policy import repair_by_ratio
from counterpoise.reasoning.kernels.workspace import work_space

SOURCE_DIGEST = "a71c957f208ca489"  # see the package

DEEPEST = 30  # steps in a row
BY_COST, BY_GAIN = (
    3,
    2,
)  # checks tried at a state: those that settle most for their cost, and most in all
TELLING = 1e-4  # a check that settles less than this share of the doubt is not tried


def thorough_space(k: Any) -> tuple[Any, ...]:
    """Work space of :func:`thorough_policy`: beliefs (D, H), ways (D, 5), sums (D, 4), a belief, actions, a room."""
    sets, actions = k.passes.size, k.check_cost.size + k.repair_cost.size
    return (
        np.zeros((DEEPEST + 1, sets)),
        np.zeros((DEEPEST + 1, 5), dtype=np.int64),
        np.zeros((DEEPEST + 1, 4)),
        np.zeros(sets),
        np.zeros(actions, dtype=np.bool_),
        work_space(k),
    )


@njit(cache=True, nogil=True)
def _mark_largest(score, count, chosen):
    for _ in range(count):
        best = 0
        for i in range(score.size):
            if score[i] > score[best]:
                best = i
        if score.size == 0 or score[best] <= 0.0:
            return
        chosen[best], score[best] = True, 0.0


@njit(cache=True, nogil=True)
def _telling_checks(k, w, state, stake, chosen, room):
    """Mark the checks that settle most of the doubt about the right repair for their cost, and most in all."""
    done, tried, opened = state
    make_room(room)
    calls = room.calls[hope_row(k, tried, opened, 0, room)]
    before = sharpness(w, list_live(w, room.live), calls, room)
    checks = k.check_cost.size
    ratio, gain = np.zeros(checks), np.zeros(checks)
    for c in range(checks):
        cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
        if done >> c & 1 or cost >= stake:
            continue
        settled = (insight(k, w, c, before, calls, room) - before) / max(1.0 - before, EPS)
        if settled > TELLING:
            ratio[c], gain[c] = settled / max(cost, EPS), settled * stake - cost
    _mark_largest(ratio, BY_COST, chosen)
    _mark_largest(gain, BY_GAIN, chosen)


@njit(cache=True, nogil=True)
def _likely_repairs(k, w, state, chances, chosen):
    """Mark the repair of largest chance over cost, the one of largest gain, and those that cure nothing but prove."""
    _, tried, opened = state
    checks = k.check_cost.size
    marginals(k, w, chances)
    ratio, gain, by_ratio, by_gain = 0.0, -np.inf, -1, -1
    for r in range(k.repair_cost.size):
        if tried >> r & 1:
            continue
        cured = chance_to_cure(k, r, chances)
        price = max(k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened), EPS)
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


@njit(cache=True, nogil=True)
def _beyond(k, belief, state, start, guide, lean):
    """Guess of a state's worth: what the best repair or ending earns at once, and a share of what knowing would add.

    ``belief`` need not sum to one. ``guide`` is (known (H,), commit (R + E, H)) at the panels ``start``.
    """
    known, commit = guide
    _, tried, opened = state
    mass = belief.sum()
    knowing = panels_to_open(k, opened, start) * mass + np.dot(known, belief)
    worth = np.dot(commit, belief)
    best = -np.inf
    for r in range(worth.size):
        if r >= k.repair_cost.size:
            best = max(best, worth[r])
        elif not tried >> r & 1:
            saved = panels_to_open(k, k.repair_panels[r] & opened, start)
            best = max(best, worth[r] + saved * mass)
    if best == -np.inf:
        best = 0.0
    return best + lean * max(0.0, knowing - best)


@njit(cache=True, nogil=True)
def _promise(k, w, a, state, start, guide, lean, belief):
    """Guess of what action ``a`` is worth."""
    done, tried, opened = state
    checks = k.check_cost.size
    if a < checks:
        after = (done | 1 << a, tried, opened | k.check_panels[a])
        value = -k.check_cost[a] - panels_to_open(k, k.check_panels[a], opened)
        for o in range(k.outcomes[a]):
            belief[:] = w * k.table[a, o]
            value += _beyond(k, belief, after, start, guide, lean)
        return value
    r = a - checks
    _, passed, _ = after_repair(k, r, w, belief)
    after = (done, tried | 1 << r, opened | k.repair_panels[r])
    value = passed - k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    return value + _beyond(k, belief, after, start, guide, lean)


@njit(cache=True, nogil=True)
def _choose(k, w, state, start, guide, lean, plain, stake, work):
    """The action of most promise, -1 where plain repairing earns as much as any promises."""
    belief, chosen, room = work[3], work[4], work[5]
    chosen[:] = False
    _telling_checks(k, w, state, stake, chosen, room)
    _likely_repairs(k, w, state, room.chances, chosen)
    best, which = plain + EPS, -1
    for a in range(chosen.size):
        if chosen[a]:
            promise = _promise(k, w, a, state, start, guide, lean, belief)
            if promise > best:
                best, which = promise, a
    return which


@njit(cache=True, nogil=True)
def _arrive(k, depth, start, guide, lean, tolerance, work):
    """Open the frame of the belief in row ``depth``.

    The ways (D, 5) of a frame: done, tried, opened, action or -1, next outcome; the sums (D, 4): chance of coming here,
    plain worth, worth so far, chance of the outcome looked into.
    """
    ways, sums = work[1], work[2]
    w, (done, tried, opened) = work[0][depth], (ways[depth, 0], ways[depth, 1], ways[depth, 2])
    plain = repair_by_ratio(k, w, tried, opened, work[5])[0]
    sums[depth, 1] = plain
    ways[depth, 3], ways[depth, 4] = -1, 0
    stake = panels_to_open(k, opened, start) + np.dot(guide[0], w) - plain
    if sums[depth, 0] * stake <= tolerance or depth + 1 >= work[0].shape[0]:
        return
    a = _choose(k, w, (done, tried, opened), start, guide, lean, plain, stake, work)
    ways[depth, 3] = a
    if a >= k.check_cost.size:
        r = a - k.check_cost.size
        sums[depth, 2] = -k.repair_cost[r] - panels_to_open(k, k.repair_panels[r], opened)
    elif a >= 0:
        sums[depth, 2] = -k.check_cost[a] - panels_to_open(k, k.check_panels[a], opened)


@njit(cache=True, nogil=True)
def _keep(depth, work):
    """Normalise the belief in the row below and note its chance; False where nothing is left of it."""
    below, sums = work[0][depth + 1], work[2]
    part = below.sum()
    if part <= EPS * EPS:
        return False
    below /= part
    sums[depth, 3], sums[depth + 1, 0] = part, sums[depth, 0] * part
    return True


@njit(cache=True, nogil=True)
def _descend(k, depth, work):
    """Write the belief after the next outcome of this frame's action one row deeper; False when none is left."""
    beliefs, ways, sums = work[0], work[1], work[2]
    a, checks = ways[depth, 3], k.check_cost.size
    ways[depth + 1, :3] = ways[depth, :3]
    if a >= checks:
        if ways[depth, 4] > 0:
            return False
        ways[depth, 4] = 1
        r = a - checks
        _, passed, _ = after_repair(k, r, beliefs[depth], beliefs[depth + 1])
        sums[depth, 2] += passed
        ways[depth + 1, 1] |= 1 << r
        ways[depth + 1, 2] |= k.repair_panels[r]
        return _keep(depth, work)
    ways[depth + 1, 0] |= 1 << a
    ways[depth + 1, 2] |= k.check_panels[a]
    while ways[depth, 4] < k.outcomes[a]:
        o = ways[depth, 4]
        ways[depth, 4] += 1
        for h in range(beliefs.shape[1]):
            beliefs[depth + 1, h] = beliefs[depth, h] * k.table[a, o, h]
        if _keep(depth, work):
            return True
    return False


@njit(cache=True, nogil=True)
def thorough_policy(k, w, state, guide, lean, tolerance, work):
    """Worth of the policy from belief ``w``, its first action or -1 for plain repairing, and the states it came to.

    ``guide`` holds, where ``state`` (done, tried, opened) is: what knowing each set is worth (H,), and what each repair
    and then knowing, or each ending, earns (R + E, H). ``lean`` (0..1) is the share of what knowing adds that is hoped
    for. A state is followed while its chance times what knowing would add exceeds ``tolerance``.
    """
    ways, sums = work[1], work[2]
    work[0][0][:] = w
    ways[0, 0], ways[0, 1], ways[0, 2] = state
    start, depth, states, first = state[2], 0, 1, -1
    sums[0, 0] = 1.0
    _arrive(k, 0, start, guide, lean, tolerance, work)
    while True:
        if ways[depth, 3] >= 0 and _descend(k, depth, work):
            depth += 1
            states += 1
            _arrive(k, depth, start, guide, lean, tolerance, work)
            continue
        value = sums[depth, 1]
        if ways[depth, 3] >= 0 and sums[depth, 2] > value:
            value = sums[depth, 2]
            if depth == 0:
                first = ways[0, 3]
        if depth == 0:
            return value, first, states
        depth -= 1
        sums[depth, 2] += sums[depth, 3] * value
