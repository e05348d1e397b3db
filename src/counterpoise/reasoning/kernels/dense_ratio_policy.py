"""Repairing by chance over cost, set by set of faults: the lower bound of the exact search.

:mod:`counterpoise.reasoning.kernels.ratio_policy` earns the same by what each repair changes, and
is faster where there are many sets.
"""

import numpy as np

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    best_ending,
    opened_after_failure,
    opening_cost,
)
from counterpoise.reasoning.kernels.compilation import kernel

SOURCE_DIGEST = "fe1325804f3ed9ba"  # see the package

# Belief left over that repairing by ratio no longer follows where stopping is allowed.
LEAST_MASS = 0.01
# Rows of a chain of repairs, by step: worth of stopping before it, its price, what passing then
# earns; the last row is scratch for the chances of the faults.
STOPPING, PRICE, PASSING, CHANCES = range(4)
CHAIN_ROWS = 4


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
        # a free repair that cures nothing would come first, and only be in the way
        if cured > EPS:
            price = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)
            ratio = cured / max(price, EPS)
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
    # where one may not stop, the faintest belief still has to be repaired
    enough = EPS if k.forced else LEAST_MASS
    while mass > enough and steps < k.repair_cost.size:
        r = _next_repair(k, now, tried, opened, chain[CHANCES, : k.cure.shape[1]])
        if r < 0:
            break
        if steps == 0:
            first = r
        chain[STOPPING, steps] = best_ending(k, now)[0]
        price = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)
        chain[PRICE, steps] = price * mass
        mass, chain[PASSING, steps], _ = after_repair(k, r, now, after)
        # the two rows of scratch take turns, so nothing is copied
        now, after = after, now
        tried |= 1 << r
        opened = opened_after_failure(k, r, opened)
        steps += 1
    # backwards, so that each step may stop where going on is worth less
    value = best_ending(k, now)[0]
    # no ending and no repair left: the work stops, and earns nothing more
    if value == -np.inf:
        value = 0.0
    for step in range(steps - 1, -1, -1):
        value = chain[PASSING, step] - chain[PRICE, step] + value
        # stopping before the first repair is weighed below, so that its ending can be named
        if step > 0:
            value = max(value, chain[STOPPING, step])
    if steps == 0:
        return max(stop, 0.0) if k.forced else stop, -1, ending
    if stop >= value:
        return stop, -1, ending
    return value, first, ending
