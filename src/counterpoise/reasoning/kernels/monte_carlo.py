"""Many machines worked on in thought: what really is there is drawn, what is done is chosen by what has been seen.

Machines that look alike so far are kept together, so that each step is thought out once for all of them.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, after_repair, panels_to_open
from counterpoise.reasoning.kernels.checking_policy import looking_policy

SOURCE_DIGEST = "783e146cde877e9f"  # see the package

MINUTES, COST, PARTS, SOUND, SLIPPED, LOST_MINUTES, LOST_COST, LOST_PARTS = range(8)
FIGURES = 8


@njit(cache=True, nogil=True)
def _minutes_to_open(needed, opened, each):
    total, missing, i = 0.0, needed & ~opened, 0
    while missing:
        if missing & 1:
            total += each[i]
        missing >>= 1
        i += 1
    return total


@njit(cache=True, nogil=True)
def _spend(group, one, minutes, cost, parts):
    """Charge an action to each machine of the group ``one``, by the chance that it has come so far."""
    order, weight, out, spent = group
    for i in range(one[0], one[1]):
        p = order[i]
        out[p, MINUTES] += weight[p] * minutes
        out[p, COST] += weight[p] * cost
        out[p, PARTS] += weight[p] * parts
        spent[p, 0] += minutes
        spent[p, 1] += cost
        spent[p, 2] += parts


@njit(cache=True, nogil=True)
def _by_outcome(k, c, group, one, there, throws, ends):
    """Draw each machine's outcome of check ``c`` and sort the group by it; ``ends`` (O,) is where each outcome ends."""
    order = group[0]
    first, last = one[0], one[1]
    drawn = np.empty(last - first, dtype=np.int64)
    before = order[first:last].copy()
    for i in range(before.size):
        p, o, chance = before[i], 0, 0.0
        likely = 0
        for o in range(k.outcomes[c]):
            if k.table[c, o, there[p]] > 0.0:
                likely = o
                chance += k.table[c, o, there[p]]
                if throws[p] < chance:
                    break
        drawn[i] = likely
    at = first
    for o in range(k.outcomes[c]):
        for i in range(before.size):
            if drawn[i] == o:
                order[at] = before[i]
                at += 1
        ends[o] = at


@njit(cache=True, nogil=True)
def _mend(k, r, group, one, there, throws):
    """Draw what repair ``r`` cures; what passes its proof leaves the group. Returns where the rest of it ends."""
    order, weight, out, _ = group
    at = one[0]
    for i in range(one[0], one[1]):
        p, chance = order[i], 0.0
        for m in range(k.move_start[r], k.move_start[r + 1]):
            if k.move_source[m] == there[p]:
                chance += k.move_chance[m]
                if throws[p] < chance:
                    there[p] = k.move_target[m]
                    break
        if k.passes[there[p]] == 1.0:
            out[p, SOUND] += weight[p]
            continue
        out[p, SLIPPED] += weight[p] * k.passes[there[p]]
        weight[p] *= 1.0 - k.passes[there[p]]
        order[i], order[at] = order[at], p
        at += 1
    return at


@njit(cache=True, nogil=True)
def _give_up(group, one):
    order, weight, out, spent = group
    for i in range(one[0], one[1]):
        p = order[i]
        for what in range(3):
            out[p, LOST_MINUTES + what] += weight[p] * spent[p, what]


@njit(cache=True, nogil=True)
def _act(k, a, depth, beliefs, frames, group, there, throws, takes, ends):
    """Do action ``a`` in the frame; returns how many groups are left to follow."""
    done, tried, opened = frames[depth, 2], frames[depth, 3], frames[depth, 4]
    check_minutes, repair_minutes, panel_minutes, repair_parts = takes
    checks, one = k.check_cost.size, frames[depth]
    if a < checks:
        needed = k.check_panels[a]
        _spend(
            group, one, check_minutes[a] + _minutes_to_open(needed, opened, panel_minutes), 0.0, 0.0
        )
        frames[depth, 2], frames[depth, 4] = done | 1 << a, opened | needed
        _by_outcome(k, a, group, one, there, throws[:, depth], ends[depth])
        return k.outcomes[a]
    r = a - checks
    if r >= k.repair_cost.size:
        _give_up(group, one)
        return 0
    needed = k.repair_panels[r]
    price = k.repair_cost[r] + panels_to_open(k, needed, opened)
    _spend(
        group,
        one,
        repair_minutes[r] + _minutes_to_open(needed, opened, panel_minutes),
        price,
        repair_parts[r],
    )
    frames[depth, 3], frames[depth, 4] = tried | 1 << r, opened | needed
    ends[depth, 0] = _mend(k, r, group, one, there, throws[:, depth])
    after_repair(k, r, beliefs[depth], beliefs[depth + 1])
    return 1


@njit(cache=True, nogil=True)
def _next_group(k, depth, beliefs, frames, ends):
    """Open the frame below for the next outcome that has machines in it; False when none is left."""
    a, checks = frames[depth, 5], k.check_cost.size
    while frames[depth, 6] < frames[depth, 7]:
        o = frames[depth, 6]
        frames[depth, 6] += 1
        first = frames[depth, 0] if o == 0 else ends[depth, o - 1]
        if ends[depth, o] <= first:
            continue
        below = beliefs[depth + 1]
        if a < checks:
            for h in range(below.size):
                below[h] = beliefs[depth, h] * k.table[a, o, h]
        total = below.sum()
        if total <= EPS * EPS:
            continue
        below /= total
        frames[depth + 1, 0], frames[depth + 1, 1] = first, ends[depth, o]
        frames[depth + 1, 2:5] = frames[depth, 2:5]
        return True
    return False


@njit(cache=True, nogil=True)
def played_out(k, w, state, first, share, there, throws, takes, room, out):
    """Fill ``out`` (n, 8) with what each of n machines takes and how it ends, by the chance that it does.

    ``there`` (n,) is the set of faults that each has, and is changed; ``throws`` (n, D) are uniform on 0..1 and D the
    most steps. ``first`` is the first action, or -1; the rest is the policy that looks before it repairs, thought out
    in each state as if one came there with the chance ``share``. ``takes``: minutes of checks, repairs and panels, and
    the price of the parts of each repair.
    """
    n, deepest = throws.shape
    beliefs = np.zeros((deepest + 1, w.size))
    frames = np.zeros(
        (deepest + 1, 8), dtype=np.int64
    )  # first, last, done, tried, opened, action, next, count
    ends = np.zeros((deepest + 1, max(k.table.shape[1], 1)), dtype=np.int64)
    group = (np.arange(n), np.ones(n), out, np.zeros((n, 3)))
    beliefs[0] = w / w.sum()
    frames[0, 1] = n
    frames[0, 2], frames[0, 3], frames[0, 4] = state
    depth, arriving = 0, True
    while True:
        if arriving:
            now = (frames[depth, 2], frames[depth, 3], frames[depth, 4])
            if depth + 1 >= deepest:
                a = k.check_cost.size + k.repair_cost.size
            elif depth == 0 and first >= 0:
                a = first
            else:
                a = looking_policy(k, beliefs[depth], now, share, room)[1]
            frames[depth, 5], frames[depth, 6] = a, 0
            frames[depth, 7] = _act(k, a, depth, beliefs, frames, group, there, throws, takes, ends)
        if _next_group(k, depth, beliefs, frames, ends):
            depth, arriving = depth + 1, True
        elif depth == 0:
            return
        else:
            depth, arriving = depth - 1, False
