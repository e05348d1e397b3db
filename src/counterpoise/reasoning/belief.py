"""Exact belief over sets of faults: multiply likelihoods, normalise, in log space.

A belief is an (H,) array of log probabilities. Functions return new arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counterpoise.reasoning.hypotheses import Floats, Hypotheses, Ints
    from counterpoise.reasoning.model import Repair


@dataclass(frozen=True)
class Transition:
    """What a repair does to sets of faults: K moves, each from a set to what is left of it.

    ``source``, rising, ``target`` and ``chance`` are (K,).
    """

    source: Ints
    target: Ints
    chance: Floats


def to_log(probabilities: Floats) -> Floats:
    """Log probabilities (H,); impossible sets become minus infinity."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(probabilities))


def normalised(log_belief: Floats, *, what: str = "the evidence") -> Floats:
    """The log belief (H,) scaled to sum to one.

    Raises ModelError where nothing is left that could explain ``what``.
    """
    # late: the library takes longer to load than a small model takes to solve
    from scipy.special import logsumexp

    total = logsumexp(log_belief)
    # minus infinity where every set is ruled out; not a number where evidence was none
    if not np.isfinite(total):
        raise ModelError(
            f"no set of faults can explain {what}",
            field="evidence",
            remedy="take a finding back, or allow more faults at once",
        )
    return np.asarray(log_belief - total)


def observe(
    log_belief: Floats,
    table: Floats,
    weights: Sequence[float] | Floats,
    *,
    what: str = "the evidence",
) -> Floats:
    """Log belief (H,) after a check with outcome probabilities ``table`` (O, H).

    ``weights`` (O,) holds how well each outcome fits what was seen: one-hot when plain, all ones
    where it could not be told. Raises ModelError where no set of faults explains it.
    """
    likelihood = np.asarray(weights, dtype=np.float64) @ table
    return normalised(log_belief + to_log(likelihood), what=what)


def transition_of(repair: Repair, hypotheses: Hypotheses) -> Transition:
    """Where a repair leads from each set it touches.

    Each fault is cured independently of the others, with its probability.
    """
    column = {name: i for i, name in enumerate(hypotheses.fault_ids)}
    cures = {
        column[name]: chance
        for name, chance in repair.cures.items()
        if chance > 0 and name in column
    }
    source, target, chance = [], [], []
    # every subset of the faults touched may be cured, so a set of three has up to seven moves
    for row in np.flatnonzero(hypotheses.present[:, list(cures)].any(axis=1)).tolist():
        faults = hypotheses.sets[row]
        touched = [fault for fault in faults if fault in cures]
        for size in range(1, len(touched) + 1):
            for cured in combinations(touched, size):
                source.append(row)
                target.append(hypotheses.index[tuple(f for f in faults if f not in cured)])
                factors = [cures[f] if f in cured else 1.0 - cures[f] for f in touched]
                chance.append(prod(factors))
    # a sure cure leaves no chance to what it would have missed
    kept = np.array(chance) > 0
    # arrays of the right type even where nothing moves
    return Transition(
        np.array(source, dtype=np.int64)[kept] if source else np.zeros(0, dtype=np.int64),
        np.array(target, dtype=np.int64)[kept] if target else np.zeros(0, dtype=np.int64),
        np.array(chance)[kept] if chance else np.zeros(0),
    )


def repaired(belief: Floats, transition: Transition) -> Floats:
    """(H,) linear belief after a repair, before any retest: only what it touches changes."""
    after = belief.copy()
    moved = belief[transition.source] * transition.chance
    # a set may be the source or the target of several moves, so the sums must not be buffered
    np.subtract.at(after, transition.source, moved)
    np.add.at(after, transition.target, moved)
    return np.asarray(np.maximum(after, 0.0))


def mean_after(values: Floats, transition: Transition) -> Floats:
    """(H,) mean of a figure (H,) over what a repair makes of each set, before any retest."""
    gain = transition.chance * (values[transition.target] - values[transition.source])
    return np.asarray(values + np.bincount(transition.source, weights=gain, minlength=values.size))


def marginals(belief: Floats, hypotheses: Hypotheses) -> Floats:
    """(F,) probability that each fault is present, from a linear belief (H,)."""
    return np.asarray(belief @ hypotheses.presence)
