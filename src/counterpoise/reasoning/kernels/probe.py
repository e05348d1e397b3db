"""A policy that looks before it repairs: checks chosen by what they tell about the right thing to do, then repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too faint to follow,
which is charged as if it went as badly as it can) and is a lower bound that plain repairing cannot reach.
"""

from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, panels_to_open
from counterpoise.reasoning.kernels.hope import hope_row
from counterpoise.reasoning.kernels.repairing import repair_by_ratio
from counterpoise.reasoning.kernels.room import DEEPEST

DRAWS_ON = "e6a90dbedbdc7929"  # see the package

THIN = 0.015  # a branch less likely than this is left to the plain policy
SHARP = 1e-3  # the right action counts as known when nothing else is this likely
IDLE = 0.002  # a check that settles less than this share of the doubt is not looked at again further down
FAINT = 1e-6  # belief below this is dropped, and charged


@njit(cache=True, nogil=True)
def list_live(w, live):
    """List where the belief is positive; returns how many."""
    count = 0
    for h in range(w.size):
        if w[h] > 0.0:
            live[count] = h
            count += 1
    return count


@njit(cache=True, nogil=True)
def sharpness(w, count, calls, room):
    """Sum of squares of the chances of each right action: 1 where it is known (w sums to one).

    Leaves the chance of each in ``room.joint``. ``room.live`` lists where the belief is positive, ``count`` of them.
    """
    joint = room.joint
    joint[:] = 0.0
    for i in range(count):
        joint[calls[room.live[i]]] += w[room.live[i]]
    squares = 0.0
    for a in range(joint.size):
        squares += joint[a] * joint[a]
    return squares


@njit(cache=True, nogil=True)
def insight(k, w, c, before, calls, room):
    """Expected sharpness after check ``c``; ``before`` is the sharpness now, ``room.joint`` the belief it comes from.

    Each outcome is taken for as likely as usual under all sets, and then mended for those that differ.
    """
    many, shift, touched, found = k.outcomes[c], room.shift, room.touched, 0
    at = room.far_first[c]
    for i in range(room.far_start[c], room.far_start[c + 1]):
        h = room.far_set[i]
        weight = w[h]
        if weight > 0.0:
            a = calls[h]
            if not room.marked[a]:
                room.marked[a] = True
                touched[found] = a
                found += 1
                shift[a, :many] = 0.0
            for o in range(many):
                shift[a, o] += weight * room.far_by[at + o]
        at += many
    after = 0.0
    for o in range(many):
        mass, squares = room.usual[c, o], room.usual[c, o] * room.usual[c, o] * before
        for j in range(found):
            a = touched[j]
            mass += shift[a, o]
            squares += shift[a, o] * (2.0 * room.usual[c, o] * room.joint[a] + shift[a, o])
        if mass > EPS:
            after += min(max(squares / mass, 0.0), mass)
    for j in range(found):
        room.marked[touched[j]] = False
    return after


@njit(cache=True, nogil=True)
def _best_check(k, w, depth, count, at_stake, room):
    """The check that settles most for its cost, among those whose share of what is at stake exceeds their cost.

    Returns it, or -1; the frame then also says which checks need not be looked at again further down: done, or telling
    next to nothing. Those that cost too much to win whatever they tell are not looked at.
    """
    ways, calls = room.ways[depth], room.calls[room.ways[depth, 7]]
    before = sharpness(w, count, calls, room)
    best, which = 0.0, -1
    if before > 1.0 - SHARP:
        return which
    idle, opened = ways[0] | ways[6], ways[2]
    for c in room.order:
        if idle >> c & 1:
            continue
        cost = k.check_cost[c] + panels_to_open(k, k.check_panels[c], opened)
        if cost >= at_stake or best * cost >= 1.0:
            continue
        settled = (insight(k, w, c, before, calls, room) - before) / (1.0 - before)
        if settled < IDLE:
            ways[6] |= 1 << c
        elif settled * at_stake > cost and settled / max(cost, EPS) > best:
            best, which = settled / max(cost, EPS), c
    return which


@njit(cache=True, nogil=True)
def _arrive(k, depth, room):
    """Open the frame of the belief in row ``depth``: what plain repairing earns, and the check to do, if any pays.

    ``room.ways`` (D, 8) ints a frame: done, tried, opened, check or -1, next outcome, act of the plain policy, checks
    that tell nothing, row of the hindsight values; ``room.sums`` (D, 4): chance of coming here, plain worth, worth so
    far, chance of the outcome looked into.
    """
    w, ways, sums, values = room.beliefs[depth], room.ways, room.sums, room.values
    tried, opened = ways[depth, 1], ways[depth, 2]
    plain, first, ending = repair_by_ratio(k, w, tried, opened, room)
    checks = k.check_cost.size
    ways[depth, 3], ways[depth, 4] = -1, 0
    ways[depth, 5] = checks + first if first >= 0 else checks + k.repair_cost.size + max(ending, 0)
    sums[depth, 1] = plain
    if sums[depth, 0] < THIN or depth >= DEEPEST:
        return
    row = hope_row(k, tried, opened, depth, room)
    ways[depth, 7] = row
    count = list_live(w, room.live)
    at_stake = -plain
    for i in range(count):
        at_stake += w[room.live[i]] * values[row, room.live[i]]
    if at_stake <= EPS:
        return
    c = _best_check(k, w, depth, count, at_stake, room)
    ways[depth, 3] = c
    if c >= 0:
        sums[depth, 2] = -k.check_cost[c] - panels_to_open(k, k.check_panels[c], opened)


@njit(cache=True, nogil=True)
def _descend(k, depth, room):
    """Write the belief after the next outcome of this frame's check one row deeper; False when none is left."""
    ways, sums, beliefs = room.ways, room.sums, room.beliefs
    c = ways[depth, 3]
    while ways[depth, 4] < k.outcomes[c]:
        o = ways[depth, 4]
        ways[depth, 4] += 1
        part, faint = 0.0, 0.0
        for h in range(beliefs.shape[1]):
            weight = beliefs[depth, h] * k.table[c, o, h]
            # where repairing must go on, the faintest fault still has its repair tried, at the cost of all that is left
            if weight * sums[depth, 0] < FAINT and not k.forced:
                faint += weight
                weight = 0.0
            beliefs[depth + 1, h] = weight
            part += weight
        sums[depth, 2] -= faint * (abs(sums[depth, 1]) + k.pass_value[0] + k.check_cost.sum())
        if part > EPS:
            for h in range(beliefs.shape[1]):
                beliefs[depth + 1, h] *= 1.0 / part
            sums[depth, 3], sums[depth + 1, 0] = part, sums[depth, 0] * part
            ways[depth + 1, 0], ways[depth + 1, 1] = ways[depth, 0] | 1 << c, ways[depth, 1]
            ways[depth + 1, 2] = ways[depth, 2] | k.check_panels[c]
            ways[depth + 1, 6] = ways[depth, 6]
            return True
    return False


@njit(cache=True, nogil=True)
def looking_policy(k, w, state, mass, room):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is to come here, which says how far it is
    followed; ``room`` comes from :func:`counterpoise.reasoning.kernels.room.work_space`.
    """
    ways, sums = room.ways, room.sums
    room.beliefs[0][:] = w
    ways[0, 0], ways[0, 1], ways[0, 2] = state
    ways[0, 6] = 0
    sums[0, 0] = mass
    depth = 0
    _arrive(k, depth, room)
    while True:
        if ways[depth, 3] >= 0 and _descend(k, depth, room):
            depth += 1
            _arrive(k, depth, room)
            continue
        value, act = sums[depth, 1], ways[depth, 5]
        if ways[depth, 3] >= 0 and sums[depth, 2] > value:
            value, act = sums[depth, 2], ways[depth, 3]
        if depth == 0:
            return value, act
        depth -= 1
        sums[depth, 2] += sums[depth, 3] * value
