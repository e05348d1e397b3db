"""A policy that looks before it repairs: checks chosen by what they tell about the right thing to do, then repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too faint to follow,
which is charged as if it went as badly as it can) and is a lower bound that plain repairing cannot reach.
"""

from counterpoise.reasoning.kernels.bounds import EPS, panels_to_open
from counterpoise.reasoning.kernels.clairvoyant_cache import expected, hope_row
from counterpoise.reasoning.kernels.ratio_policy import list_belief, repair_listed
from counterpoise.reasoning.kernels.workspace import DEEPEST, LANES, lean

SOURCE_DIGEST = "ab9d20ab262f5663"  # see the package

THIN = 0.015  # a branch less likely than this is left to the plain policy
SHARP = 1e-3  # the right action counts as known when nothing else is this likely
IDLE = 0.002  # a check that settles less than this share of the doubt is not looked at again further down
FAINT = 1e-6  # belief below this is dropped, and charged


@lean
def list_live(w, live):
    """List where the belief is positive; returns how many."""
    count = 0
    for h in range(w.size):
        if w[h] > 0.0:
            live[count] = h
            count += 1
    return count


@lean
def _sharpness(sets, weights, count, calls, room):
    joint = room.joint
    joint[:] = 0.0
    for i in range(count):
        joint[calls[sets[i]]] += weights[i]
    squares, acts = 0.0, 0
    for a in range(joint.size):
        if joint[a] > 0.0:
            squares += joint[a] * joint[a]
            room.acts[acts] = a
            acts += 1
    room.called[0] = acts
    return squares


@lean
def sharpness(w, count, calls, room):
    """Sum of squares of the chances of each right action: 1 where it is known (w sums to one).

    Leaves the chance of each in ``room.joint``, and those that have one in ``room.acts``. ``room.live`` lists where the
    belief is positive, ``count`` of them.
    """
    for i in range(count):
        room.weights[i] = w[room.live[i]]
    return _sharpness(room.live, room.weights, count, calls, room)


@lean
def _shift(w, sets, by, block, calls, room):
    """Sum up by what is called for (``room.shift``) how the chances of a block of outcomes are not as usual.

    Lane by lane, and all of a row read before any is written: so the compiler takes the lanes at once.
    """
    shift = room.shift
    for j in range(room.called[0]):
        a = room.acts[j]
        shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3] = 0.0, 0.0, 0.0, 0.0
    for i in range(sets.size):
        weight, a = w[sets[i]], calls[sets[i]]
        by0, by1, by2, by3 = by[i, block, 0], by[i, block, 1], by[i, block, 2], by[i, block, 3]
        s0, s1, s2, s3 = shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3]
        s0, s1, s2, s3 = s0 + weight * by0, s1 + weight * by1, s2 + weight * by2, s3 + weight * by3
        shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3] = s0, s1, s2, s3


@lean
def _squares(usual, before, room):
    """Expected sharpness over a block of outcomes; ``usual`` (LANES,) are their usual chances."""
    shift, joint = room.shift, room.joint
    u0, u1, u2, u3 = usual[0], usual[1], usual[2], usual[3]
    m0, m1, m2, m3 = u0, u1, u2, u3
    q0, q1, q2, q3 = u0 * u0 * before, u1 * u1 * before, u2 * u2 * before, u3 * u3 * before
    for j in range(room.called[0]):
        a = room.acts[j]
        double = 2.0 * joint[a]
        s0, s1, s2, s3 = shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3]
        m0, m1, m2, m3 = m0 + s0, m1 + s1, m2 + s2, m3 + s3
        q0, q1 = q0 + s0 * (double * u0 + s0), q1 + s1 * (double * u1 + s1)
        q2, q3 = q2 + s2 * (double * u2 + s2), q3 + s3 * (double * u3 + s3)
    return _sharp(q0, m0) + _sharp(q1, m1) + _sharp(q2, m2) + _sharp(q3, m3)


@lean
def _sharp(squares, mass):
    return min(max(squares / mass, 0.0), mass) if mass > EPS else 0.0


@lean
def insight(k, w, c, before, calls, room):
    """Expected sharpness after check ``c``; ``before`` is the sharpness now, ``room.joint`` the belief it comes from.

    Each outcome is taken for as likely as usual under all sets, and then mended for those that differ. ``w`` (H,) is
    the belief, set by set.
    """
    first, end, after = room.tables.far_start[c], room.tables.far_start[c + 1], 0.0
    sets, by = room.tables.far_set[first:end], room.tables.far_by[first:end]
    for block in range((k.outcomes[c] + LANES - 1) // LANES):
        _shift(w, sets, by, block, calls, room)
        after += _squares(room.tables.usual[c, block], before, room)
    return after


@lean
def _best_check(k, depth, at_stake, room):
    """The check that settles most for its cost, among those whose share of what is at stake exceeds their cost.

    Returns it, or -1; the frame then also says which checks need not be looked at again further down: done, or telling
    next to nothing. Those that cost too much to win whatever they tell are not looked at.
    """
    ways, calls = room.ways[depth], room.calls[room.ways[depth, 7]]
    sets, weights, count, w = room.sets[depth], room.beliefs[depth], ways[8], room.dense
    before = _sharpness(sets, weights, count, calls, room)
    best, which = 0.0, -1
    if before > 1.0 - SHARP:
        return which
    for i in range(count):
        w[sets[i]] = weights[i]
    idle, opened = ways[0] | ways[6], ways[2]
    for c in room.tables.order:
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
    for i in range(count):
        w[sets[i]] = 0.0
    return which


@lean
def _arrive(k, depth, room):
    """Open the frame of the belief in row ``depth``: what plain repairing earns, and the check to do, if any pays.

    ``room.ways`` (D, 9) ints a frame: done, tried, opened, check or -1, next outcome, act of the plain policy, checks
    that tell nothing, row of the hindsight values, sets listed; ``room.sums`` (D, 4): chance of coming here, plain
    worth, worth so far, chance of the outcome looked into.
    """
    ways, sums, sets, weights = room.ways, room.sums, room.sets[depth], room.beliefs[depth]
    tried, opened, count = ways[depth, 1], ways[depth, 2], ways[depth, 8]
    plain, first, ending = repair_listed(k, sets, weights, count, tried, opened, room)
    checks = k.check_cost.size
    ways[depth, 3], ways[depth, 4] = -1, 0
    ways[depth, 5] = checks + first if first >= 0 else checks + k.repair_cost.size + max(ending, 0)
    sums[depth, 1] = plain
    if sums[depth, 0] < THIN or depth >= DEEPEST:
        return
    row = hope_row(k, tried, opened, depth, room)
    ways[depth, 7] = row
    at_stake = expected(room.values[row], sets, weights, count) - plain
    if at_stake <= EPS:
        return
    c = _best_check(k, depth, at_stake, room)
    ways[depth, 3] = c
    if c >= 0:
        sums[depth, 2] = -k.check_cost[c] - panels_to_open(k, k.check_panels[c], opened)


@lean
def _part(row, depth, reach, forced, room):
    """List one row deeper what is left of a belief after an outcome of chance ``row`` (H,): sets, mass, mass dropped.

    Where repairing must go on, the faintest fault still has its repair tried, at the cost of all that is left.
    """
    sets, weights, below, parts = (
        room.sets[depth],
        room.beliefs[depth],
        room.sets[depth + 1],
        room.beliefs[depth + 1],
    )
    kept, part, faint = 0, 0.0, 0.0
    for i in range(room.ways[depth, 8]):
        weight = weights[i] * row[sets[i]]
        if weight * reach < FAINT and not forced:
            faint += weight
        elif weight > 0.0:
            below[kept], parts[kept] = sets[i], weight
            part += weight
            kept += 1
    if part > EPS:
        scale = 1.0 / part
        for i in range(kept):
            parts[i] *= scale
    return kept, part, faint


@lean
def _descend(k, depth, room):
    """Write the belief after the next outcome of this frame's check one row deeper; False when none is left."""
    ways, sums = room.ways, room.sums
    c = ways[depth, 3]
    while ways[depth, 4] < k.outcomes[c]:
        o = ways[depth, 4]
        ways[depth, 4] += 1
        kept, part, faint = _part(k.table[c, o], depth, sums[depth, 0], k.forced, room)
        if faint > 0.0:
            sums[depth, 2] -= faint * (abs(sums[depth, 1]) + k.pass_value[0] + k.check_cost.sum())
        if part > EPS:
            sums[depth, 3], sums[depth + 1, 0] = part, sums[depth, 0] * part
            ways[depth + 1, 0], ways[depth + 1, 1] = ways[depth, 0] | 1 << c, ways[depth, 1]
            ways[depth + 1, 2] = ways[depth, 2] | k.check_panels[c]
            ways[depth + 1, 6], ways[depth + 1, 8] = ways[depth, 6], kept
            return True
    return False


@lean
def look_listed(k, count, state, mass, room):
    """As :func:`looking_policy`, of the belief listed in row 0 of the work space, ``count`` sets."""
    ways, sums = room.ways, room.sums
    ways[0, 0], ways[0, 1], ways[0, 2] = state
    ways[0, 6], ways[0, 8] = 0, count
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


@lean
def looking_policy(k, w, state, mass, room):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``w`` (H,) sums to one. ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is to come here, which
    says how far it is followed; ``room`` comes from :func:`counterpoise.reasoning.kernels.workspace.work_space`.
    """
    return look_listed(k, list_belief(w, room.sets[0], room.beliefs[0]), state, mass, room)
