"""Clairvoyant values kept by the repairs tried and the panels opened: independent of the belief."""

import numpy as np

from counterpoise.reasoning.kernels.bounds import (
    EPS,
    opening_cost,
    single_fault_value,
    with_missed_retests,
)
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.workspace import KEY_OPENED, KEY_TRIED, ROWS

SOURCE_DIGEST = "f8baa0c618477596"  # see the package


@kernel_without_refcounts
def _several_faults_of_tables(k, h, fallback, work):
    """The bound of hindsight on a set of several faults, from the tables of the workspace."""
    tables, openings, least = work.tables, work.openings, work.least
    none, cost, opening, anew, saved = least.size - 1, 0.0, 0.0, 0.0, 0.0
    for m in range(tables.members.shape[1]):
        fault = tables.members[h, m]
        if fault == none:
            break
        if least[fault] == np.inf:
            if not k.forced:
                return fallback
            continue
        first, share, share_anew = k.cure_start[fault], np.inf, np.inf
        # shares lie repair by repair, in the order of the fault's repairs
        at = tables.share_start[h, m] - first
        for q in range(first, k.cure_start[fault + 1]):
            # infinite where the repair was tried
            if openings[k.cure_repair[q]] < np.inf:
                share = min(share, tables.share[at + q])
                share_anew = min(share_anew, tables.share_anew[at + q])
        cost += share
        anew += share_anew
        opening = max(opening, least[fault])
        saved = max(saved, work.saved[fault])
    total = max(cost + opening, anew - saved)
    cured = max(k.pass_value[0], fallback) if k.forced else k.pass_value[0]
    return cured - total if k.forced else max(fallback, cured - total)


@kernel_without_refcounts
def hindsight_of_all_sets(k, tried, opened, out, work):
    """Fill ``out`` (H,) with what one who knows each set of faults would earn.

    The values are those of :func:`counterpoise.reasoning.kernels.bounds.hindsight`, of every set.
    """
    openings, least = work.openings, work.least
    cheapest, least_price = np.inf, np.inf
    for r in range(openings.size):
        openings[r] = np.inf if tried >> r & 1 else opening_cost(k, k.repair_panels[r], opened)
        cheapest = min(cheapest, k.repair_cost[r] + openings[r])
        if openings[r] < np.inf:
            least_price = min(least_price, k.repair_cost[r])
    none = least.size - 1
    # by fault first, for a fault stands in many sets
    for fault in range(none):
        least[fault], work.saved[fault] = np.inf, 0.0
        for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
            r = k.cure_repair[q]
            least[fault] = min(least[fault], openings[r])
            # nothing by a repair that was tried: its opening counts as infinite
            work.saved[fault] = max(work.saved[fault], k.reopening[r] - openings[r])
    for h in range(out.size):
        fallback = 0.0 if k.forced else k.ending_bound[h]
        if k.members[h, 0] == none:
            out[h] = max(fallback, k.pass_value[h] - cheapest)
            continue
        if k.members.shape[1] == 1 or k.members[h, 1] == none:
            value = single_fault_value(k, k.members[h, 0], fallback, openings)
        else:
            value = _several_faults_of_tables(k, h, fallback, work)
        if k.pass_chance[h] > 0.0 and (k.forced or k.miss_gain[h] > least_price):
            value = with_missed_retests(k, h, value, fallback, cheapest, openings)
        out[h] = value


@kernel_without_refcounts
def fill_best_repairs(k, values, tried, out):
    """Fill ``out`` (H,) with the best repair under each set of faults, R where none pays.

    ``values`` (H,) are the clairvoyant values. In a set of several faults the dearest repair
    speaks.
    """
    none, repairs = k.cure.shape[1] - 1, k.repair_cost.size
    for h in range(values.size):
        out[h] = repairs
        # ending at once earns as much as any repair
        if not k.forced and values[h] <= k.ending_bound[h] + EPS:
            continue
        dearest = -1.0
        for m in range(k.members.shape[1]):
            fault = k.members[h, m]
            if fault == none:
                break
            for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
                r = k.cure_repair[q]
                if not tried >> r & 1:
                    # the dear repair is what a check can save, so it is the one to be sure of
                    if k.repair_cost[r] > dearest:
                        dearest, out[h] = k.repair_cost[r], r
                    break


@kernel_without_refcounts
def clairvoyant_row(k, tried, opened, depth, work):
    """The row of ``work.values`` and ``work.best_repair`` after these repairs and panels (bits).

    A row stays until :func:`forget_rows`; where all are taken, the row of the ``depth`` is used
    over.
    """
    # a prime and a factor that spread neighbouring bits over the rows
    slot = (tried % 1009 * 127 + opened % 1009) % ROWS
    while work.row_keys[slot, KEY_TRIED] >= 0:
        if work.row_keys[slot, KEY_TRIED] == tried and work.row_keys[slot, KEY_OPENED] == opened:
            return slot
        slot = (slot + 1) % ROWS
    # a free row must remain, or the search for one would not end
    if work.rows_filled[0] < ROWS - 8:
        work.rows_filled[0] += 1
        work.row_keys[slot, KEY_TRIED], work.row_keys[slot, KEY_OPENED] = tried, opened
    else:
        slot = ROWS + depth
    hindsight_of_all_sets(k, tried, opened, work.values[slot], work)
    fill_best_repairs(k, work.values[slot], tried, work.best_repair[slot])
    return slot


@kernel_without_refcounts
def forget_rows(work):
    """Forget all rows when they are nearly all taken; to be called where none is in use."""
    # half full: beyond, the search for a row grows long
    if work.rows_filled[0] > ROWS // 2:
        work.row_keys[:] = -1
        work.rows_filled[0] = 0


@kernel_without_refcounts
def expected_value(values, sets, weights, count):
    """Mean of ``values`` (H,) under a listed belief of ``count`` sets."""
    mean = 0.0
    for i in range(count):
        mean += weights[i] * values[sets[i]]
    return mean
