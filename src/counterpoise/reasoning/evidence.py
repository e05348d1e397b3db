"""The likelihood of findings that hang together: one check repeated, checks that look at one thing.

Findings of different things multiply. A check done twice is not two findings, though: part of what
it shows is simply shown again. And checks of one thing share what leads them astray. Arrays are
over H sets of faults and the O outcomes of a check; a reading is (O,) how well each outcome fits
what was read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from counterpoise.reasoning.hypotheses import Floats, Hypotheses


def likelihood_of_readings(
    table: Floats, readings: Sequence[Floats], *, slips: Floats, same_again: float
) -> Floats:
    """(H,) likelihood of all readings of one check, in any order.

    ``table`` (O, H) holds the chances of a single reading, with the chances ``slips`` (O,) that it
    is a slip that puts down each outcome in it. The machine shows an outcome and each reading is of
    it, but for a slip of its own. On a repeat, the outcome is the same again with the chance
    ``same_again``, else drawn anew.
    """
    # a product of one factor could differ from today's figure in the last bit
    if len(readings) == 1:
        return np.asarray(readings[0] @ table)
    anew = np.prod([weights @ table for weights in readings], axis=0)
    fits = np.prod([fits_of(weights, slips) for weights in readings], axis=0)
    # the slip is taken out of the table again: each reading has its own in ``fits``
    again = np.maximum((fits @ table - fits @ slips) / (1.0 - slips.sum()), 0.0)
    return np.asarray(same_again * again + (1.0 - same_again) * anew)


def fits_of(reading: Floats, slips: Floats) -> Floats:
    """(O,) how well each outcome fits a reading (O,) that may be a slip, by ``slips`` (O,)."""
    return np.asarray((1.0 - slips.sum()) * reading + slips @ reading)


def misled_together(likelihood: Floats, misled: float, background: Floats) -> Floats:
    """(..., H) likelihood of findings that one cause may lead astray together.

    ``likelihood`` (..., H) is theirs if nothing does. With the chance ``misled`` they are those of
    some other machine, drawn from ``background`` (H,), whatever is wrong with this one. However
    many of them agree, they raise the odds of no set by more than 1 / (misled * its background).
    """
    if misled == 0.0:
        return likelihood
    # summed here: a library that shares a sum this small among threads takes longer
    astray = (likelihood * background).sum(axis=-1, keepdims=True)
    return np.asarray((1.0 - misled) * likelihood + misled * astray)


def share_trusted(likelihood: Floats, misled: float, background: Floats) -> Floats:
    """(H,) chance that nothing leads findings astray, by their ``likelihood`` (H,) if nothing does.

    It is small under the sets that explain them badly: all ones where nothing ever misleads.
    """
    straight = (1.0 - misled) * likelihood
    total = straight + misled * (background * likelihood).sum()
    # no machine at all could have given them: then nothing led them astray
    return np.asarray(np.divide(straight, total, out=np.ones_like(straight), where=total > 0.0))


def next_reading(table: Floats, share: Floats, likelihood: Floats, background: Floats) -> Floats:
    """(O, H) chances of a further finding beside those that the same cause may lead astray.

    ``table`` (O, H) holds its chances if nothing does, ``likelihood`` (H,) that of the findings
    before if nothing does, ``share`` (H,) the chance that it is so.
    """
    elsewhere = background * likelihood
    total = elsewhere.sum()
    if total == 0.0 or (share == 1.0).all():
        return table
    # the other machine is one that gave the findings before
    strange = (table @ elsewhere) / total
    return np.asarray(share * table + (1.0 - share) * strange[:, None])


def share_after_repairs(share: Floats, belief: Floats, hypotheses: Hypotheses) -> Floats:
    """(H,) share trusted of the machines that come to each set, mostly by a repair.

    ``share`` (H,) is that of machines as they stand, ``belief`` (H,) their probabilities. What is
    left of a set once a fault is mended may explain what was found before badly: not because that
    led astray, but because the fault that explains it is gone.
    """
    mass, trusted = belief.copy(), belief * share
    size = hypotheses.present.sum(axis=1)
    # from the largest sets down, each handing on what it stands for to its parts
    for count in range(int(size.max(initial=0)), 0, -1):
        rows = np.flatnonzero(size == count)
        parts = hypotheses.one_less[rows, :count].ravel()
        mass += np.bincount(parts, np.repeat(mass[rows] / count, count), mass.size)
        trusted += np.bincount(parts, np.repeat(trusted[rows] / count, count), mass.size)
    return np.divide(trusted, mass, out=share.copy(), where=mass > 0.0)


def company_factor(
    hypotheses: Hypotheses,
    pairs: Mapping[tuple[str, str], float],
    chances: Mapping[str, float],
) -> Floats:
    """(H,) factor on the odds of each set for faults that come together.

    ``pairs`` maps two faults to the factor on the odds of both. How often each fault comes is kept,
    to first order in ``chances`` of the faults: what it gains in company it loses alone.
    """
    factor = np.ones(len(hypotheses.sets))
    place = {name: column for column, name in enumerate(hypotheses.fault_ids)}
    for (one, other), times in pairs.items():
        first, second = hypotheses.present[:, place[one]], hypotheses.present[:, place[other]]
        factor[first & second] *= times
        factor[first] /= 1.0 + (times - 1.0) * chances.get(other, 0.0)
        factor[second] /= 1.0 + (times - 1.0) * chances.get(one, 0.0)
    return factor
