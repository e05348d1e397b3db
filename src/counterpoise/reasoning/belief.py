"""Exact belief over sets of faults: multiply likelihoods, normalise, in log space.

A belief is an (H,) array of log probabilities. Functions return new arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from counterpoise.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counterpoise.reasoning.hypotheses import Floats, Hypotheses, Ints
    from counterpoise.reasoning.model import Repair


@dataclass(frozen=True)
class Transition:
    """What a repair does to sets of faults: from ``source``, rising, to ``target`` with chance ``chance``; all (K,)."""

    source: Ints
    target: Ints
    chance: Floats


def to_log(probabilities: Floats) -> Floats:
    """Log probabilities; impossible sets become minus infinity."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(probabilities))


def normalised(log_belief: Floats, *, what: str = "the evidence") -> Floats:
    """The belief scaled to sum to one; ModelError where nothing is left that could explain ``what``."""
    total = logsumexp(log_belief)
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
    """Belief after a check. ``weights`` (O,) holds how well each outcome fits what was seen: one-hot when plain."""
    seen = np.asarray(weights, dtype=np.float64) @ table
    return normalised(log_belief + to_log(seen), what=what)


def transition_of(repair: Repair, hypotheses: Hypotheses) -> Transition:
    """Where a repair leads from each set it touches; each fault is cured independently of the others."""
    column = {name: i for i, name in enumerate(hypotheses.fault_ids)}
    cures = {
        column[name]: chance
        for name, chance in repair.cures.items()
        if chance > 0 and name in column
    }
    source, target, chance = [], [], []
    for row, faults in enumerate(hypotheses.sets):
        touched = [fault for fault in faults if fault in cures]
        for size in range(1, len(touched) + 1):
            for cured in combinations(touched, size):
                source.append(row)
                target.append(hypotheses.index[tuple(f for f in faults if f not in cured)])
                factors = [cures[f] if f in cured else 1.0 - cures[f] for f in touched]
                chance.append(float(np.prod(factors)))
    kept = np.array(chance) > 0
    return Transition(
        np.array(source, dtype=np.int64)[kept] if source else np.zeros(0, dtype=np.int64),
        np.array(target, dtype=np.int64)[kept] if target else np.zeros(0, dtype=np.int64),
        np.array(chance)[kept] if chance else np.zeros(0),
    )


def repaired(belief: Floats, moves: Transition) -> Floats:
    """(H,) linear belief after a repair, before any retest: it changes only what the repair touches."""
    after = belief.copy()
    moved = belief[moves.source] * moves.chance
    np.subtract.at(after, moves.source, moved)
    np.add.at(after, moves.target, moved)
    return np.asarray(np.maximum(after, 0.0))


def mean_after(values: Floats, moves: Transition) -> Floats:
    """(H,) from (H,): the mean of a figure over what a repair makes of each set, before any retest."""
    gain = moves.chance * (values[moves.target] - values[moves.source])
    return np.asarray(values + np.bincount(moves.source, weights=gain, minlength=values.size))


def marginals(belief: Floats, hypotheses: Hypotheses) -> Floats:
    """(F,) chance that each fault is present."""
    return np.asarray(belief @ hypotheses.present)
