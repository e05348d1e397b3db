"""Values that bracket a state's worth: what hindsight would earn, what stopping earns, what a plain policy earns.

A state is a belief ``w`` (H,) that sums to one, and three sets of bits: checks done, repairs tried, panels opened.
"""

import numpy as np
from numba import njit

EPS = 1e-12
LITTLE = 0.01  # belief left over that the plain policy no longer follows


@njit(cache=True)
def panels_to_open(k, needed, opened):
    """Cost of opening and closing the panels in ``needed`` that are not open yet."""
    missing, cost, i = needed & ~opened, 0.0, 0
    while missing:
        if missing & 1:
            cost += k.panel_cost[i]
        missing >>= 1
        i += 1
    return cost


@njit(cache=True)
def stop_now(k, w):
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


@njit(cache=True)
def _price(k, r, opened):
    return k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened)


@njit(cache=True)
def _openings(k, tried, opened):
    """(R,) what opening would cost each repair; infinite for those tried."""
    cost = np.empty(k.repair_cost.size)
    for r in range(cost.size):
        cost[r] = np.inf if tried >> r & 1 else panels_to_open(k, k.repair_panels[r], opened)
    return cost


@njit(cache=True)
def _single_fault(k, fault, fallback, openings):
    """Worth of knowing that this one fault is there: its repairs in their best order, each skipped if idle.

    Optimal for a known fault when opening is free; the least opening cost on the way is charged on top.
    """
    value, least_opening = fallback, np.inf
    for q in range(k.cure_start[fault + 1] - 1, k.cure_start[fault] - 1, -1):
        r = k.cure_repair[q]
        if openings[r] == np.inf:
            continue
        chance = k.cure[r, fault]
        if_not = k.miss * k.lapse + (1.0 - k.miss) * value
        attempt = -k.repair_cost[r] + chance * k.pass_value[0] + (1.0 - chance) * if_not
        value = attempt if k.forced else max(value, attempt)
        least_opening = min(least_opening, openings[r])
    if least_opening == np.inf:
        return fallback
    return value - least_opening if k.forced else max(fallback, value - least_opening)


@njit(cache=True)
def _several_faults(k, h, fallback, openings):
    """Bound on the worth of knowing a set of faults: each needs a repair, whose cost is shared among those it cures.

    What a retest's missing a fault can add to an attempt is taken off its price.
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
            share = min(share, max(0.0, k.repair_cost[r] - k.slip[h]) / sharing)
            least_opening = min(least_opening, openings[r])
        if share == np.inf:
            if not k.forced:
                return fallback
        else:
            cost += share
            opening = max(opening, least_opening)
    cured = max(k.pass_value[0], fallback) if k.forced else k.pass_value[0]
    return cured - cost - opening if k.forced else max(fallback, cured - cost - opening)


@njit(cache=True)
def _lucky(k, h, value, fallback, cheapest, openings):
    """The bound ``value`` with what attempts may add that are made only in the hope that the retest misses a fault."""
    if k.forced:  # going on costs more than stopping would: only the price of one attempt is sure
        return max(value, fallback, k.pass_value[0] - cheapest)
    several = k.members.shape[1] > 1 and k.members[h, 1] != k.cure.shape[1] - 1
    bound = value
    for r in range(k.repair_cost.size):
        if openings[r] < np.inf and (several or k.cure[r, k.members[h, 0]] == 0.0):
            bound += max(0.0, k.slip[h] - k.repair_cost[r])
    return max(value, min(bound, k.pass_value[0] - cheapest))


@njit(cache=True)
def hindsight(k, w, tried, opened, out):
    """Fill ``out`` (H,) with an upper bound on what each set of faults is worth to one who knows it; returns the mean.

    ``out`` is filled only where the belief is positive.
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
        fallback = 0.0 if k.forced else k.ending_hope[h]
        if k.members[h, 0] == none:
            out[h] = max(fallback, k.pass_value[h] - cheapest)
            mean += w[h] * out[h]
            continue
        if k.members.shape[1] == 1 or k.members[h, 1] == none:
            value = _single_fault(k, k.members[h, 0], fallback, openings)
        else:
            value = _several_faults(k, h, fallback, openings)
        if k.passes[h] > 0.0 and (k.forced or k.slip[h] > least_price):
            value = _lucky(k, h, value, fallback, cheapest, openings)
        out[h] = value
        mean += w[h] * value
    return mean


@njit(cache=True)
def after_repair(k, r, w, out):
    """Fill ``out`` with the unnormalised belief after repair ``r`` failed its retest.

    Returns (mass left, value of passing weighted by its chance, mass moved by the repair).
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
        if out[h] <= EPS * EPS:
            out[h] = 0.0
            continue
        through = out[h] * k.passes[h]
        passed += through * k.pass_value[h]
        out[h] -= through
        out[h] = max(0.0, out[h])
        left += out[h]
    return left, passed, moved


@njit(cache=True)
def marginals(k, w, out):
    """Fill ``out`` (F + 1,) with the unnormalised chance of each fault."""
    out[:] = 0.0
    none = out.size - 1
    for h in range(w.size):
        if w[h] > 0.0:
            for m in range(k.members.shape[1]):
                fault = k.members[h, m]
                if fault == none:
                    break
                out[fault] += w[h]


@njit(cache=True)
def chance_to_cure(k, r, chances):
    """Expected number of faults that repair ``r`` cures, from the chance of each fault (F + 1,)."""
    cured = 0.0
    for q in range(k.cured_start[r], k.cured_start[r + 1]):
        cured += chances[k.cured_fault[q]] * k.cure[r, k.cured_fault[q]]
    return cured


@njit(cache=True)
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


@njit(cache=True)
def plain_policy(k, w, tried, opened, scratch, chain):
    """Worth of repairing by chance over cost, stopping where stopping is best: (value, first repair or -1, ending).

    ``scratch`` (2, H) and ``chain`` (4, max(R, F) + 1) are work space. Where an ending is given, what little belief is
    left after many repairs is ended rather than followed.
    """
    now, after = scratch[0], scratch[1]
    now[:] = w
    mass, steps = 1.0, 0
    stop, ending = stop_now(k, now)
    first = -1
    enough = EPS if k.forced else LITTLE
    while mass > enough and steps < k.repair_cost.size:
        r = _next_repair(k, now, tried, opened, chain[3, : k.cure.shape[1]])
        if r < 0:
            break
        if steps == 0:
            first = r
        chain[0, steps] = stop_now(k, now)[0]
        chain[1, steps] = _price(k, r, opened) * mass
        mass, chain[2, steps], _ = after_repair(k, r, now, after)
        now, after = after, now
        tried |= 1 << r
        opened |= k.repair_panels[r]
        steps += 1
    value = stop_now(k, now)[0]
    if value == -np.inf:
        value = 0.0
    for step in range(steps - 1, -1, -1):
        value = chain[2, step] - chain[1, step] + value
        if step > 0:
            value = max(value, chain[0, step])
    if steps == 0:
        return max(stop, 0.0) if k.forced else stop, -1, ending
    if stop >= value:
        return stop, -1, ending
    return value, first, ending
