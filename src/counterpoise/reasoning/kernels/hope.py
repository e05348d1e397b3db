"""What hindsight would earn, kept by the repairs tried and the panels opened: it does not hang on the belief."""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, hindsight
from counterpoise.reasoning.kernels.room import ROWS

DRAWS_ON = "af5caa4f13dac2ed"  # see the package


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
    hindsight(k, np.ones(k.passes.size), tried, opened, room.values[slot])
    right_action(k, room.values[slot], tried, room.calls[slot])
    return slot


@njit(cache=True, nogil=True)
def make_room(room):
    """Forget all rows when they are nearly all taken; to be called where none is in use."""
    if room.filled[0] > ROWS // 2:
        room.known[:] = -1
        room.filled[0] = 0


@njit(cache=True, nogil=True)
def expected(w, values):
    """Mean of ``values`` under the belief."""
    mean = 0.0
    for h in range(w.size):
        mean += w[h] * values[h]
    return mean
