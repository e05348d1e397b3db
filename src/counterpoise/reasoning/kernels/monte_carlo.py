"""Monte Carlo: what is there is drawn, what is done is chosen by what has been seen.

Machines that look alike so far are kept together as a group, so that each state is planned once for
all of them. What was planned is remembered by what was found, in whatever order, for the machines
that are worked on again from another first step.
"""

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.bounds import (
    EPS,
    after_repair,
    best_ending,
    check_opening,
    opened_after_failure,
    opened_by_check,
    opening_cost,
)
from counterpoise.reasoning.kernels.checking_policy import checking_policy
from counterpoise.reasoning.kernels.compilation import kernel_nogil
from counterpoise.reasoning.kernels.remembered_steps import SPREAD, Remembered

SOURCE_DIGEST = "24238dded74728ff"  # see the package

# Columns of what a machine takes and how it ends: minutes, cost and parts; the chances to be sound
# or to pass with a fault left; minutes, cost and parts that go where the work is given up; what all
# of it is worth, costs taken off: as it comes out, and as was to be expected at each step.
MINUTES, COST, PARTS, SOUND, MISSED, LOST_MINUTES, LOST_COST, LOST_PARTS, WORTH, EXPECTED = range(
    10
)
FIGURES = 10
SPENT = 3  # the first columns, in the same order

# Places in a frame: the group's first and last place in the order of machines, what is done, tried
# and open (bits), the action, its next outcome, and how many outcomes it has; then the key of what
# was found and tried on the way here, and how many repairs were.
FIRST, LAST, DONE, TRIED, OPENED, ACTION, NEXT, OUTCOMES, KEY, REPAIRS = range(10)
FRAME = 10


class Simulation(NamedTuple):
    """n machines being worked on, in at most D steps each."""

    actual: Ints  # (n,) the set of faults that each machine has
    draws: Floats  # (n, C + R) uniform on 0..1: what each check shows and each repair cures
    order: Ints  # (m,) the machines worked on, those of a group side by side
    weight: Floats  # (n,) chance that each has come so far
    spent: Floats  # (n, SPENT)
    figures: Floats  # (n, FIGURES) times the chances
    beliefs: Floats  # (D + 1, H)
    frames: Ints  # (D + 1, FRAME)
    ends: Ints  # (D + 1, O) where the machines of each outcome end in the order
    taken: Floats  # (C + R,) how many machines each action was done on, by the same chances
    remembered: Remembered


def new_simulation(
    actual: Ints, draws: Floats, order: Ints, sets: int, remembered: Remembered
) -> Simulation:
    """The machines of ``order`` (m,) at the start of their work, out of n.

    ``actual`` (n,) is used up; ``draws`` is (n, C + R); ``remembered`` fixes the most steps.
    """
    machines, steps = len(draws), len(remembered.parts) - 1
    return Simulation(
        actual=actual,
        draws=draws,
        order=order,
        weight=np.ones(machines),
        spent=np.zeros((machines, SPENT)),
        figures=np.zeros((machines, FIGURES)),
        beliefs=np.zeros((steps + 1, sets)),
        frames=np.zeros((steps + 1, FRAME), dtype=np.int64),
        ends=np.zeros((steps + 1, remembered.parts.shape[2]), dtype=np.int64),
        taken=np.zeros(draws.shape[1]),
        remembered=remembered,
    )


@kernel_nogil
def _minutes_to_open(needed, opened, panel_minutes):
    """Minutes for the panels in ``needed`` (bits) that are not open yet."""
    total, missing, i = 0.0, needed & ~opened, 0
    while missing:
        if missing & 1:
            total += panel_minutes[i]
        missing >>= 1
        i += 1
    return total


@kernel_nogil
def _spend(frame, minutes, cost, parts, price, s):
    """Charge an action to each machine of the group; ``cost`` of a repair, ``price`` of any."""
    for i in range(frame[FIRST], frame[LAST]):
        p = s.order[i]
        s.taken[frame[ACTION]] += s.weight[p]
        s.figures[p, WORTH] -= s.weight[p] * price
        s.figures[p, EXPECTED] -= s.weight[p] * price
        s.figures[p, MINUTES] += s.weight[p] * minutes
        s.figures[p, COST] += s.weight[p] * cost
        s.figures[p, PARTS] += s.weight[p] * parts
        s.spent[p, MINUTES] += minutes
        s.spent[p, COST] += cost
        s.spent[p, PARTS] += parts


@kernel_nogil
def _sort_by_outcome(k, c, depth, s):
    """Draw each machine's outcome of check ``c``, and sort the group by it."""
    first, last = s.frames[depth, FIRST], s.frames[depth, LAST]
    drawn = np.empty(last - first, dtype=np.int64)
    before = s.order[first:last].copy()
    for i in range(before.size):
        p, chance = before[i], 0.0
        # the last outcome that can come, should rounding leave the draw above all chances
        likely = 0
        for o in range(k.outcomes[c]):
            if k.table[c, o, s.actual[p]] > 0.0:
                likely = o
                chance += k.table[c, o, s.actual[p]]
                if s.draws[p, c] < chance:
                    break
        drawn[i] = likely
    # a stable sort in the group's own places, so that groups stay side by side
    at = first
    for o in range(k.outcomes[c]):
        for i in range(before.size):
            if drawn[i] == o:
                s.order[at] = before[i]
                at += 1
        s.ends[depth, o] = at


@kernel_nogil
def _mend(k, r, depth, s):
    """Draw what repair ``r`` cures; what passes its retest leaves the group."""
    at = s.frames[depth, FIRST]
    for i in range(s.frames[depth, FIRST], s.frames[depth, LAST]):
        p, chance, draw = s.order[i], 0.0, s.draws[s.order[i], k.check_cost.size + r]
        for m in range(k.move_start[r], k.move_start[r + 1]):
            if k.move_source[m] == s.actual[p]:
                chance += k.move_chance[m]
                if draw < chance:
                    s.actual[p] = k.move_target[m]
                    break
        passing = k.pass_chance[s.actual[p]]
        s.figures[p, WORTH] += s.weight[p] * passing * k.pass_value[s.actual[p]]
        if passing == 1.0:
            s.figures[p, SOUND] += s.weight[p]
            continue
        # a miss is not drawn: the machine goes on with the chance that its fault is seen
        s.figures[p, MISSED] += s.weight[p] * passing
        s.weight[p] *= 1.0 - passing
        s.order[i], s.order[at] = s.order[at], p
        at += 1
    s.ends[depth, 0] = at


@kernel_nogil
def _give_up(k, frame, belief, ending, s):
    """Count what was spent on each machine of the group as lost, and what its ending brings."""
    expected = 0.0
    for h in range(belief.size if k.ending_value.shape[0] else 0):
        # an impossible set may have an ending worth minus infinity
        if belief[h] > 0.0:
            expected += belief[h] * k.ending_value[ending, h]
    for i in range(frame[FIRST], frame[LAST]):
        p = s.order[i]
        for what in range(SPENT):
            s.figures[p, LOST_MINUTES + what] += s.weight[p] * s.spent[p, what]
        s.figures[p, EXPECTED] += s.weight[p] * expected
        # without an ending the work just stops, and is worth nothing more
        if k.ending_value.shape[0]:
            s.figures[p, WORTH] += s.weight[p] * k.ending_value[ending, s.actual[p]]


@kernel_nogil
def _act(k, a, depth, measures, s):
    """Do action ``a`` in the frame; returns how many groups are left to follow."""
    frame, checks = s.frames[depth], k.check_cost.size
    opened = frame[OPENED]
    if a < checks:
        still_open = opened & k.check_keeps[a]
        opening = _minutes_to_open(k.check_panels[a], still_open, measures.panel_minutes)
        price = k.check_cost[a] + check_opening(k, a, opened)
        _spend(frame, measures.check_minutes[a] + opening, 0.0, 0.0, price, s)
        frame[DONE], frame[OPENED] = frame[DONE] | 1 << a, opened_by_check(k, a, opened)
        _sort_by_outcome(k, a, depth, s)
        return k.outcomes[a]
    r = a - checks
    if r >= k.repair_cost.size:
        _give_up(k, frame, s.beliefs[depth], r - k.repair_cost.size, s)
        return 0
    needed = k.repair_panels[r]
    price = k.repair_cost[r] + opening_cost(k, needed, opened)
    opening = _minutes_to_open(needed, opened, measures.panel_minutes)
    minutes, parts = measures.repair_minutes[r] + opening, measures.repair_parts[r]
    _spend(frame, minutes, price, parts, price, s)
    frame[TRIED], frame[OPENED] = frame[TRIED] | 1 << r, opened_after_failure(k, r, opened)
    passed = after_repair(k, r, s.beliefs[depth], s.beliefs[depth + 1])[1]
    for i in range(frame[FIRST], frame[LAST]):
        s.figures[s.order[i], EXPECTED] += s.weight[s.order[i]] * passed
    _mend(k, r, depth, s)
    return 1


@kernel_nogil
def _next_group(k, depth, s):
    """Open the frame below for the next outcome with machines in it; False when none is left."""
    frame, into, below = s.frames[depth], s.frames[depth + 1], s.beliefs[depth + 1]
    a, checks = frame[ACTION], k.check_cost.size
    while frame[NEXT] < frame[OUTCOMES]:
        o = frame[NEXT]
        frame[NEXT] += 1
        first = frame[FIRST] if o == 0 else s.ends[depth, o - 1]
        if s.ends[depth, o] <= first:
            continue
        if a < checks:
            for h in range(below.size):
                below[h] = s.beliefs[depth, h] * k.table[a, o, h]
        total = below.sum()
        # the belief rules out what was drawn, which only rounding can do
        if total <= EPS * EPS:
            continue
        below /= total
        into[FIRST], into[LAST] = first, s.ends[depth, o]
        into[DONE], into[TRIED], into[OPENED] = frame[DONE], frame[TRIED], frame[OPENED]
        into[KEY] = frame[KEY] ^ s.remembered.parts[frame[REPAIRS], a, o]
        into[REPAIRS] = frame[REPAIRS] + (1 if a >= checks else 0)
        return True
    return False


@kernel_nogil
def _planned(k, depth, share, s, work):
    """The step of the policy in the frame's state; planned where it is not remembered."""
    frame, known = s.frames[depth], s.remembered
    # in another order a spin may have shut what now stands open
    key = frame[KEY] ^ frame[OPENED] * SPREAD
    at = key & (known.keys.size - 1)
    while known.keys[at] != 0:
        if known.keys[at] == key:
            return known.acts[at]
        at = (at + 1) & (known.keys.size - 1)
    now = (frame[DONE], frame[TRIED], frame[OPENED])
    act = checking_policy(k, s.beliefs[depth], now, share, work)[1]
    # kept half empty, or looking would take longer than planning
    if 2 * known.filled[0] < known.keys.size:
        known.keys[at], known.acts[at] = key, act
        known.filled[0] += 1
    return act


@kernel_nogil
def simulate(k, w, state, first, share, measures, s, work):
    """Fill ``s.figures`` (n, FIGURES) with what each machine takes and how it ends.

    ``w`` (H,) is the belief at first and ``first`` the first action, or -1; the rest is the policy
    that looks before it repairs, planned in each state as if one came there with the chance
    ``share``. ``s`` is used up; a machine that takes all its steps is given up.
    """
    deepest, frames = s.frames.shape[0] - 1, s.frames
    s.beliefs[0] = w / w.sum()
    frames[0, LAST], frames[0, KEY] = s.order.size, 1  # 0 marks a free place
    frames[0, DONE], frames[0, TRIED], frames[0, OPENED] = state
    # a plain 0 would be a type of its own, and all it is handed to compiled twice
    depth, arriving = np.int64(0), True
    while True:
        if arriving:
            # no step is left: given up, whatever is still there
            if depth + 1 >= deepest:
                ending = max(best_ending(k, s.beliefs[depth])[1], 0)
                a = k.check_cost.size + k.repair_cost.size + ending
            elif depth == 0 and first >= 0:
                a = first
            else:
                a = _planned(k, depth, share, s, work)
            frames[depth, ACTION], frames[depth, NEXT] = a, 0
            frames[depth, OUTCOMES] = _act(k, a, depth, measures, s)
        if _next_group(k, depth, s):
            depth, arriving = depth + 1, True
        elif depth == 0:
            return
        else:
            depth, arriving = depth - 1, False
