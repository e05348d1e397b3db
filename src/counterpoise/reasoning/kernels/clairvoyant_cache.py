"""What hindsight would earn, kept by the repairs tried and the panels opened: it does not hang on the belief."""

import numpy as np

from counterpoise.reasoning.kernels.bounds import EPS, _lucky, _single_fault, panels_to_open
from counterpoise.reasoning.kernels.workspace import ROWS, lean

SOURCE_DIGEST = "86cd0828d5738a1a"  # see the package


@lean
def _set_known(k, h, fallback, room):
    """What :func:`counterpoise.reasoning.kernels.bounds.hindsight` says of a set of several faults, from the tables."""
    tables, openings, least = room.tables, room.openings, room.least
    none, cost, opening = least.size - 1, 0.0, 0.0
    for m in range(tables.members.shape[1]):
        fault = tables.members[h, m]
        if fault == none:
            break
        if least[fault] == np.inf:
            if not k.forced:
                return fallback
            continue
        first, share = k.cure_start[fault], np.inf
        at = tables.share_start[h, m] - first
        for q in range(first, k.cure_start[fault + 1]):
            if openings[k.cure_repair[q]] < np.inf:
                share = min(share, tables.share[at + q])
        cost += share
        opening = max(opening, least[fault])
    cured = max(k.pass_value[0], fallback) if k.forced else k.pass_value[0]
    return cured - cost - opening if k.forced else max(fallback, cured - cost - opening)


@lean
def hindsight_of_all(k, tried, opened, out, room):
    """Fill ``out`` (H,) with what :func:`counterpoise.reasoning.kernels.bounds.hindsight` says of every set."""
    openings, least = room.openings, room.least
    cheapest, least_price = np.inf, np.inf
    for r in range(openings.size):
        openings[r] = np.inf if tried >> r & 1 else panels_to_open(k, k.repair_panels[r], opened)
        cheapest = min(cheapest, k.repair_cost[r] + openings[r])
        if openings[r] < np.inf:
            least_price = min(least_price, k.repair_cost[r])
    none = least.size - 1
    for fault in range(none):
        least[fault] = np.inf
        for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
            least[fault] = min(least[fault], openings[k.cure_repair[q]])
    for h in range(out.size):
        fallback = 0.0 if k.forced else k.ending_hope[h]
        if k.members[h, 0] == none:
            out[h] = max(fallback, k.pass_value[h] - cheapest)
            continue
        if k.members.shape[1] == 1 or k.members[h, 1] == none:
            value = _single_fault(k, k.members[h, 0], fallback, openings)
        else:
            value = _set_known(k, h, fallback, room)
        if k.passes[h] > 0.0 and (k.forced or k.slip[h] > least_price):
            value = _lucky(k, h, value, fallback, cheapest, openings)
        out[h] = value


@lean
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


@lean
def hope_row(k, tried, opened, depth, room):
    """The row of ``room.values`` and ``room.calls`` that tells of these repairs tried and panels opened.

    A row stays until :func:`make_room`; where all are taken, the row of the ``depth`` is used over.
    """
    slot = (tried % 1009 * 127 + opened % 1009) % ROWS
    while room.known[slot, 0] >= 0:
        if room.known[slot, 0] == tried and room.known[slot, 1] == opened:
            return slot
        slot = (slot + 1) % ROWS
    if room.filled[0] < ROWS - 8:  # a free one must remain, or the search for one would not end
        room.filled[0] += 1
        room.known[slot, 0], room.known[slot, 1] = tried, opened
    else:
        slot = ROWS + depth
    hindsight_of_all(k, tried, opened, room.values[slot], room)
    right_action(k, room.values[slot], tried, room.calls[slot])
    return slot


@lean
def make_room(room):
    """Forget all rows when they are nearly all taken; to be called where none is in use."""
    if room.filled[0] > ROWS // 2:
        room.known[:] = -1
        room.filled[0] = 0


@lean
def expected(values, sets, weights, count):
    """Mean of ``values`` (H,) under a listed belief."""
    mean = 0.0
    for i in range(count):
        mean += weights[i] * values[sets[i]]
    return mean
