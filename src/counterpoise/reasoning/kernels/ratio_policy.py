"""The policy of repairing by chance over cost, worked out by what each repair changes.

It earns what ``dense_ratio_policy`` of the module of that name says, or less where that would go on
through many repairs that do not pay before one that does. A repair touches few sets of faults, so
chances, endings and mass are carried along, and the failed retest is one factor on all of them.
"""

import numpy as np

from counterpoise.reasoning.kernels.arrays import repair_is_barred
from counterpoise.reasoning.kernels.bounds import EPS, opened_after_failure, opening_cost
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.dense_ratio_policy import LEAST_MASS, PASSING, PRICE, STOPPING
from counterpoise.reasoning.kernels.workspace import PRICED

PATIENCE = 4  # repairs in a row after none of which stopping is worth more than before

SOURCE_DIGEST = "470bc8dace57274e"  # see the package


@kernel_without_refcounts
def list_belief(w, sets, weights):
    """List a belief (H,): where it is positive, and how much there; returns how many sets."""
    count = 0
    for h in range(w.size):
        if w[h] > 0.0:
            sets[count], weights[count] = h, w[h]
            count += 1
    return count


@kernel_without_refcounts
def _price_row(k, opened, work):
    """The row of ``work.prices`` and ``work.per_price`` with these panels open.

    It holds until the next is asked for.
    """
    # folded, so that the high panels count as well
    row = (opened ^ opened >> 6 ^ opened >> 12) & (PRICED - 1)
    if work.price_keys[row] != opened:
        work.price_keys[row] = opened
        for r in range(k.repair_cost.size):
            price = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)
            work.prices[row, r] = price
            work.per_price[row, r] = 1.0 / max(price, EPS)
    return row


@kernel_without_refcounts
def _begin_belief(k, sets, weights, count, work):
    """Set belief, chances of the faults and worth of the endings; returns the belief's mass."""
    now, chances, ends, members = work.now, work.chances, work.ends, work.tables.members
    width, none = members.shape[1], chances.size - 1
    now[:] = 0.0
    chances[:] = 0.0
    mass = 0.0
    for i in range(count):
        h, weight = sets[i], weights[i]
        now[h] = weight
        mass += weight
        for m in range(width):
            fault = members[h, m]
            if fault == none:
                break
            chances[fault] += weight
    # most endings are worth the same under all sets, and need no sum over them
    for e in range(ends.size):
        ends[e] = mass * k.ending_value[e, 0]
    for e in work.tables.varying_endings:
        value = 0.0
        for i in range(count):
            value += weights[i] * k.ending_value[e, sets[i]]
        ends[e] = value
    return mass


@kernel_without_refcounts
def _list_useful(k, tried, per_price, work):
    """List the repairs left that could cure something, with their ratios; returns how many."""
    count = 0
    for r in range(k.repair_cost.size):
        cured = 0.0
        if not tried >> r & 1:
            for q in range(k.cured_start[r], k.cured_start[r + 1]):
                cured += work.chances[k.cured_fault[q]] * work.tables.cured_chance[q]
        work.cured[r] = cured
        # the list shrinks as repairs are tried, so later rounds are short
        if cured > EPS:
            work.rest[count] = r
            work.ratios[r] = cured * per_price[r]
            count += 1
    return count


@kernel_without_refcounts
def _best_place(k, count, mass, scale, tried, work):
    """Place in the list of the repair of largest chance over price, or -1 where none would help.

    One that must wait while a hazard may be there does not count.
    """
    best, place = -1.0, -1
    for i in range(count):
        r = work.rest[i]
        # the belief is scaled by missed retests; what it could still cure counts in true size
        if (
            work.ratios[r] > best
            and work.cured[r] * scale > EPS
            and not repair_is_barred(k, r, work.chances, mass, tried)
        ):
            best, place = work.ratios[r], i
    return place


@kernel_without_refcounts
def _mend(k, r, per_price, work):
    """Move belief as repair ``r`` does, with the worth of endings and what other repairs can cure.

    The moves come by rising source and lead to sets with fewer faults, which stand before it: what
    is at the source is what was there before the repair.
    """
    now, ends, tables = work.now, work.ends, work.tables
    source, whole = -1, 0.0
    for i in range(k.move_start[r], k.move_start[r + 1]):
        # what leaves a set is a share of what was there before the first of its moves
        if tables.source[i] != source:
            source = tables.source[i]
            whole = now[tables.source[i]]
        if whole <= 0.0:
            continue
        step = whole * k.move_chance[i]
        now[tables.source[i]] -= step
        now[tables.target[i]] += step
        for u in range(tables.varying_endings.size):
            ends[tables.varying_endings[u]] += step * tables.ending_gain[i, u]
    for q in range(k.cured_start[r], k.cured_start[r + 1]):
        fault = k.cured_fault[q]
        gone = work.chances[fault] * tables.cured_chance[q]
        if gone == 0.0:
            continue
        work.chances[fault] -= gone
        # what one repair cured is no longer there for the others
        for i in range(k.cure_start[fault], k.cure_start[fault + 1]):
            other = k.cure_repair[i]
            work.cured[other] -= gone * k.cure[other, fault]
            work.ratios[other] = work.cured[other] * per_price[other]


@kernel_without_refcounts
def _best_ending(ends):
    """Best of the endings' worths (E,): (value, index); minus infinity where there is none."""
    best, which = -np.inf, -1
    for e in range(ends.size):
        if ends[e] > best:
            best, which = ends[e], e
    return best, which


@kernel_without_refcounts
def _open_for(k, opened, count, work):
    """Price the repairs anew with these panels open; returns the row of the prices."""
    row = _price_row(k, opened, work)
    for i in range(count):
        r = work.rest[i]
        work.ratios[r] = work.cured[r] * work.per_price[row, r]
    return row


@kernel_without_refcounts
def _worth_of(steps, last, forced, chain):
    """Worth of a chain of repairs, stopping wherever stopping is worth more.

    ``last`` is the worth of what is left at its end.
    """
    value = last
    for step in range(steps - 1, -1, -1):
        value = chain[PASSING, step] - chain[PRICE, step] + value
        if step > 0 and not forced:
            value = max(value, chain[STOPPING, step])
    return value


@kernel_without_refcounts
def ratio_policy_listed(k, sets, weights, count, tried, opened, work):
    """As :func:`ratio_policy`, of the listed belief ``sets`` and ``weights``, ``count`` long."""
    chain, ends, now = work.chain, work.ends, work.now
    row = _price_row(k, opened, work)
    mass, scale, steps, first = _begin_belief(k, sets, weights, count, work), 1.0, 0, -1
    stop, ending = _best_ending(ends)
    left = _list_useful(k, tried, work.per_price[row], work)
    enough, earned, best, waited = (EPS if k.forced else LEAST_MASS), 0.0, stop, 0
    while mass * scale > enough and (k.forced or waited < PATIENCE):
        place = _best_place(k, left, mass, scale, tried, work)
        if place < 0:
            break
        r = np.int64(work.rest[place])
        tried |= 1 << r
        left -= 1
        # the last of the list takes the place: order does not matter there
        work.rest[place] = work.rest[left]
        if steps == 0:
            first = r
        chain[STOPPING, steps] = scale * _best_ending(ends)[0]
        chain[PRICE, steps] = work.prices[row, r] * mass * scale
        _mend(k, r, work.per_price[row], work)
        sound = now[0]  # set 0 is the empty one: it pass_chance
        mass -= sound
        chain[PASSING, steps] = scale * (
            sound * k.pass_value[0] + k.miss_chance * mass * k.comeback_value
        )
        for e in range(ends.size):
            ends[e] -= sound * k.ending_value[e, 0]
        now[0] = 0.0
        scale *= 1.0 - k.miss_chance
        # open panels make the repairs behind them cheaper, shut ones dearer again
        now_open = opened_after_failure(k, r, opened)
        if now_open != opened:
            opened = now_open
            row = _open_for(k, opened, left, work)
        earned += chain[PASSING, steps] - chain[PRICE, steps]
        steps += 1
        waited += 1
        worth = earned + scale * _best_ending(ends)[0]
        # the chain may pay only after several steps, so it is followed a while
        if worth > best:
            best, waited = worth, 0
    if steps == 0:
        return 0.0 if k.forced else stop, -1, ending
    value = _worth_of(steps, 0.0 if k.forced else scale * _best_ending(ends)[0], k.forced, chain)
    if not k.forced and stop >= value:
        return stop, -1, ending
    return value, first, ending


@kernel_without_refcounts
def ratio_policy(k, w, tried, opened, work):
    """Worth of repairing by chance over cost, stopping where that is best.

    Returns (value, first repair or -1, ending). ``w`` (H,) sums to one. Where an ending is given,
    what little belief is left after many repairs is ended rather than followed; and so it is after
    ``PATIENCE`` repairs in a row after none of which stopping is worth more than before.
    """
    count = list_belief(w, work.live, work.weights)
    return ratio_policy_listed(k, work.live, work.weights, count, tried, opened, work)
