"""Brackets of a state's worth: what hindsight, stopping, and repairing by ratio would earn.

A state is a belief ``w`` (H,) that sums to one, and three sets of bits: checks done, repairs tried,
panels opened.
"""

import numpy as np

from counterpoise.reasoning.kernels.compilation import kernel

SOURCE_DIGEST = "c2062c3ac4d1b828"  # see the package

EPS = 1e-12
# Belief left over that repairing by ratio no longer follows where stopping is allowed.
LEAST_MASS = 0.01
# Rows of a chain of repairs, by step: worth of stopping before it, its price, what passing then
# earns; the last row is scratch for the chances of the faults.
STOPPING, PRICE, PASSING, CHANCES = range(4)
CHAIN_ROWS = 4


@kernel
def opening_cost(k, needed, opened):
    """Cost of opening and closing the panels in ``needed`` (bits) that are not open yet."""
    missing, cost, i = needed & ~opened, 0.0, 0
    while missing:
        if missing & 1:
            cost += k.panel_cost[i]
        missing >>= 1
        i += 1
    return cost


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
            if w[h] > 0.0:
                value += w[h] * k.ending_value[e, h]
        if value > best:
            best, which = value, e
    return best, which


@kernel
def _price(k, r, opened):
    return k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)


@kernel
def _openings(k, tried, opened):
    """(R,) what opening would cost each repair; infinite for those tried."""
    cost = np.empty(k.repair_cost.size)
    for r in range(cost.size):
        cost[r] = np.inf if tried >> r & 1 else opening_cost(k, k.repair_panels[r], opened)
    return cost


@kernel
def single_fault_value(k, fault, fallback, openings):
    """Worth of knowing that this one fault is there: its repairs in their best order.

    A repair that does not pay is skipped. Optimal for a known fault when opening is free; the least
    opening cost on the way is charged on top, so the value is an admissible bound.
    """
    value, least_opening = fallback, np.inf
    for q in range(k.cure_start[fault + 1] - 1, k.cure_start[fault] - 1, -1):
        r = k.cure_repair[q]
        if openings[r] == np.inf:
            continue
        chance = k.cure[r, fault]
        if_not = k.miss_chance * k.comeback_value + (1.0 - k.miss_chance) * value
        attempt = -k.repair_cost[r] + chance * k.pass_value[0] + (1.0 - chance) * if_not
        value = attempt if k.forced else max(value, attempt)
        least_opening = min(least_opening, openings[r])
    if least_opening == np.inf:
        return fallback
    return value - least_opening if k.forced else max(fallback, value - least_opening)


@kernel
def _several_faults(k, h, fallback, openings):
    """Upper bound on the worth of knowing that all faults of set ``h`` are there.

    Each fault needs a repair, whose cost is shared among the faults that it cures. What a retest's
    missing a fault can add to an attempt is taken off its price.
    """
    cost, opening = 0.0, 0.0
    for m in range(k.members.shape[1]):
        fault = k.members[h, m]
        if fault == k.cure.shape[1] - 1:
            break
        share, least_opening = np.inf, np.inf
        for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
            r = k.cure_repair[q]
            if openings[r] == np.inf:
                continue
            sharing = 0
            for n in range(k.members.shape[1]):
                if k.cure[r, k.members[h, n]] > 0.0:
                    sharing += 1
            share = min(share, max(0.0, k.repair_cost[r] - k.miss_gain[h]) / sharing)
            least_opening = min(least_opening, openings[r])
        if share == np.inf:
            if not k.forced:
                return fallback
        else:
            cost += share
            opening = max(opening, least_opening)
    cured = max(k.pass_value[0], fallback) if k.forced else k.pass_value[0]
    return cured - cost - opening if k.forced else max(fallback, cured - cost - opening)


@kernel
def with_missed_retests(k, h, value, fallback, cheapest, openings):
    """The bound ``value``, raised by attempts made only in the hope of a missed fault."""
    # going on may cost more than stopping would: only the price of one attempt is sure
    if k.forced:
        return max(value, fallback, k.pass_value[0] - cheapest)
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
        fallback = 0.0 if k.forced else k.ending_bound[h]
        if k.members[h, 0] == none:
            out[h] = max(fallback, k.pass_value[h] - cheapest)
            mean += w[h] * out[h]
            continue
        if k.members.shape[1] == 1 or k.members[h, 1] == none:
            value = single_fault_value(k, k.members[h, 0], fallback, openings)
        else:
            value = _several_faults(k, h, fallback, openings)
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
        out[h] = max(0.0, out[h])
        left += out[h]
    return left, passed, moved


@kernel
def marginals(k, w, out):
    """Fill ``out`` (F + 1,) with the unnormalised probability of each fault."""
    out[:] = 0.0
    none = out.size - 1
    for h in range(w.size):
        if w[h] > 0.0:
            for m in range(k.members.shape[1]):
                fault = k.members[h, m]
                if fault == none:
                    break
                out[fault] += w[h]


@kernel
def chance_to_cure(k, r, chances):
    """Expected number of faults that repair ``r`` cures; ``chances`` (F + 1,) of the faults."""
    cured = 0.0
    for q in range(k.cured_start[r], k.cured_start[r + 1]):
        cured += chances[k.cured_fault[q]] * k.cure[r, k.cured_fault[q]]
    return cured


@kernel
def _next_repair(k, w, tried, opened, chances):
    """The repair of largest chance to cure something over its cost; -1 where none helps."""
    marginals(k, w, chances)
    best, which = -1.0, -1
    for r in range(k.repair_cost.size):
        if tried >> r & 1:
            continue
        cured = chance_to_cure(k, r, chances)
        if cured > EPS:
            ratio = cured / max(_price(k, r, opened), EPS)
            if ratio > best:
                best, which = ratio, r
    return which


@kernel
def dense_ratio_policy(k, w, tried, opened, scratch, chain):
    """Worth of repairing by chance over cost, stopping where that is best, set by set of faults.

    Returns (value, first repair or -1, ending). ``scratch`` (2, H) and ``chain`` (CHAIN_ROWS,
    max(R, F) + 1) are workspace. Where an ending is given, what little belief is left after many
    repairs is ended rather than followed: a lower bound all the same.
    """
    now, after = scratch[0], scratch[1]
    now[:] = w
    mass, steps = 1.0, 0
    stop, ending = best_ending(k, now)
    first = -1
    enough = EPS if k.forced else LEAST_MASS
    while mass > enough and steps < k.repair_cost.size:
        r = _next_repair(k, now, tried, opened, chain[CHANCES, : k.cure.shape[1]])
        if r < 0:
            break
        if steps == 0:
            first = r
        chain[STOPPING, steps] = best_ending(k, now)[0]
        chain[PRICE, steps] = _price(k, r, opened) * mass
        mass, chain[PASSING, steps], _ = after_repair(k, r, now, after)
        now, after = after, now
        tried |= 1 << r
        opened |= k.repair_panels[r]
        steps += 1
    # backwards, so that each step may stop where going on is worth less
    value = best_ending(k, now)[0]
    if value == -np.inf:
        value = 0.0
    for step in range(steps - 1, -1, -1):
        value = chain[PASSING, step] - chain[PRICE, step] + value
        if step > 0:
            value = max(value, chain[STOPPING, step])
    if steps == 0:
        return max(stop, 0.0) if k.forced else stop, -1, ending
    if stop >= value:
        return stop, -1, ending
    return value, first, ending
