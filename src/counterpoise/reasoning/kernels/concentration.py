"""Concentration of the belief about the best repair, and how much a check would add to it.

The sum of squares of the probabilities stands for what is known: it is 1 where it is certain which
repair is best.
"""

from counterpoise.reasoning.kernels.bounds import EPS
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts
from counterpoise.reasoning.kernels.workspace import LANES

SOURCE_DIGEST = "f8baa0c618477596"  # see the package


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
    # later sums then run over the few repairs that are best somewhere, not over all
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
    # only rows that will be read are cleared
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
    # a square is (base mass + shift) squared: the base part is common, the rest adds up here
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
    # rounding could carry the square beyond the mass, which would promise too much
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
    # a check with few outcomes is one block; the padding has no chance and adds nothing
    for block in range((k.outcomes[c] + LANES - 1) // LANES):
        _shift(w, sets, by, block, best_repair, work)
        after += _squares(work.tables.base_chance[c, block], before, work)
    return after
