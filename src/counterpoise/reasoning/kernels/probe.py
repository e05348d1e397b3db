"""A policy that looks before it repairs: checks chosen by what they tell about the right thing to do, then repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too faint to follow,
which is charged as if it went as badly as it can) and is a lower bound that plain repairing cannot reach.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, hindsight, panels_to_open, plain_policy

DEEPEST = 9  # checks in a row
THIN = 0.015  # a branch less likely than this is left to the plain policy
SHARP = 1e-3  # the right action counts as known when nothing else is this likely
FAINT = 1e-6  # belief below this is dropped, and charged


@njit(cache=True, nogil=True)
def right_action(k, values, w, tried, out):
    """Fill ``out`` (H,) with the repair that each set of faults calls for, R where none pays.

    ``values`` are the hindsight values. In a set of several faults the dearest repair speaks.
    """
    none, repairs = k.cure.shape[1] - 1, k.repair_cost.size
    for h in range(w.size):
        out[h] = repairs
        if w[h] <= 0.0 or (not k.forced and values[h] <= k.ending_hope[h] + EPS):
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
    """The check that settles most for its cost, among those whose share of what is at stake exceeds their cost."""
    before = sharpness(w, live, calls, joint)
    best, which = 0.0, -1
    if before > 1.0 - SHARP:
        return which
    for c in range(k.check_cost.size):
        if done >> c & 1:
            continue
        cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
        if cost >= at_stake:
            continue
        settled = (insight(k, w, c, live, calls, joint) - before) / (1.0 - before)
        if settled * at_stake > cost and settled / max(cost, EPS) > best:
            best, which = settled / max(cost, EPS), c
    return which


@njit(cache=True, nogil=True)
def _look(k, depth, mass, done, tried, opened, work):
    """Worth of the policy from the belief in row ``depth`` (sums to one), reached with chance ``mass``; and its act."""
    beliefs, values, scratch, chain, calls, joint = work
    checks, repairs = k.check_cost.size, k.repair_cost.size
    w = beliefs[depth]
    plain, first, ending = plain_policy(k, w, tried, opened, scratch, chain)
    act = checks + first if first >= 0 else checks + repairs + max(ending, 0)
    if mass < THIN or depth + 1 >= beliefs.shape[0]:
        return plain, act
    best_possible = hindsight(k, w, tried, opened, values)
    at_stake = best_possible - plain
    if at_stake <= EPS:
        return plain, act
    right_action(k, values, w, tried, calls)
    live = np.flatnonzero(w > 0.0)
    c = _best_check(k, w, done, opened, live, calls, joint, at_stake)
    if c < 0:
        return plain, act
    now_open = opened | k.check_panels[c]
    value = -k.check_cost[c] - panels_to_open(k, k.check_panels[c], opened)
    worst = -at_stake - abs(best_possible)
    for o in range(k.outcomes[c]):
        part, faint = 0.0, 0.0
        child = beliefs[depth + 1]
        child[:] = 0.0
        for i in range(live.size):
            h = live[i]
            weight = w[h] * k.table[c, o, h]
            if weight * mass < FAINT:
                faint += weight
            else:
                child[h] = weight
                part += weight
        value += faint * worst
        if part > EPS:
            for i in range(live.size):
                child[live[i]] /= part
            value += part * _look(k, depth + 1, mass * part, done | 1 << c, tried, now_open, work)[0]
    if value > plain:
        return value, c
    return plain, act


@njit(cache=True, nogil=True)
def looking_policy(k, w, state, mass, work):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is to come here, which says how far it is
    followed; ``work`` comes from :func:`work_space`.
    """
    done, tried, opened = state
    work[0][0][:] = w
    return _look(k, 0, mass, done, tried, opened, work)
