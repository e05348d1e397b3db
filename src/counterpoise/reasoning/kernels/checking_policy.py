"""A policy that looks before it repairs: checks chosen by what they tell about the best repair.

It is followed through all outcomes that matter, so its worth is known exactly (but for belief too
faint to follow, which is charged as if it went as badly as it can) and is a lower bound that
repairing by ratio cannot reach.
"""

from counterpoise.reasoning.kernels.bounds import EPS, opening_cost
from counterpoise.reasoning.kernels.clairvoyant_cache import clairvoyant_row, expected_value
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.ratio_policy import list_belief, ratio_policy_listed
from counterpoise.reasoning.kernels.workspace import (
    CHECK,
    DEEPEST,
    DONE,
    IDLE_CHECKS,
    LANES,
    LISTED,
    NEXT,
    OPENED,
    PART,
    RATIO_ACT,
    RATIO_WORTH,
    REACH,
    ROW,
    SO_FAR,
    TRIED,
)

SOURCE_DIGEST = "8909dc55714028e1"  # see the package

THIN = 0.015  # a branch less likely than this is left to repairing by ratio
DECIDED = 1e-3  # the best repair counts as known when nothing else is this likely
IDLE = 0.002  # a check that settles less than this share of the doubt is idle further down
FAINT = 1e-6  # belief below this is dropped, and charged as if it went as badly as it can


@kernel_without_refcounts
def list_support(w, live):
    """List in ``live`` (H,) where the belief is positive; returns how many."""
    count = 0
    for h in range(w.size):
        if w[h] > 0.0:
            live[count] = h
            count += 1
    return count


@kernel_without_refcounts
def concentration_listed(sets, weights, count, best_repair, work):
    """As :func:`concentration`, of the listed belief ``sets`` and ``weights``, ``count`` long."""
    by_repair = work.by_repair
    by_repair[:] = 0.0
    for i in range(count):
        by_repair[best_repair[sets[i]]] += weights[i]
    squares, candidates = 0.0, 0
    for a in range(by_repair.size):
        if by_repair[a] > 0.0:
            squares += by_repair[a] * by_repair[a]
            work.candidates[candidates] = a
            candidates += 1
    work.candidate_count[0] = candidates
    return squares


@kernel_without_refcounts
def concentration(w, count, best_repair, work):
    """Sum of squares of the chances that each repair is the best: 1 where that is known.

    ``w`` (H,) sums to one; ``work.live`` lists where it is positive, ``count`` of them. Leaves the
    chance of each repair in ``work.by_repair``, and those that have one in ``work.candidates``.
    """
    for i in range(count):
        work.weights[i] = w[work.live[i]]
    return concentration_listed(work.live, work.weights, count, best_repair, work)


@kernel_without_refcounts
def _shift(w, sets, by, block, best_repair, work):
    """Sum up in ``work.shift``, by best repair, how outcomes differ from their base chances.

    ``block`` is the block of outcomes. Lane by lane, and all of a row read before any is written:
    so the compiler takes the lanes at once.
    """
    shift = work.shift
    for j in range(work.candidate_count[0]):
        a = work.candidates[j]
        shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3] = 0.0, 0.0, 0.0, 0.0
    for i in range(sets.size):
        weight, a = w[sets[i]], best_repair[sets[i]]
        by0, by1, by2, by3 = by[i, block, 0], by[i, block, 1], by[i, block, 2], by[i, block, 3]
        s0, s1, s2, s3 = shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3]
        s0, s1, s2, s3 = s0 + weight * by0, s1 + weight * by1, s2 + weight * by2, s3 + weight * by3
        shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3] = s0, s1, s2, s3


@kernel_without_refcounts
def _squares(base_chance, before, work):
    """Expected concentration over a block of outcomes of base chances ``base_chance`` (LANES,)."""
    shift, by_repair = work.shift, work.by_repair
    # u: usual chance, m: mass of the outcome, q: sum of squares of its masses by best repair
    u0, u1, u2, u3 = base_chance[0], base_chance[1], base_chance[2], base_chance[3]
    m0, m1, m2, m3 = u0, u1, u2, u3
    q0, q1, q2, q3 = u0 * u0 * before, u1 * u1 * before, u2 * u2 * before, u3 * u3 * before
    for j in range(work.candidate_count[0]):
        a = work.candidates[j]
        double = 2.0 * by_repair[a]
        s0, s1, s2, s3 = shift[a, 0], shift[a, 1], shift[a, 2], shift[a, 3]
        m0, m1, m2, m3 = m0 + s0, m1 + s1, m2 + s2, m3 + s3
        q0, q1 = q0 + s0 * (double * u0 + s0), q1 + s1 * (double * u1 + s1)
        q2, q3 = q2 + s2 * (double * u2 + s2), q3 + s3 * (double * u3 + s3)
    first_half = _outcome_concentration(q0, m0) + _outcome_concentration(q1, m1)
    return first_half + _outcome_concentration(q2, m2) + _outcome_concentration(q3, m3)


@kernel_without_refcounts
def _outcome_concentration(squares, mass):
    """Concentration after an outcome, times the outcome's chance ``mass``."""
    return min(max(squares / mass, 0.0), mass) if mass > EPS else 0.0


@kernel_without_refcounts
def expected_concentration(k, w, c, before, best_repair, work):
    """Expected concentration after check ``c``, a figure from ``before`` to 1.

    ``before`` is the concentration now and ``work.by_repair`` the belief it comes from; ``w`` (H,)
    is the belief, set by set. Each outcome is taken for as likely as its base chance under all
    sets, and then corrected for those that differ.
    """
    first, end, after = work.tables.deviating_start[c], work.tables.deviating_start[c + 1], 0.0
    sets, by = work.tables.deviating_set[first:end], work.tables.deviation[first:end]
    for block in range((k.outcomes[c] + LANES - 1) // LANES):
        _shift(w, sets, by, block, best_repair, work)
        after += _squares(work.tables.base_chance[c, block], before, work)
    return after


@kernel_without_refcounts
def _best_check(k, depth, at_stake, work):
    """The check that settles most for its cost, or -1 where none is worth its cost.

    Worth it is one whose share of what is at stake exceeds its cost. The frame then also says which
    checks need not be looked at again further down: done, or telling next to nothing.
    """
    frame = work.frames[depth]
    best_repair = work.best_repair[frame[ROW]]
    sets, weights, count, w = work.sets[depth], work.beliefs[depth], frame[LISTED], work.dense
    before = concentration_listed(sets, weights, count, best_repair, work)
    best, which = 0.0, -1
    if before > 1.0 - DECIDED:
        return which
    for i in range(count):
        w[sets[i]] = weights[i]
    idle, opened = frame[DONE] | frame[IDLE_CHECKS], frame[OPENED]
    for c in work.tables.order:
        if idle >> c & 1:
            continue
        cost = k.check_cost[c] + opening_cost(k, k.check_panels[c], opened)
        # at most all of the doubt is settled, so such a check could not win
        if cost >= at_stake or best * cost >= 1.0:
            continue
        after = expected_concentration(k, w, c, before, best_repair, work)
        settled = (after - before) / (1.0 - before)
        if settled < IDLE:
            frame[IDLE_CHECKS] |= 1 << c
        elif settled * at_stake > cost and settled / max(cost, EPS) > best:
            best, which = settled / max(cost, EPS), c
    # the dense belief is all zero again, as the next call expects it
    for i in range(count):
        w[sets[i]] = 0.0
    return which


@kernel_without_refcounts
def _arrive(k, depth, work):
    """Open the frame of the belief in row ``depth``.

    It then holds what repairing by ratio earns, and the check to do, if any pays.
    """
    frames, sums, sets, weights = work.frames, work.sums, work.sets[depth], work.beliefs[depth]
    tried, opened, count = frames[depth, TRIED], frames[depth, OPENED], frames[depth, LISTED]
    plain, first, ending = ratio_policy_listed(k, sets, weights, count, tried, opened, work)
    checks = k.check_cost.size
    frames[depth, CHECK], frames[depth, NEXT] = -1, 0
    stop = checks + k.repair_cost.size + max(ending, 0)
    frames[depth, RATIO_ACT] = checks + first if first >= 0 else stop
    sums[depth, RATIO_WORTH] = plain
    if sums[depth, REACH] < THIN or depth >= DEEPEST:
        return
    row = clairvoyant_row(k, tried, opened, depth, work)
    frames[depth, ROW] = row
    at_stake = expected_value(work.values[row], sets, weights, count) - plain
    if at_stake <= EPS:
        return
    c = _best_check(k, depth, at_stake, work)
    frames[depth, CHECK] = c
    if c >= 0:
        sums[depth, SO_FAR] = -k.check_cost[c] - opening_cost(k, k.check_panels[c], opened)


@kernel_without_refcounts
def _part(row, depth, reach, forced, work):
    """List one row deeper what is left of a belief after an outcome.

    Returns (sets, mass, mass dropped); ``row`` (H,) is the outcome's chance under each set. Where
    repairing must go on, the faintest fault still has its repair tried, at the cost of all that is
    left, and nothing is dropped.
    """
    sets, weights, below, parts = (
        work.sets[depth],
        work.beliefs[depth],
        work.sets[depth + 1],
        work.beliefs[depth + 1],
    )
    kept, part, faint = 0, 0.0, 0.0
    for i in range(work.frames[depth, LISTED]):
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


@kernel_without_refcounts
def _descend(k, depth, work):
    """Write the belief after the frame's next outcome one row deeper; False when none is left."""
    frames, sums = work.frames, work.sums
    c = frames[depth, CHECK]
    while frames[depth, NEXT] < k.outcomes[c]:
        o = frames[depth, NEXT]
        frames[depth, NEXT] += 1
        kept, part, faint = _part(k.table[c, o], depth, sums[depth, REACH], k.forced, work)
        if faint > 0.0:
            worst = abs(sums[depth, RATIO_WORTH]) + k.pass_value[0] + k.check_cost.sum()
            sums[depth, SO_FAR] -= faint * worst
        if part > EPS:
            sums[depth, PART], sums[depth + 1, REACH] = part, sums[depth, REACH] * part
            frames[depth + 1, DONE] = frames[depth, DONE] | 1 << c
            frames[depth + 1, TRIED] = frames[depth, TRIED]
            frames[depth + 1, OPENED] = frames[depth, OPENED] | k.check_panels[c]
            frames[depth + 1, IDLE_CHECKS] = frames[depth, IDLE_CHECKS]
            frames[depth + 1, LISTED] = kept
            return True
    return False


@kernel_without_refcounts
def checking_policy_listed(k, count, state, mass, work):
    """As :func:`checking_policy`, of the belief of ``count`` sets listed in row 0."""
    frames, sums = work.frames, work.sums
    frames[0, DONE], frames[0, TRIED], frames[0, OPENED] = state
    frames[0, IDLE_CHECKS], frames[0, LISTED] = 0, count
    sums[0, REACH] = mass
    depth = 0
    _arrive(k, depth, work)
    while True:
        if frames[depth, CHECK] >= 0 and _descend(k, depth, work):
            depth += 1
            _arrive(k, depth, work)
            continue
        value, act = sums[depth, RATIO_WORTH], frames[depth, RATIO_ACT]
        if frames[depth, CHECK] >= 0 and sums[depth, SO_FAR] > value:
            value, act = sums[depth, SO_FAR], frames[depth, CHECK]
        if depth == 0:
            return value, act
        depth -= 1
        sums[depth, SO_FAR] += sums[depth, PART] * value


@kernel_without_refcounts
def checking_policy(k, w, state, mass, work):
    """Worth of looking before repairing, and the first action as the planner numbers it.

    ``w`` (H,) sums to one. ``state`` is (done, tried, opened); ``mass`` (0..1) is how likely one is
    to come here, which says how far it is followed; ``work`` comes from
    :func:`counterpoise.reasoning.kernels.workspace.new_workspace`.
    """
    count = list_belief(w, work.sets[0], work.beliefs[0])
    return checking_policy_listed(k, count, state, mass, work)
