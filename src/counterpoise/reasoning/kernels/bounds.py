"""Bounds on a state's worth: what hindsight would earn and what stopping earns.

A state is a belief ``w`` (H,) that sums to one, and three sets of bits: checks done, repairs tried,
panels opened.
"""

import numpy as np

from counterpoise.reasoning.kernels.compilation import kernel

SOURCE_DIGEST = "e469b03edc189a8d"  # see the package

# Probabilities below this count as none: the rounding of sums over many sets comes near it.
EPS = 1e-12


@kernel
def opening_cost(k, needed, opened):
    """Cost of opening and closing the panels in ``needed`` (bits) that are not open yet."""
    missing, cost, i = needed & ~opened, 0.0, 0
    # bit by bit, for there are few panels and fewer that are still closed
    while missing:
        if missing & 1:
            cost += k.panel_cost[i]
        missing >>= 1
        i += 1
    return cost


@kernel
def check_opening(k, c, opened):
    """Cost of opening for check ``c``, which may shut first whatever stands open."""
    return opening_cost(k, k.check_panels[c], opened & k.check_keeps[c])


@kernel
def opened_by_check(k, c, opened):
    """Panels (bits) that stand open after check ``c``."""
    return opened & k.check_keeps[c] | k.check_panels[c]


@kernel
def opened_after_failure(k, r, opened):
    """Panels (bits) that stand open after repair ``r`` and a retest that failed."""
    return (opened | k.repair_panels[r]) & k.retest_keeps


@kernel
def total_of(values):
    """Sum of an array in order; a library's sum adds in blocks where the kernel is not compiled."""
    total = 0.0
    for i in range(values.size):
        total += values[i]
    return total


@kernel
def best_ending(k, w):
    """Best ending under the belief: (value, index); minus infinity where no ending is given."""
    best, which = -np.inf, -1
    for e in range(k.ending_value.shape[0]):
        value = 0.0
        for h in range(w.size):
            # an impossible set may have an ending worth minus infinity, and 0 times that is no
            # number
            if w[h] > 0.0:
                value += w[h] * k.ending_value[e, h]
        if value > best:
            best, which = value, e
    return best, which


@kernel
def _openings(k, tried, opened):
    """(R,) what opening would cost each repair; infinite for those tried."""
    cost = np.empty(k.repair_cost.size)
    for r in range(cost.size):
        cost[r] = np.inf if tried >> r & 1 else opening_cost(k, k.repair_panels[r], opened)
    return cost


@kernel
def _attempt(k, r, fault, then):
    """Worth of trying repair ``r`` on a known fault, opening apart; ``then`` if that is not it."""
    chance = k.cure[r, fault]
    # a failed attempt is missed by the retest and comes back, or is seen and the next is tried
    if_not = k.miss_chance * k.comeback_value + (1.0 - k.miss_chance) * then
    return -k.repair_cost[r] + chance * k.pass_value[0] + (1.0 - chance) * if_not


@kernel
def _opening_anew(k, fault, fallback, openings):
    """Worth of a known fault where a failed retest shuts the panels.

    Only the first attempt finds open what is open now: each repair in turn is tried first, and then
    the others, each at the cost of opening anew.
    """
    start, end = k.cure_start[fault], k.cure_start[fault + 1]
    best, tries = -np.inf, 0
    for first in range(start, end):
        if openings[k.cure_repair[first]] == np.inf:
            continue
        value, tries = fallback, tries + 1
        for q in range(end - 1, start - 1, -1):
            r = k.cure_repair[q]
            if q != first and openings[r] < np.inf:
                attempt = _attempt(k, r, fault, value) - k.reopening[r]
                value = attempt if k.forced else max(value, attempt)
        r = k.cure_repair[first]
        best = max(best, _attempt(k, r, fault, value) - openings[r])
    if tries == 0:
        return fallback
    return best if k.forced else max(fallback, best)


@kernel
def single_fault_value(k, fault, fallback, openings):
    """Worth of knowing that this one fault is there: its repairs in their best order.

    A repair that does not pay is skipped. Optimal for a known fault when opening is free; the least
    opening cost on the way is charged on top, so the value is an admissible bound. Where a failed
    retest shuts the panels, it is exact.
    """
    if k.retest_keeps == 0:
        return _opening_anew(k, fault, fallback, openings)
    value, least_opening = fallback, np.inf
    # from the last repair back to the first: what follows a failure is known when its attempt is
    # weighed
    for q in range(k.cure_start[fault + 1] - 1, k.cure_start[fault] - 1, -1):
        r = k.cure_repair[q]
        if openings[r] == np.inf:
            continue
        attempt = _attempt(k, r, fault, value)
        value = attempt if k.forced else max(value, attempt)
        least_opening = min(least_opening, openings[r])
    if least_opening == np.inf:
        return fallback
    # opening can be put off, so only the least of it is sure to be paid
    return value - least_opening if k.forced else max(fallback, value - least_opening)


@kernel
def _several_faults(k, h, fallback, openings):
    """Upper bound on the worth of knowing that all faults of set ``h`` are there.

    Each fault needs a repair, whose cost is shared among the faults that it cures. What a retest's
    missing a fault can add to an attempt is taken off its price. Opening is charged once, or for
    each repair anew less the most that standing open now can save the first: whichever is more.
    """
    cost, opening, anew, saved = 0.0, 0.0, 0.0, 0.0
    for m in range(k.members.shape[1]):
        fault = k.members[h, m]
        # padding: the set has no more faults
        if fault == k.cure.shape[1] - 1:
            break
        share, least_opening, share_anew = np.inf, np.inf, np.inf
        for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
            r = k.cure_repair[q]
            if openings[r] == np.inf:
                continue
            sharing = 0
            for n in range(k.members.shape[1]):
                if k.cure[r, k.members[h, n]] > 0.0:
                    sharing += 1
            # were the faults cured one by one, each would pay at least its share
            price = k.repair_cost[r] - k.miss_gain[h]
            share = min(share, max(0.0, price) / sharing)
            share_anew = min(share_anew, max(0.0, price + k.reopening[r]) / sharing)
            least_opening = min(least_opening, openings[r])
            saved = max(saved, k.reopening[r] - openings[r])
        if share == np.inf:
            # a fault that nothing is left to cure: the set can only be ended
            if not k.forced:
                return fallback
        else:
            cost += share
            anew += share_anew
            opening = max(opening, least_opening)
    total = max(cost + opening, anew - saved)
    # where one may not stop, a dear repair may be worth less than the fallback
    cured = max(k.pass_value[0], fallback) if k.forced else k.pass_value[0]
    return cured - total if k.forced else max(fallback, cured - total)


@kernel
def with_missed_retests(k, h, value, fallback, cheapest, openings):
    """The bound ``value``, raised by attempts made only in the hope of a missed fault."""
    # going on may cost more than stopping would: only the price of one attempt is sure
    if k.forced:
        return max(value, fallback, k.pass_value[0] - cheapest)
    # a repair aimed at the one fault is in the bound already; any other can only be a gamble
    several = k.members.shape[1] > 1 and k.members[h, 1] != k.cure.shape[1] - 1
    bound = value
    for r in range(k.repair_cost.size):
        if openings[r] < np.inf and (several or k.cure[r, k.members[h, 0]] == 0.0):
            bound += max(0.0, k.miss_gain[h] - k.repair_cost[r])
    return max(value, min(bound, k.pass_value[0] - cheapest))


@kernel
def hindsight(k, w, tried, opened, out):
    """Upper bound on the state's worth: the mean over sets of faults of what knowing each is worth.

    ``out`` (H,) is filled with the worth of each set, only where the belief is positive.
    """
    openings = _openings(k, tried, opened)
    # the least that any attempt costs: opened for, and by itself
    cheapest, least_price = np.inf, np.inf
    for r in range(k.repair_cost.size):
        cheapest = min(cheapest, k.repair_cost[r] + openings[r])
        if openings[r] < np.inf:
            least_price = min(least_price, k.repair_cost[r])
    mean = 0.0
    none = k.cure.shape[1] - 1
    for h in range(w.size):
        if w[h] <= 0.0:
            continue
        # without an ending, work that nothing could help just stops, and is worth nothing more
        fallback = 0.0 if k.forced else k.ending_bound[h]
        # nothing is wrong: the bare retest would tell, at the price of the cheapest
        if k.members[h, 0] == none:
            out[h] = max(fallback, k.pass_value[h] - cheapest)
            mean += w[h] * out[h]
            continue
        if k.members.shape[1] == 1 or k.members[h, 1] == none:
            value = single_fault_value(k, k.members[h, 0], fallback, openings)
        else:
            value = _several_faults(k, h, fallback, openings)
        # gambling on a miss can pay only where a miss gains more than the cheapest repair costs
        if k.pass_chance[h] > 0.0 and (k.forced or k.miss_gain[h] > least_price):
            value = with_missed_retests(k, h, value, fallback, cheapest, openings)
        out[h] = value
        mean += w[h] * value
    return mean


@kernel
def after_repair(k, r, w, out):
    """Fill ``out`` (H,) with the unnormalised belief after repair ``r`` failed its retest.

    Returns (mass left, value of passing times its chance, mass moved by the repair).
    """
    for h in range(w.size):
        out[h] = w[h]
    moved = 0.0
    for i in range(k.move_start[r], k.move_start[r + 1]):
        step = w[k.move_source[i]] * k.move_chance[i]
        if step > 0.0:
            out[k.move_source[i]] -= step
            out[k.move_target[i]] += step
            moved += step
    left, passed = 0.0, 0.0
    for h in range(w.size):
        # moving belief leaves rounding behind, which must not count as belief
        if out[h] <= EPS * EPS:
            out[h] = 0.0
            continue
        through = out[h] * k.pass_chance[h]
        passed += through * k.pass_value[h]
        out[h] -= through
        # passing with certainty must leave nothing, not a rounded rest below nothing
        out[h] = max(0.0, out[h])
        left += out[h]
    return left, passed, moved
