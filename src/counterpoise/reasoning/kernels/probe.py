"""A policy that looks before it repairs: checks chosen by what they tell about the right thing to do, then repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too faint to follow,
which is charged as if it went as badly as it can) and is a lower bound that plain repairing cannot reach.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, hindsight, panels_to_open, plain_policy

DRAWS_ON = "a2745f27b5d7db78"  # see the package

DEEPEST = 9  # checks in a row
THIN = 0.015  # a branch less likely than this is left to the plain policy
SHARP = 1e-3  # the right action counts as known when nothing else is this likely
IDLE = 0.002  # a check that settles less than this share of the doubt is not looked at again further down
FAINT = 1e-6  # belief below this is dropped, and charged


@njit(cache=True, nogil=True)
def right_action(k, values, tried, out):
    """Fill ``out`` (H,) with the repair that each set of faults calls for, R where none pays.

    ``values`` are the hindsight values. In a set of several faults the dearest repair speaks.
    """
    none, repairs = k.cure.shape[1] - 1, k.repair_cost.size
    for h in range(values.size):
        out[h] = repairs
        if not k.forced and values[h] <= k.ending_hope[h] + EPS:
            continue
        dearest = -1.0
        for m in range(k.members.shape[1]):
            fault = k.members[h, m]
            if fault == none:
                break
            for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
                r = k.cure_repair[q]
                if not tried >> r & 1:
                    if k.repair_cost[r] > dearest:
                        dearest, out[h] = k.repair_cost[r], r
                    break


@njit(cache=True, nogil=True)
def sharpness(w, live, calls, joint):
    """Sum of squares of the chances of each right action: 1 where it is known (w need not sum to one)."""
    joint[:] = 0.0
    total = 0.0
    for i in range(live.size):
        joint[calls[live[i]]] += w[live[i]]
        total += w[live[i]]
    squares = 0.0
    for a in range(joint.size):
        squares += joint[a] * joint[a]
    return squares / (total * total)


@njit(cache=True, nogil=True)
def insight(k, w, c, live, calls, joint):
    """Expected sharpness after check ``c``. ``live`` lists where the belief is positive."""
    after = 0.0
    for o in range(k.outcomes[c]):
        joint[:] = 0.0
        mass = 0.0
        for i in range(live.size):
            h = live[i]
            part = w[h] * k.table[c, o, h]
            joint[calls[h]] += part
            mass += part
        if mass > EPS:
            squares = 0.0
            for a in range(joint.size):
                squares += joint[a] * joint[a]
            after += squares / mass
    return after


@njit(cache=True, nogil=True)
def _best_check(k, w, done, opened, live, calls, joint, at_stake):
    """The check that settles most for its cost, among those whose share of what is at stake exceeds their cost.

    Returns (check or -1, the checks that need not be looked at again further down: done, or telling next to nothing).
    """
    before = sharpness(w, live, calls, joint)
    best, which = 0.0, -1
    if before > 1.0 - SHARP:
        return which, done
    idle = done
    for c in range(k.check_cost.size):
        if done >> c & 1:
            continue
        cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
        if cost >= at_stake:
            continue
        settled = (insight(k, w, c, live, calls, joint) - before) / (1.0 - before)
        if settled < IDLE:
            idle |= 1 << c
        elif settled * at_stake > cost and settled / max(cost, EPS) > best:
            best, which = settled / max(cost, EPS), c
    return which, idle


@njit(cache=True, nogil=True)
def _arrive(k, depth, ways, sums, work):
    """Open the frame of the belief in row ``depth``: what plain repairing earns, and the check to do, if any pays.

    ``ways`` (D, 8) ints a frame: done, tried, opened, check or -1, next outcome, act of the plain policy, checks that
    tell nothing, row of the hindsight values; ``sums`` (D, 4): chance of coming here, plain worth, worth so far,
    chance of the outcome looked into.
    """
    beliefs, values, scratch, chain, calls, joint = work[:6]
    w, (done, tried, opened) = beliefs[depth], (ways[depth, 0], ways[depth, 1], ways[depth, 2])
    plain, first, ending = plain_policy(k, w, tried, opened, scratch, chain)
    checks = k.check_cost.size
    ways[depth, 3], ways[depth, 4] = -1, 0
    ways[depth, 5] = checks + first if first >= 0 else checks + k.repair_cost.size + max(ending, 0)
    sums[depth, 1] = plain
    if sums[depth, 0] < THIN or depth + 1 >= beliefs.shape[0]:
        return
    if depth > 0 and opened == ways[depth - 1, 2]:
        row = ways[depth - 1, 7]
    else:
        row = depth
        hindsight(k, np.ones(w.size), tried, opened, values[row])
        right_action(k, values[row], tried, calls[row])
    ways[depth, 7] = row
    live = np.flatnonzero(w > 0.0)
    at_stake = -plain
    for i in range(live.size):
        at_stake += w[live[i]] * values[row, live[i]]
    if at_stake <= EPS:
        return
    c, idle = _best_check(k, w, done | ways[depth, 6], opened, live, calls[row], joint, at_stake)
    ways[depth, 3], ways[depth, 6] = c, idle
    if c >= 0:
        sums[depth, 2] = -k.check_cost[c] - panels_to_open(k, k.check_panels[c], opened)


@njit(cache=True, nogil=True)
def _descend(k, depth, ways, sums, beliefs):
    """Write the belief after the next outcome of this frame's check one row deeper; False when none is left."""
    c = ways[depth, 3]
    while ways[depth, 4] < k.outcomes[c]:
        o = ways[depth, 4]
        ways[depth, 4] += 1
        part, faint = 0.0, 0.0
        for h in range(beliefs.shape[1]):
            weight = beliefs[depth, h] * k.table[c, o, h]
            if weight * sums[depth, 0] < FAINT:
                faint += weight
                weight = 0.0
            beliefs[depth + 1, h] = weight
            part += weight
        sums[depth, 2] -= faint * (abs(sums[depth, 1]) + k.pass_value[0] + k.check_cost.sum())
        if part > EPS:
            for h in range(beliefs.shape[1]):
                beliefs[depth + 1, h] /= part
            sums[depth, 3], sums[depth + 1, 0] = part, sums[depth, 0] * part
            ways[depth + 1, 0], ways[depth + 1, 1] = ways[depth, 0] | 1 << c, ways[depth, 1]
            ways[depth + 1, 2] = ways[depth, 2] | k.check_panels[c]
            ways[depth + 1, 6] = ways[depth, 6]
            return True
    return False


@njit(cache=True, nogil=True)
def looking_policy(k, w, state, mass, work):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is to come here, which says how far it is
    followed; ``work`` comes from :func:`counterpoise.reasoning.kernels.expand.work_space`.
    """
    ways, sums, beliefs = work[6], work[7], work[0]
    beliefs[0][:] = w
    ways[0, 0], ways[0, 1], ways[0, 2] = state
    ways[0, 6] = 0
    sums[0, 0] = mass
    depth = 0
    _arrive(k, depth, ways, sums, work)
    while True:
        if ways[depth, 3] >= 0 and _descend(k, depth, ways, sums, beliefs):
            depth += 1
            _arrive(k, depth, ways, sums, work)
            continue
        value, act = sums[depth, 1], ways[depth, 5]
        if ways[depth, 3] >= 0 and sums[depth, 2] > value:
            value, act = sums[depth, 2], ways[depth, 3]
        if depth == 0:
            return value, act
        depth -= 1
        sums[depth, 2] += sums[depth, 3] * value
