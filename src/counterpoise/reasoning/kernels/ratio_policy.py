"""The plain policy of repairing by chance over cost, worked out by what each repair changes.

It earns what :func:`counterpoise.reasoning.kernels.bounds.plain_policy` says, or less where that would go on through
many repairs that do not pay before one that does. A repair touches few sets of faults, so chances, endings and mass are
carried along, and the failed retest is one factor on all of them.
"""

import numpy as np

from counterpoise.reasoning.kernels.bounds import EPS, LITTLE, panels_to_open
from counterpoise.reasoning.kernels.workspace import PRICED, lean

PATIENCE = 4

SOURCE_DIGEST = "86cd0828d5738a1a"  # see the package


@lean
def list_belief(w, sets, weights):
    """List a belief (H,): where it is positive, and how much there; returns how many."""
    count = 0
    for h in range(w.size):
        if w[h] > 0.0:
            sets[count], weights[count] = h, w[h]
            count += 1
    return count


@lean
def _priced(k, opened, room):
    """The row of ``room.prices`` and ``room.thrift`` with these panels open; it holds until the next is asked for."""
    row = (opened ^ opened >> 6 ^ opened >> 12) & (PRICED - 1)
    if room.priced[row] != opened:
        room.priced[row] = opened
        for r in range(k.repair_cost.size):
            price = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened)
            room.prices[row, r] = price
            room.thrift[row, r] = 1.0 / max(price, EPS)
    return row


@lean
def _begin(k, sets, weights, count, room):
    """Set belief, chances of the faults and worth of the endings; returns the mass of the belief."""
    now, chances, ends, members = room.now, room.chances, room.ends, room.tables.members
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
    for e in range(ends.size):
        ends[e] = mass * k.ending_value[e, 0]
    for e in room.tables.uneven:
        value = 0.0
        for i in range(count):
            value += weights[i] * k.ending_value[e, sets[i]]
        ends[e] = value
    return mass


@lean
def _hopeful(k, tried, thrift, room):
    """List the repairs not tried yet that could cure something, with their ratios; returns how many."""
    count = 0
    for r in range(k.repair_cost.size):
        cured = 0.0
        if not tried >> r & 1:
            for q in range(k.cured_start[r], k.cured_start[r + 1]):
                cured += room.chances[k.cured_fault[q]] * room.tables.cured_chance[q]
        room.cured[r] = cured
        if cured > EPS:
            room.rest[count] = r
            room.ratios[r] = cured * thrift[r]
            count += 1
    return count


@lean
def _take_best(count, scale, room):
    """Take the hopeful repair of largest chance to cure something over its price off the list: its place, or -1."""
    best, place = -1.0, -1
    for i in range(count):
        r = room.rest[i]
        if room.ratios[r] > best and room.cured[r] * scale > EPS:
            best, place = room.ratios[r], i
    return place


@lean
def _mend(k, r, thrift, room):
    """Move belief as repair ``r`` does, with the worth of the endings, and what other repairs have left to cure.

    The moves come by rising source and lead to sets with fewer faults, which stand before it: what is at the source is
    what was there before the repair.
    """
    now, ends, tables = room.now, room.ends, room.tables
    source, whole = -1, 0.0
    for i in range(k.move_start[r], k.move_start[r + 1]):
        if tables.source[i] != source:
            source = tables.source[i]
            whole = now[tables.source[i]]
        if whole <= 0.0:
            continue
        step = whole * k.move_chance[i]
        now[tables.source[i]] -= step
        now[tables.target[i]] += step
        for u in range(tables.uneven.size):
            ends[tables.uneven[u]] += step * tables.gain[i, u]
    for q in range(k.cured_start[r], k.cured_start[r + 1]):
        fault = k.cured_fault[q]
        gone = room.chances[fault] * tables.cured_chance[q]
        if gone == 0.0:
            continue
        room.chances[fault] -= gone
        for i in range(k.cure_start[fault], k.cure_start[fault + 1]):
            other = k.cure_repair[i]
            room.cured[other] -= gone * k.cure[other, fault]
            room.ratios[other] = room.cured[other] * thrift[other]


@lean
def _best_ending(ends):
    best, which = -np.inf, -1
    for e in range(ends.size):
        if ends[e] > best:
            best, which = ends[e], e
    return best, which


@lean
def _open_for(k, opened, count, room):
    """Price the repairs anew with these panels open; returns the row of the prices."""
    row = _priced(k, opened, room)
    for i in range(count):
        r = room.rest[i]
        room.ratios[r] = room.cured[r] * room.thrift[row, r]
    return row


@lean
def _worth_of(steps, last, forced, chain):
    """Worth of a chain of repairs, stopping wherever stopping is worth more; ``last`` is what is left at its end."""
    value = last
    for step in range(steps - 1, -1, -1):
        value = chain[2, step] - chain[1, step] + value
        if step > 0 and not forced:
            value = max(value, chain[0, step])
    return value


@lean
def repair_listed(k, sets, weights, count, tried, opened, room):
    """As :func:`repair_by_ratio`, of a listed belief: the first ``count`` of ``sets`` and ``weights``."""
    chain, ends, now = room.chain, room.ends, room.now
    row = _priced(k, opened, room)
    mass, scale, steps, first = _begin(k, sets, weights, count, room), 1.0, 0, -1
    stop, ending = _best_ending(ends)
    left = _hopeful(k, tried, room.thrift[row], room)
    enough, earned, best, waited = (EPS if k.forced else LITTLE), 0.0, stop, 0
    while mass * scale > enough and (k.forced or waited < PATIENCE):
        place = _take_best(left, scale, room)
        if place < 0:
            break
        r = np.int64(room.rest[place])
        left -= 1
        room.rest[place] = room.rest[left]
        if steps == 0:
            first = r
        chain[0, steps] = scale * _best_ending(ends)[0]
        chain[1, steps] = room.prices[row, r] * mass * scale
        _mend(k, r, room.thrift[row], room)
        sound = now[0]  # set 0 is the empty one: it passes
        mass -= sound
        chain[2, steps] = scale * (sound * k.pass_value[0] + k.miss * mass * k.lapse)
        for e in range(ends.size):
            ends[e] -= sound * k.ending_value[e, 0]
        now[0] = 0.0
        scale *= 1.0 - k.miss
        if k.repair_panels[r] & ~opened:
            opened |= k.repair_panels[r]
            row = _open_for(k, opened, left, room)
        earned += chain[2, steps] - chain[1, steps]
        steps += 1
        waited += 1
        worth = earned + scale * _best_ending(ends)[0]
        if worth > best:
            best, waited = worth, 0
    if steps == 0:
        return 0.0 if k.forced else stop, -1, ending
    value = _worth_of(steps, 0.0 if k.forced else scale * _best_ending(ends)[0], k.forced, chain)
    if not k.forced and stop >= value:
        return stop, -1, ending
    return value, first, ending


@lean
def repair_by_ratio(k, w, tried, opened, room):
    """Worth of repairing by chance over cost, stopping where stopping is best: (value, first repair or -1, ending).

    ``w`` (H,) sums to one. Where an ending is given, what little belief is left after many repairs is ended rather than
    followed; and so it is after ``PATIENCE`` repairs in a row after none of which stopping is worth more than before.
    """
    count = list_belief(w, room.live, room.weights)
    return repair_listed(k, room.live, room.weights, count, tried, opened, room)
