"""Workspace of the policies' kernels, and the tables of the model in the form summed over fastest.

A belief is *listed* here: the sets of faults it holds possible, rising, and the chance of each.
Most checks and repairs speak of few sets, and further down few are left, so that the lists are a
fraction of all sets.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.compilation import kernel
from counterpoise.reasoning.kernels.dense_ratio_policy import CHAIN_ROWS

SOURCE_DIGEST = "b6e043220880c35c"  # see the package

DEEPEST = 9  # checks in a row that the checking policy follows
ROWS = 512  # rows of clairvoyant values kept
PRICED = 64  # rows of prices kept; a power of two, for a row is found by masking bits
LANES = 4  # outcomes summed at once: a check with fewer has outcomes of no chance added
# Without a sign, or the compiler would look for negative indices at every access.
Index = NDArray[np.uint32]

# Places in a frame of ``Workspace.frames``: what is done, tried and open (bits); the check looked
# into, or -1; its next outcome; the act of repairing by ratio, as the planner numbers it; checks
# that tell nothing further down (bits); the row of clairvoyant values; how many sets are listed.
DONE, TRIED, OPENED, CHECK, NEXT, RATIO_ACT, IDLE_CHECKS, ROW, LISTED = range(9)
FRAME = 9
# Places in a frame of ``Workspace.sums``: the chance of coming here, the worth of repairing by
# ratio, the worth of the check so far, the chance of the outcome looked into.
REACH, RATIO_WORTH, SO_FAR, PART = range(4)
SUMS = 4
# Columns of ``Workspace.row_keys``.
KEY_TRIED, KEY_OPENED = range(2)


class Tables(NamedTuple):
    """What the kernels only read; two workspaces share it. B blocks of LANES outcomes.

    Under most sets of faults the outcomes of a check are as likely as where nothing is wrong:
    ``base_chance`` holds that column, ``deviating_set`` the N sets that differ and ``deviation`` by
    how much.
    """

    order: Ints  # (C,) the checks, cheapest first
    base_chance: Floats  # (C, B, LANES)
    deviating_start: Ints  # (C + 1,) into deviating_set
    deviating_set: Index  # (N,)
    deviation: Floats  # (N, B, LANES)
    members: Index  # (H, M) faults of a set, padded with F
    source: Index  # (K,) of the moves
    target: Index  # (K,)
    varying_endings: Ints  # (U,) endings whose worth depends on what is wrong
    ending_gain: Floats  # (K, U) of these endings by each move
    cured_chance: Floats  # (Q,) beside k.cured_fault
    share_start: Ints  # (H, M) into share
    share: Floats  # for each fault of a set, what each of its repairs costs it at least
    share_anew: Floats  # the same with opening after a failed retest


class Workspace(NamedTuple):
    """Workspace of the policies, by depth where the first size is D; N clairvoyant rows."""

    tables: Tables
    sets: Index  # (D, H) listed beliefs
    beliefs: Floats  # (D, H) the chances of these sets
    values: Floats  # (N + D + 2, H) clairvoyant values, by repairs tried and panels opened
    best_repair: NDArray[np.uint8]  # (N + D + 2, H) the repair for each set then, R for none
    row_keys: Ints  # (N, 2) of which repairs and panels a row tells, -1 where of none
    rows_filled: Ints  # (1,)
    now: Floats  # (H,)
    dense: Floats  # (H,) all zero but where a belief is looked at by set
    chain: Floats  # (CHAIN_ROWS, max(R, F) + 1)
    by_repair: Floats  # (R + 1,) belief by the repair that is best
    candidates: Index  # (R + 1,) repairs that are best under some set held possible
    candidate_count: Ints  # (1,)
    frames: Ints  # (D, FRAME)
    sums: Floats  # (D, SUMS)
    chances: Floats  # (F + 1,)
    at_risk: Floats  # (F + 1,) chances of the faults where a run is weighed
    ones: Floats  # (H,)
    ends: Floats  # (E,)
    prices: Floats  # (P, R) of the repairs, by the panels open
    per_price: Floats  # (P, R) one over them
    price_keys: Ints  # (P,) the panels open for each of these rows, -1 where none
    openings: Floats  # (R,) what opening would cost each repair; infinite for those tried
    least: Floats  # (F + 1,) the least of them for each fault
    saved: Floats  # (F + 1,) most that standing open now saves on opening anew, for each fault
    cured: Floats  # (R,) chance of each repair to cure something
    ratios: Floats  # (R,) the same over its price
    rest: Index  # (R,) repairs that may still help
    live: Index  # (H,) a listed belief
    weights: Floats  # (H,) its chances
    shift: Floats  # (R + 1, LANES)
    root_sets: Index  # (H,) the belief that is looked ahead of
    root_weights: Floats  # (H,)
    left: Floats  # (H,) a belief after a repair
    worth: Floats  # (C + R,) of each action, as far as it is known
    telling: Floats  # (C + R,) what each check tells for its cost
    chosen: NDArray[np.bool_]  # (C + R,)


def new_workspace(k: Arrays, beside: Workspace | None = None) -> Workspace:
    """Workspace for the kernels that plan ahead; shares the tables of ``beside`` if it is given."""
    sets, repairs, depth = k.pass_chance.size, k.repair_cost.size, DEEPEST + 1
    actions, faults = k.check_cost.size + repairs, k.cure.shape[1]
    # one row a depth, and two that look one step ahead, are used over where all others are taken
    rows = ROWS + depth + 2
    # everything is made once: the kernels that use it must make no array
    return Workspace(
        tables=beside.tables if beside else tables_of(k),
        sets=np.zeros((depth, sets), dtype=np.uint32),
        beliefs=np.zeros((depth, sets)),
        values=np.zeros((rows, sets)),
        best_repair=np.zeros((rows, sets), dtype=np.uint8),
        row_keys=np.full((ROWS, 2), -1, dtype=np.int64),
        rows_filled=np.zeros(1, dtype=np.int64),
        now=np.zeros(sets),
        dense=np.zeros(sets),
        chain=np.zeros((CHAIN_ROWS, max(repairs, faults) + 1)),
        by_repair=np.zeros(repairs + 1),
        candidates=np.zeros(repairs + 1, dtype=np.uint32),
        candidate_count=np.zeros(1, dtype=np.int64),
        frames=np.zeros((depth, FRAME), dtype=np.int64),
        sums=np.zeros((depth, SUMS)),
        chances=np.zeros(faults),
        at_risk=np.zeros(faults),
        ones=np.ones(sets),
        ends=np.zeros(k.ending_value.shape[0]),
        prices=np.zeros((PRICED, repairs)),
        per_price=np.zeros((PRICED, repairs)),
        price_keys=np.full(PRICED, -1, dtype=np.int64),
        openings=np.zeros(repairs),
        least=np.zeros(faults),
        saved=np.zeros(faults),
        cured=np.zeros(repairs),
        ratios=np.zeros(repairs),
        rest=np.zeros(repairs, dtype=np.uint32),
        live=np.zeros(sets, dtype=np.uint32),
        weights=np.zeros(sets),
        shift=np.zeros((repairs + 1, LANES)),
        root_sets=np.zeros(sets, dtype=np.uint32),
        root_weights=np.zeros(sets),
        left=np.zeros(sets),
        worth=np.zeros(actions),
        telling=np.zeros(actions),
        chosen=np.zeros(actions, dtype=np.bool_),
    )


def tables_of(k: Arrays) -> Tables:
    """The tables of a problem, from its arrays."""
    checks, outcomes, _ = k.table.shape
    blocks = -(-outcomes // LANES)
    base = np.zeros((checks, blocks * LANES))
    base[:, :outcomes] = k.table[:, :, 0]
    start, which, by = _deviating_sets(k.table, blocks * LANES)
    # an ending worth the same whatever is wrong needs no table of its own
    varying = np.flatnonzero((k.ending_value != k.ending_value[:, :1]).any(axis=1))
    ends = k.ending_value[varying]
    share_start, share, share_anew = _shares(k)
    return Tables(
        order=np.argsort(k.check_cost, kind="stable").astype(np.int64),
        base_chance=base.reshape(checks, blocks, LANES),
        deviating_start=start,
        deviating_set=which,
        deviation=by.reshape(-1, blocks, LANES),
        members=k.members.astype(np.uint32),
        source=k.move_source.astype(np.uint32),
        target=k.move_target.astype(np.uint32),
        varying_endings=varying.astype(np.int64),
        ending_gain=np.ascontiguousarray((ends[:, k.move_target] - ends[:, k.move_source]).T),
        cured_chance=k.cure[k.cure > 0],
        share_start=share_start,
        share=share,
        share_anew=share_anew,
    )


@kernel
def _deviating_sets(table, wide):
    """Where outcomes are not as likely as under the empty set, and by how much.

    Returns (start (C + 1,), sets (N,), deviations (N, ``wide``)) as in :class:`Tables`.
    """
    checks, outcomes, sets = table.shape
    start, which = np.zeros(checks + 1, np.int64), np.empty(checks * sets, np.uint32)
    count = 0
    for c in range(checks):
        for h in range(sets):
            for o in range(outcomes):
                # exactly unlike: a difference of rounding would only cost time
                if table[c, o, h] != table[c, o, 0]:
                    which[count] = h
                    count += 1
                    break
        start[c + 1] = count
    by = np.zeros((count, wide))
    for c in range(checks):
        for i in range(start[c], start[c + 1]):
            for o in range(outcomes):
                by[i, o] = table[c, o, which[i]] - table[c, o, 0]
    return start, which[:count].copy(), by


@kernel
def _shares(k):
    """What each repair costs each fault of a set at least, shared by the faults that it cures.

    That is its price less what a missing retest may add. Repairs come in the order of
    ``k.cure_repair``. Returns ((H, M) where the shares of each fault start, the shares, the shares
    with opening after a failed retest).
    """
    sets, width = k.members.shape
    none, count = k.cure.shape[1] - 1, 0
    start = np.zeros((sets, width), np.int64)
    for h in range(sets):
        for m in range(width):
            start[h, m] = count
            if k.members[h, m] < none:
                count += k.cure_start[k.members[h, m] + 1] - k.cure_start[k.members[h, m]]
    share, share_anew, at = np.empty(count), np.empty(count), 0
    for h in range(sets):
        for m in range(width):
            fault = k.members[h, m]
            if fault == none:
                break
            for q in range(k.cure_start[fault], k.cure_start[fault + 1]):
                r, sharing = k.cure_repair[q], 0
                for n in range(width):
                    if k.cure[r, k.members[h, n]] > 0.0:
                        sharing += 1
                price = k.repair_cost[r] - k.miss_gain[h]
                share[at] = max(0.0, price) / sharing
                share_anew[at] = max(0.0, price + k.reopening[r]) / sharing
                at += 1
    return start, share, share_anew
