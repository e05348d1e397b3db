"""Fit forests, networks and their temperature."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from counterpoise.spin.causes.forest import grow_forest
from counterpoise.spin.causes.net import train_net
from counterpoise.spin.causes.posterior import (
    SOFTEN,
    SignatureModel,
    forest_inputs,
    network_inputs,
    raw_probabilities,
    tempered,
)
from counterpoise.spin.recording import Floats

# How far the level of a real panel may be off from that of a simulated one, log10: a factor of about 1.8 (estimate).
# All plain levels of a recording move together; ratios and differences from the own baseline stay.
LEVEL_ERROR = 0.25
LEVELS = re.compile(r"(flat|up|broad)_\d+|full_(flat|up|broad)|slow_most|slow_high_ms2|dist_one")
SIZE = (95, 7, 4000)  # trees, networks, steps of their training
CROSS_VALIDATION_SIZE = (60, 2, 4000)
FOLDS = 5
BINS = np.array([0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0])


@dataclass(frozen=True)
class TrainingSet:
    """Examples: ``values`` (n, features) with NaN, ``target`` (n, groups) summing to 1, ``machine`` (n,).

    ``weight`` (n,) makes each fault count alike, whatever its number of examples.
    """

    names: tuple[str, ...]
    values: Floats
    target: Floats
    machine: NDArray[np.int64]
    weight: Floats

    def of(self, chosen: NDArray[np.bool_]) -> "TrainingSet":
        """Give a part of the examples."""
        return TrainingSet(
            self.names,
            self.values[chosen],
            self.target[chosen],
            self.machine[chosen],
            self.weight[chosen],
        )


def with_level_errors(training: TrainingSet, rng: np.random.Generator) -> Floats:
    """Values (n, features), each example with its own error of level."""
    levels = np.array([bool(LEVELS.fullmatch(name)) for name in training.names])
    values: Floats = training.values + levels * rng.normal(
        0, LEVEL_ERROR, (len(training.values), 1)
    )
    return values


def centre_and_spread(values: Floats) -> tuple[Floats, Floats]:
    """Median and spread of each feature (a standard deviation where it is normal), as the data file keeps them."""
    low, centre, high = np.nan_to_num(np.nanquantile(values, [0.1, 0.5, 0.9], axis=0))
    spread = np.maximum(high - low, 0.05) / 2.5
    return centre.astype(np.float32).astype(np.float64), spread.astype(np.float32).astype(
        np.float64
    )


def fit(
    training: TrainingSet,
    size: tuple[int, int, int],
    rng: np.random.Generator,
    temperature: float = 1.0,
) -> SignatureModel:
    """Fit to all training, with errors of level; ``size``: trees, networks, steps of their training."""
    values, share = with_level_errors(training, rng), training.target * training.weight[:, None]
    centre, spread = centre_and_spread(values)
    trees, nets, steps = size
    forest = grow_forest(forest_inputs(values, centre), share, trees, rng)
    x = network_inputs(values, centre, spread)
    return SignatureModel(
        training.names,
        centre,
        spread,
        forest,
        tuple(train_net(x, share, steps, rng) for _ in range(nets)),
        temperature,
    )


def cross_validated(training: TrainingSet, rng: np.random.Generator) -> Floats:
    """Raw probabilities (n, groups) of each example by forests that never saw its machine."""
    out = np.zeros_like(training.target)
    for fold in range(FOLDS):
        held = training.machine % FOLDS == fold
        out[held] = raw_probabilities(
            fit(training.of(~held), CROSS_VALIDATION_SIZE, rng), training.values[held]
        )
    return out


def reliability(p: Floats, target: Floats, weight: Floats) -> Floats:
    """Said against true over all groups: mean probability, share that was true, cases; (3, bins)."""
    weight = np.repeat(weight, p.shape[1])
    said, true = p.ravel(), target.ravel()
    slot = np.digitize(said, BINS)
    rows = [
        (
            np.average(said[here], weights=weight[here]),
            np.average(true[here], weights=weight[here]),
            here.sum(),
        )
        for here in (slot == each for each in range(1, len(BINS)))
        if here.sum() >= 5
    ]
    return np.array(rows).T


def fitted_temperature(p: Floats, target: Floats, weight: Floats) -> float:
    """Temperature with the best log score on examples not learned from, softened for the error of the model."""

    def loss(log_temperature: float) -> float:
        q = tempered(p, float(np.exp(log_temperature)))
        return -float(np.sum(weight * np.sum(target * np.log(q), axis=1)))

    best = minimize_scalar(loss, bounds=(-1.5, 1.5), method="bounded")
    return SOFTEN * float(np.exp(best.x))
