"""What each set of faults is worth to one who knows it, exactly: perfect information.

One who knows the set at the start and what each repair did to it does at least as well as anybody
else, so the mean of these values is an upper bound on any plan. Repairs come in their best order
and panels are paid once, or anew after each failed retest that shuts them. ``hindsight`` bounds the
values from above in less time: it takes it that every repair succeeds where several faults are
there.
"""

import numpy as np

from counterpoise.reasoning.kernels.bounds import EPS, hindsight, opening_cost
from counterpoise.reasoning.kernels.compilation import kernel_nogil

SOURCE_DIGEST = "fe1325804f3ed9ba"  # see the package

# Of one set; beyond them the value stays that of ``hindsight``: 2^10 states of 2^4 parts each.
MOST_FAULTS, MOST_REPAIRS = 4, 10


@kernel_nogil
def _useful_repairs(k, h, tried, out):
    """Fill ``out`` with the repairs left that could cure a fault of set ``h``; returns how many.

    One more than ``out`` holds where there are too many.
    """
    count = 0
    for r in range(k.repair_cost.size):
        if tried >> r & 1:
            continue
        for m in range(k.members.shape[1]):
            if k.cure[r, k.members[h, m]] > 0.0:
                if count < out.size:
                    out[count] = r
                count += 1
                break
        if count > out.size:
            break
    return count


@kernel_nogil
def _rows(k, one_less, h, out):
    """Fill ``out`` with the row of each part of set ``h``; returns how many parts.

    A part is numbered by the faults left, as bits; 0 parts where the set has too many faults.
    """
    none, count = k.cure.shape[1] - 1, 0
    while count < k.members.shape[1] and k.members[h, count] != none:
        count += 1
    if count > MOST_FAULTS:
        return 0
    full = (1 << count) - 1
    out[full] = h
    # each part is a larger part less one fault, so the larger ones come first
    for part in range(full - 1, -1, -1):
        m = 0
        while part >> m & 1:
            m += 1
        # of the fault that is missing here, in the set that has it
        position = 0
        for n in range(m):
            position += part >> n & 1
        out[part] = one_less[out[part | 1 << m], position]
    return full + 1


@kernel_nogil
def _gambling_could_pay(k, rows, parts, tried, best_ending):
    """Whether a repair that cures nothing could pay because its retest might miss what is left."""
    for part in range(1, parts):
        row = rows[part]
        for r in range(k.repair_cost.size):
            # it would have to gain more than an ending, after its price
            if (
                not tried >> r & 1
                and k.pass_chance[row] * (k.pass_value[row] - best_ending[row]) > k.repair_cost[r]
            ):
                return True
    return False


@kernel_nogil
def _attempt(k, r, h, part, rows, worth):
    """Mean worth after repair ``r`` was tried on the faults ``part`` of set ``h``.

    ``worth`` (parts,) holds the worth of each part that may be left.
    """
    value, left = 0.0, part
    # over all subsets of the part that could be left, the empty one last
    while True:
        chance = 1.0
        for m in range(k.members.shape[1]):
            if part >> m & 1:
                cure = k.cure[r, k.members[h, m]]
                chance *= 1.0 - cure if left >> m & 1 else cure
        if chance > 0.0:
            pass_chance = k.pass_chance[rows[left]]
            value += chance * (
                pass_chance * k.pass_value[rows[left]] + (1.0 - pass_chance) * worth[left]
            )
        if left == 0:
            return value
        # the next smaller subset in the order of bits
        left = (left - 1) & part


@kernel_nogil
def _known_set_value(k, h, opened, rows, parts, repairs, best_ending):
    """Worth of set ``h`` known, by backward induction from all of ``repairs`` tried to none."""
    worth = np.zeros((1 << repairs.size, parts))
    # more repairs tried first, for an attempt leads there
    for tried in range((1 << repairs.size) - 1, -1, -1):
        now_open = opened
        for i in range(repairs.size):
            if tried >> i & 1:
                now_open |= k.repair_panels[repairs[i]]
        # whoever tried one is here because its retest failed, which may have shut all
        if tried:
            now_open &= k.retest_keeps
        for part in range(1, parts):
            best = best_ending[rows[part]]
            for i in range(repairs.size):
                if not tried >> i & 1:
                    r = repairs[i]
                    price = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], now_open)
                    best = max(best, _attempt(k, r, h, part, rows, worth[tried | 1 << i]) - price)
            worth[tried, part] = best
    return worth[0, parts - 1]


@kernel_nogil
def perfect_information_values(k, one_less, w, tried, opened, out):
    """Fill ``out`` (H,) with the worth of each set that ``w`` holds possible; returns the mean.

    ``one_less`` (H, M) holds the row of each set without one of its faults.
    """
    mean = hindsight(k, w, tried, opened, out)
    # without an ending one may not stop, and backward induction over stopping says nothing
    if k.forced:
        return mean
    best_ending = np.full(w.size, -np.inf)
    # stopping is worth the best ending, known beforehand for every set
    for h in range(w.size):
        for e in range(k.ending_value.shape[0]):
            best_ending[h] = max(best_ending[h], k.ending_value[e, h])
    rows, helping = (
        np.zeros(1 << MOST_FAULTS, dtype=np.int64),
        np.zeros(MOST_REPAIRS, dtype=np.int64),
    )
    mean = 0.0
    for h in range(w.size):
        if w[h] <= 0.0:
            continue
        parts = _rows(k, one_less, h, rows)
        count = _useful_repairs(k, h, tried, helping)
        if (
            parts > 1
            and count <= helping.size
            and not _gambling_could_pay(k, rows, parts, tried, best_ending)
        ):
            value = _known_set_value(k, h, opened, rows, parts, helping[:count], best_ending)
            # a little above, so that rounding cannot make the bound too small
            out[h] = min(out[h], value + EPS)
        mean += w[h] * out[h]
    return mean
