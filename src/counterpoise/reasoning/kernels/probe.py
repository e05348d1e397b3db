"""A policy that looks before it repairs: checks chosen by what they tell about the right thing to do, then repair.

It follows one line of checks: at each, the likeliest outcome goes on checking while it pays, the others go over to the
plain policy. So it is cheap to evaluate exactly, and its worth is a lower bound that plain repairing cannot reach.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, panels_to_open, plain_policy

LONGEST = 5  # checks in a line


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
def insight(k, w, c, calls, joint):
    """How much a check is expected to raise the squared chance of knowing the right action (0..1).

    ``calls`` (H,) from :func:`right_action`; ``joint`` (R + 1,) is work space.
    """
    classes = joint.size
    before = 0.0
    joint[:] = 0.0
    for h in range(w.size):
        joint[calls[h]] += w[h]
    for a in range(classes):
        before += joint[a] * joint[a]
    after = 0.0
    for o in range(k.outcomes[c]):
        joint[:] = 0.0
        mass = 0.0
        for h in range(w.size):
            if w[h] > 0.0:
                part = w[h] * k.table[c, o, h]
                joint[calls[h]] += part
                mass += part
        if mass > EPS:
            squares = 0.0
            for a in range(classes):
                squares += joint[a] * joint[a]
            after += squares / mass
    return after - before


@njit(cache=True, nogil=True)
def _best_check(k, w, done, opened, calls, joint):
    best, which = 0.0, -1
    for c in range(k.check_cost.size):
        if done >> c & 1:
            continue
        gain = insight(k, w, c, calls, joint)
        if gain > 1e-4:
            cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
            ratio = gain / max(cost, EPS)
            if ratio > best:
                best, which = ratio, c
    return which


@njit(cache=True, nogil=True)
def looking_policy(k, w, state, values, work):
    """Worth of checking along one line and then repairing: (value, first action as numbered by the planner).

    ``state`` is (done, tried, opened), ``values`` (H,) hindsight values, ``work`` a tuple of work space:
    beliefs (2, H), scratch (2, H), chain, calls (H,), joint (R + 1,), steps (3, LONGEST).
    """
    done, tried, opened = state
    beliefs, scratch, chain, calls, joint, steps = work
    checks, repairs = k.check_cost.size, k.repair_cost.size
    right_action(k, values, w, tried, calls)
    now, other = beliefs[0], beliefs[1]
    now[:] = w
    plain, first, ending = plain_policy(k, now, tried, opened, scratch, chain)
    count, first_check = 0, -1
    while count < LONGEST:
        c = _best_check(k, now, done, opened, calls, joint)
        if c < 0:
            break
        if count == 0:
            first_check = c
        cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
        done |= 1 << c
        opened |= k.check_panels[c]
        likeliest, most, earned = 0, -1.0, 0.0
        for o in range(k.outcomes[c]):
            mass = 0.0
            for h in range(now.size):
                mass += now[h] * k.table[c, o, h]
            if mass > most:
                likeliest, most = o, mass
        for o in range(k.outcomes[c]):
            if o == likeliest:
                continue
            mass = 0.0
            for h in range(now.size):
                other[h] = now[h] * k.table[c, o, h]
                mass += other[h]
            if mass > EPS:
                other /= mass
                earned += mass * plain_policy(k, other, tried, opened, scratch, chain)[0]
        steps[0, count], steps[1, count] = earned - cost, most
        for h in range(now.size):
            now[h] *= k.table[c, likeliest, h] / most
        steps[2, count] = plain_policy(k, now, tried, opened, scratch, chain)[0]
        count += 1
    value = -np.inf
    for i in range(count - 1, -1, -1):
        value = steps[0, i] + steps[1, i] * max(value, steps[2, i])
    if value > plain:
        return value, first_check
    return plain, checks + first if first >= 0 else checks + repairs + max(ending, 0)
