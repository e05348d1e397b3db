"""Fit the committees: small networks, Adam, noise on every input so that no single feature is trusted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from counterpoise.spin.posterior import PRIOR_OF, Committee, inputs, tempered, votes
from counterpoise.spin.recording import Floats

NETWORKS = 8
HIDDEN = 40
STEPS = 2500
BATCH = 256
NOISE = 0.45
DROPPED = 0.15
DECAY = 2e-3
RATE = 4e-3
Weights = list[Floats]


@dataclass(frozen=True)
class Lessons:
    """Examples: ``values`` (n, features) with NaN, ``target`` (n, groups) summing to 1, ``machine`` (n,)."""

    names: tuple[str, ...]
    values: Floats
    target: Floats
    machine: NDArray[np.int64]


def standard(values: Floats) -> tuple[Floats, Floats]:
    """Middle and spread of each feature; features that hardly vary get a spread that keeps them quiet."""
    centre = np.nanmedian(values, axis=0)
    low, high = np.nanquantile(values, [0.16, 0.84], axis=0)
    return np.nan_to_num(centre), np.maximum(np.nan_to_num((high - low) / 2), 0.05)


def fit(lessons: Lessons, rng: np.random.Generator, temperature: float = 1.0) -> Committee:
    """Fit a committee on all lessons."""
    centre, scale = standard(lessons.values)
    x = inputs(lessons.values, centre, scale)
    weight = PRIOR_OF / lessons.target.mean(axis=0)
    target = lessons.target * weight
    target /= target.sum(axis=1, keepdims=True)
    share = (lessons.target @ weight) / (lessons.target @ weight).sum()
    nets = [_network(x, target, share, rng) for _ in range(NETWORKS)]
    stacked = [np.stack([net[i] for net in nets]) for i in range(4)]
    return Committee(lessons.names, centre, scale, *stacked, temperature=temperature)


def _network(x: Floats, target: Floats, share: Floats, rng: np.random.Generator) -> Weights:
    features, groups = x.shape[1], target.shape[1]
    net = [
        rng.normal(0, features**-0.5, (features, HIDDEN)),
        np.zeros(HIDDEN),
        rng.normal(0, HIDDEN**-0.5, (HIDDEN, groups)),
        np.log(PRIOR_OF).copy(),
    ]
    first, second = [np.zeros_like(w) for w in net], [np.zeros_like(w) for w in net]
    for step in range(1, STEPS + 1):
        chosen = rng.choice(len(x), BATCH, p=share)
        slopes = _slopes(net, disturbed(x[chosen], rng), target[chosen])
        rate = RATE * min(1.0, 3 * (1 - step / (STEPS + 1)))
        for i, slope in enumerate(slopes):
            first[i] = 0.9 * first[i] + 0.1 * slope
            second[i] = 0.999 * second[i] + 0.001 * slope**2
            update = (first[i] / (1 - 0.9**step)) / (np.sqrt(second[i] / (1 - 0.999**step)) + 1e-8)
            net[i] = net[i] - rate * (update + (DECAY * net[i] if i in {0, 2} else 0.0) * 10)
    return net


def disturbed(x: Floats, rng: np.random.Generator) -> Floats:
    """Inputs with noise and with some features hidden, as another machine or phone would show them."""
    half = x.shape[1] // 2
    hidden = rng.random((len(x), half)) < DROPPED * rng.random((len(x), 1)) * 2
    values = (x[:, :half] + rng.normal(0, NOISE, (len(x), half))) * ~hidden * (1 - x[:, half:])
    return np.concatenate([values, np.maximum(x[:, half:], hidden)], axis=1)


def _slopes(net: Weights, x: Floats, target: Floats) -> Weights:
    w1, b1, w2, b2 = net
    hidden = np.tanh(x @ w1 + b1)
    score = hidden @ w2 + b2
    p = np.exp(score - score.max(axis=1, keepdims=True))
    p /= p.sum(axis=1, keepdims=True)
    error = (p - target) / len(x)
    back = (error @ w2.T) * (1 - hidden**2)
    return [x.T @ back, back.sum(axis=0), hidden.T @ error, error.sum(axis=0)]


def cross_votes(lessons: Lessons, rng: np.random.Generator, folds: int = 5) -> Floats:
    """Votes (n, groups) on each example by committees that never saw its machine."""
    out = np.zeros_like(lessons.target)
    for fold in range(folds):
        held = lessons.machine % folds == fold
        learned = fit(Lessons(lessons.names, lessons.values[~held], lessons.target[~held], lessons.machine[~held]), rng)
        out[held] = votes(learned, lessons.values[held])
    return out


def fitted_temperature(log_p: Floats, target: Floats) -> float:
    """Temperature with the best log score on examples not learned from."""
    weight = target @ (PRIOR_OF / target.mean(axis=0))

    def loss(log_temperature: float) -> float:
        p = tempered(log_p, float(np.exp(log_temperature)))
        return -float(np.sum(weight * np.sum(target * np.log(p), axis=1)))

    return float(np.exp(minimize_scalar(loss, bounds=(-1.0, 1.5), method="bounded").x))
