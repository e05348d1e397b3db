"""What each set of faults is worth to one who knows it, exactly: its repairs in the best order, panels paid once.

One who knows the set at the start and what each repair did to it does at least as well as anybody else, so the mean of
these values is an upper bound on any plan. ``hindsight`` bounds them from above in less time: it takes it that every
repair succeeds where several faults are there.
"""

import numpy as np
from numba import njit

from counterpoise.reasoning.kernels.bounds import EPS, hindsight, panels_to_open

SOURCE_DIGEST = "f4c70fa061ca5ff5"  # see the package

MOST_FAULTS, MOST_REPAIRS = 4, 10  # of one set; beyond them the value stays that of ``hindsight``


@njit(cache=True, nogil=True)
def _helping(k, h, tried, out):
    """Fill ``out`` with the repairs left that could cure a fault of set ``h``; returns how many, or one too many."""
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


@njit(cache=True, nogil=True)
def _rows(k, less, h, out):
    """Fill ``out`` with the row of each part of set ``h``, by the faults left as bits; returns how many parts."""
    none, count = k.cure.shape[1] - 1, 0
    while count < k.members.shape[1] and k.members[h, count] != none:
        count += 1
    if count > MOST_FAULTS:
        return 0
    full = (1 << count) - 1
    out[full] = h
    for part in range(full - 1, -1, -1):
        m = 0
        while part >> m & 1:
            m += 1
        position = 0  # of the fault that is missing here, in the set that has it
        for n in range(m):
            position += part >> n & 1
        out[part] = less[out[part | 1 << m], position]
    return full + 1


@njit(cache=True, nogil=True)
def _worth_trying_luck(k, rows, parts, tried, best_ending):
    """Whether a repair that cures nothing could pay because the proof might miss what is left."""
    for part in range(1, parts):
        row = rows[part]
        for r in range(k.repair_cost.size):
            if (
                not tried >> r & 1
                and k.passes[row] * (k.pass_value[row] - best_ending[row]) > k.repair_cost[r]
            ):
                return True
    return False


@njit(cache=True, nogil=True)
def _attempt(k, r, h, part, rows, worth):
    """Mean worth after repair ``r`` was tried on the faults ``part`` of ``h``; ``worth`` holds that of each part."""
    value, left = 0.0, part
    while True:
        chance = 1.0
        for m in range(k.members.shape[1]):
            if part >> m & 1:
                cure = k.cure[r, k.members[h, m]]
                chance *= 1.0 - cure if left >> m & 1 else cure
        if chance > 0.0:
            passes = k.passes[rows[left]]
            value += chance * (passes * k.pass_value[rows[left]] + (1.0 - passes) * worth[left])
        if left == 0:
            return value
        left = (left - 1) & part


@njit(cache=True, nogil=True)
def _known_set(k, h, opened, rows, parts, repairs, best_ending):
    """Worth of set ``h`` known, by going back from all of ``repairs`` tried to none."""
    worth = np.zeros((1 << repairs.size, parts))
    for tried in range((1 << repairs.size) - 1, -1, -1):
        now_open = opened
        for i in range(repairs.size):
            if tried >> i & 1:
                now_open |= k.repair_panels[repairs[i]]
        for part in range(1, parts):
            best = best_ending[rows[part]]
            for i in range(repairs.size):
                if not tried >> i & 1:
                    r = repairs[i]
                    price = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], now_open)
                    best = max(best, _attempt(k, r, h, part, rows, worth[tried | 1 << i]) - price)
            worth[tried, part] = best
    return worth[0, parts - 1]


@njit(cache=True, nogil=True)
def known_values(k, less, w, tried, opened, out):
    """Fill ``out`` (H,) with the worth of each set that ``w`` holds possible; returns the mean.

    ``less`` (H, M) holds the row of each set without one of its faults.
    """
    mean = hindsight(k, w, tried, opened, out)
    if k.forced:
        return mean
    best_ending = np.full(w.size, -np.inf)
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
        parts = _rows(k, less, h, rows)
        count = _helping(k, h, tried, helping)
        if (
            parts > 1
            and count <= helping.size
            and not _worth_trying_luck(k, rows, parts, tried, best_ending)
        ):
            value = _known_set(k, h, opened, rows, parts, helping[:count], best_ending)
            out[h] = min(out[h], value + EPS)
        mean += w[h] * out[h]
    return mean
