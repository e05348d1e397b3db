"""Fit the forests and their temperature."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from counterpoise.spin.forest import grow
from counterpoise.spin.posterior import PRIOR_OF, SOFTEN, Learned, inputs, tempered, votes
from counterpoise.spin.recording import Floats

# How far the level of a real panel may be off from that of a simulated one, log10: a factor of about 1.8 (estimate).
# All plain levels of a recording move together; ratios and differences from the own baseline stay.
LEVEL_ERROR = 0.25
COPIES = 2
LEVELS = re.compile(r"(flat|up|broad)_\d+|full_(flat|up|broad)|slow_most|slow_high_ms2|dist_one")
TREES = 120
TREES_IN_TRIALS = 30
FOLDS = 4
BINS = np.array([0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0])


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


def shaken(lessons: Lessons, rng: np.random.Generator) -> Lessons:
    """Copies of the examples, each with its own error of level."""
    levels = np.array([bool(LEVELS.fullmatch(name)) for name in lessons.names])
    values = np.repeat(lessons.values, COPIES, axis=0)
    values = values + levels * rng.normal(0, LEVEL_ERROR, (len(values), 1))
    return Lessons(lessons.names, values, np.repeat(lessons.target, COPIES, axis=0), np.repeat(lessons.machine, COPIES))


def fit(lessons: Lessons, trees: int, rng: np.random.Generator, temperature: float = 1.0) -> Learned:
    """Fit a forest on all lessons, their levels shaken, groups weighted to the prior."""
    lessons = shaken(lessons, rng)
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


def reliability(p: Floats, target: Floats) -> Floats:
    """Said against true over all groups: mean probability, share that was true, cases; (3, bins)."""
    weight = np.repeat(target @ (PRIOR_OF / target.mean(axis=0)), p.shape[1])
    said, true = p.ravel(), target.ravel()
    slot = np.digitize(said, BINS)
    rows = [
        (np.average(said[here], weights=weight[here]), np.average(true[here], weights=weight[here]), here.sum())
        for here in (slot == each for each in range(1, len(BINS)))
        if here.sum() >= 5
    ]
    return np.array(rows).T


def fitted_temperature(p: Floats, target: Floats) -> float:
    """Temperature with the best log score on examples not learned from, softened for the error of the model."""
    weight = target @ (PRIOR_OF / target.mean(axis=0))

    def loss(log_temperature: float) -> float:
        q = tempered(p, float(np.exp(log_temperature)))
        return -float(np.sum(weight * np.sum(target * np.log(q), axis=1)))

    best = minimize_scalar(loss, bounds=(-1.5, 1.5), method="bounded")
    return SOFTEN * float(np.exp(best.x))
