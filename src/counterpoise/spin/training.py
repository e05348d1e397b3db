"""Fit the forests and their temperature."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from counterpoise.spin.forest import grow
from counterpoise.spin.posterior import PRIOR_OF, SOFTEN, Learned, inputs, tempered, votes
from counterpoise.spin.recording import Floats

TREES = 160
TREES_IN_TRIALS = 60
FOLDS = 4


@dataclass(frozen=True)
class Lessons:
    """Examples: ``values`` (n, features) with NaN, ``target`` (n, groups) summing to 1, ``machine`` (n,)."""

    names: tuple[str, ...]
    values: Floats
    target: Floats
    machine: NDArray[np.int64]

    def of(self, chosen: NDArray[np.bool_]) -> "Lessons":
        """Give a part of the examples."""
        return Lessons(self.names, self.values[chosen], self.target[chosen], self.machine[chosen])


def fit(lessons: Lessons, trees: int, rng: np.random.Generator, temperature: float = 1.0) -> Learned:
    """Fit a forest on all lessons, groups weighted to the prior."""
    centre = np.nan_to_num(np.nanmedian(lessons.values, axis=0)).astype(np.float32).astype(np.float64)
    share = lessons.target * (PRIOR_OF / lessons.target.mean(axis=0))
    return Learned(lessons.names, centre, grow(inputs(lessons.values, centre), share, trees, rng), temperature)


def cross_votes(lessons: Lessons, rng: np.random.Generator) -> Floats:
    """Raw probabilities (n, groups) of each example by forests that never saw its machine."""
    out = np.zeros_like(lessons.target)
    for fold in range(FOLDS):
        held = lessons.machine % FOLDS == fold
        out[held] = votes(fit(lessons.of(~held), TREES_IN_TRIALS, rng), lessons.values[held])
    return out


def fitted_temperature(p: Floats, target: Floats) -> float:
    """Temperature with the best log score on examples not learned from, softened for the error of the model."""
    weight = target @ (PRIOR_OF / target.mean(axis=0))

    def loss(log_temperature: float) -> float:
        q = tempered(p, float(np.exp(log_temperature)))
        return -float(np.sum(weight * np.sum(target * np.log(q), axis=1)))

    best = minimize_scalar(loss, bounds=(-1.5, 1.5), method="bounded")
    return SOFTEN * float(np.exp(best.x))
