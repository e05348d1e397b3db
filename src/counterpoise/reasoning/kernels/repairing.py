"""The plain policy of repairing by chance over cost, worked out by what each repair changes.

It earns what :func:`counterpoise.reasoning.kernels.bounds.plain_policy` says, or less where that would go on through
many repairs that do not pay before one that does. A repair touches few sets of faults, so chances, endings and mass are
carried along, and the failed retest is one factor on all of them.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, LITTLE, panels_to_open

PATIENCE = 4

DRAWS_ON = "f4c70fa061ca5ff5"  # see the package


@njit(cache=True, nogil=True)
def repair_prices(k, opened, out):
    """Fill ``out`` (R,) with what each repair costs with the panels still to open."""
    for r in range(out.size):
        out[r] = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], opened)


@njit(cache=True, nogil=True)
def _begin(k, w, room):
    """Set belief, chances of the faults and worth of the endings; returns the mass of the belief."""
    now, chances, ends = room.scratch[0], room.chances, room.ends
    width, none = k.members.shape[1], k.cure.shape[1] - 1
    chances[:] = 0.0
    mass = 0.0
    for h in range(w.size):
        now[h] = w[h]
        if w[h] > 0.0:
            mass += w[h]
            for m in range(width):
                fault = k.members[h, m]
                if fault == none:
                    break
                chances[fault] += w[h]
    for e in range(ends.size):
        value = 0.0
        if room.uneven[e]:
            for h in range(w.size):
                value += w[h] * k.ending_value[e, h]
        else:
            value = mass * k.ending_value[e, 0]
        ends[e] = value
    return mass


@njit(cache=True, nogil=True)
def _hopeful(k, tried, prices, room):
    """List the repairs not tried yet that could cure something, with their ratios; returns how many."""
    count = 0
    for r in range(k.repair_cost.size):
        room.cured[r] = 0.0
        if tried >> r & 1:
            continue
        for q in range(k.cured_start[r], k.cured_start[r + 1]):
            fault = k.cured_fault[q]
            room.cured[r] += room.chances[fault] * k.cure[r, fault]
        if room.cured[r] > EPS:
            room.rest[count] = r
            room.ratios[r] = room.cured[r] / max(prices[r], EPS)
            count += 1
    return count


@njit(cache=True, nogil=True)
def _take_best(count, scale, room):
    """Take the hopeful repair of largest chance to cure something over its price off the list: its place, or -1."""
    best, place = -1.0, -1
    for i in range(count):
        r = room.rest[i]
        if room.ratios[r] > best and room.cured[r] * scale > EPS:
            best, place = room.ratios[r], i
    return place


@njit(cache=True, nogil=True)
def _mend(k, r, prices, room):
    """Move belief as repair ``r`` does, with the worth of the endings, and what other repairs have left to cure."""
    now, ends, first = room.scratch[0], room.ends, k.move_start[r]
    for i in range(first, k.move_start[r + 1]):
        room.steps[i - first] = now[k.move_source[i]] * k.move_chance[i]
    for i in range(first, k.move_start[r + 1]):
        step, source, target = room.steps[i - first], k.move_source[i], k.move_target[i]
        now[source] -= step
        now[target] += step
        for e in range(ends.size):
            if room.uneven[e]:
                ends[e] += step * (k.ending_value[e, target] - k.ending_value[e, source])
    for q in range(k.cured_start[r], k.cured_start[r + 1]):
        fault = k.cured_fault[q]
        gone = room.chances[fault] * k.cure[r, fault]
        room.chances[fault] -= gone
        for i in range(k.cure_start[fault], k.cure_start[fault + 1]):
            other = k.cure_repair[i]
            room.cured[other] -= gone * k.cure[other, fault]
            room.ratios[other] = room.cured[other] / max(prices[other], EPS)


@njit(cache=True, nogil=True)
def _best_ending(ends):
    best, which = -np.inf, -1
    for e in range(ends.size):
        if ends[e] > best:
            best, which = ends[e], e
    return best, which


@njit(cache=True, nogil=True)
def _open_for(k, r, opened, count, room):
    """Price the repairs anew where repair ``r`` opens more panels; returns the panels open, and the prices."""
    prices = room.prices[1]
    opened |= k.repair_panels[r]
    repair_prices(k, opened, prices)
    for i in range(count):
        room.ratios[room.rest[i]] = room.cured[room.rest[i]] / max(prices[room.rest[i]], EPS)
    return opened, prices


@njit(cache=True, nogil=True)
def _worth_of(steps, last, forced, chain):
    """Worth of a chain of repairs, stopping wherever stopping is worth more; ``last`` is what is left at its end."""
    value = last
    for step in range(steps - 1, -1, -1):
        value = chain[2, step] - chain[1, step] + value
        if step > 0 and not forced:
            value = max(value, chain[0, step])
    return value


@njit(cache=True, nogil=True)
def repair_by_ratio(k, w, tried, opened, room):
    """Worth of repairing by chance over cost, stopping where stopping is best: (value, first repair or -1, ending).

    ``w`` (H,) sums to one. Where an ending is given, what little belief is left after many repairs is ended rather than
    followed; and so it is after ``PATIENCE`` repairs in a row after none of which stopping is worth more than before.
    """
    chain, ends, now, prices = room.chain, room.ends, room.scratch[0], room.prices[0]
    if room.priced[0] != opened:
        repair_prices(k, opened, prices)
        room.priced[0] = opened
    mass, scale, steps, first = _begin(k, w, room), 1.0, 0, -1
    stop, ending = _best_ending(ends)
    count = _hopeful(k, tried, prices, room)
    enough, earned, best, waited = (EPS if k.forced else LITTLE), 0.0, stop, 0
    while mass * scale > enough and (k.forced or waited < PATIENCE):
        place = _take_best(count, scale, room)
        if place < 0:
            break
        r = room.rest[place]
        count -= 1
        room.rest[place] = room.rest[count]
        if steps == 0:
            first = r
        chain[0, steps] = scale * _best_ending(ends)[0]
        chain[1, steps] = prices[r] * mass * scale
        _mend(k, r, prices, room)
        sound = now[0]  # set 0 is the empty one: it passes
        mass -= sound
        chain[2, steps] = scale * (sound * k.pass_value[0] + k.miss * mass * k.lapse)
        for e in range(ends.size):
            ends[e] -= sound * k.ending_value[e, 0]
        now[0] = 0.0
        scale *= 1.0 - k.miss
        if k.repair_panels[r] & ~opened:
            opened, prices = _open_for(k, r, opened, count, room)
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
