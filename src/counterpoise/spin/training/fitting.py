"""Fit forests, networks and their temperature."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from counterpoise.spin.causes.forest import LEAST_IN_LEAF, Forest, grow_forest, joined
from counterpoise.spin.causes.net import BATCH, HIDDEN, Net, train_net
from counterpoise.spin.causes.posterior import (
    SOFTEN,
    SignatureModel,
    forest_inputs,
    named_plainly,
    network_inputs,
    raw_probabilities,
    tempered,
)
from counterpoise.spin.recording import Floats

# How far the level of a real panel may be off from that of a simulated one, log10: a factor of
# about 1.8 (estimate). Ratios and differences from the own baseline stay.
LEVEL_ERROR = 0.25
LEVELS = re.compile(
    r"(flat|up|broad)_\d+|full_(flat|up|broad)|slow_most|slow_high_ms2|dist_one|.*@\d+"
)
# From so many examples on a model is larger (estimate).
MANY = 3000
# Trees grown by one task: so many that handing over the examples costs little.
TREES_AT_ONCE = 8
# By machine, not by recording: two phones hear one and the same spin.
FOLDS = 4
# Finer at both ends, where most probabilities lie.
BINS = np.array([0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0])


# What runs tasks in order: ``map``, or that of a pool.
Run = Callable[..., Iterable[Any]]


class Size(NamedTuple):
    """Trees, networks, steps of training each; their width, batch, and the least leaf.

    What the data file has room for, by experience with so many examples.
    """

    trees: int = 95
    nets: int = 7
    steps: int = 4000
    hidden: tuple[int, ...] = HIDDEN
    batch: int = BATCH
    least: int = LEAST_IN_LEAF


CROSS_VALIDATION_SIZE = Size(40, 3, 3000)


def orders_size_for(examples: int) -> Size:
    """Size of the networks that see all orders against speed, for so many examples."""
    # With so many a forest beside the networks takes more than it gives.
    return Size(0, 4, 9000, (256, 128), 1024) if examples >= MANY else Size(trees=0)


def size_for(examples: int) -> Size:
    """Size of a model for so many examples: wider and longer, and leaves no more for the file."""
    if examples < MANY:
        return Size()
    return Size(
        trees=64,
        nets=6,
        steps=min(16_000, int(4000 * np.sqrt(examples / MANY))),
        hidden=(160,),
        batch=128,
        least=max(LEAST_IN_LEAF, examples // 1500),
    )


@dataclass(frozen=True)
class TrainingSet:
    """Examples: ``values`` (n, features) with NaN, ``target`` (n, groups), ``machine`` (n,).

    ``weight`` (n,) makes each fault count alike, whatever its number of examples.
    """

    names: tuple[str, ...]
    values: Floats
    target: Floats
    machine: NDArray[np.int64]
    weight: Floats

    def of(self, chosen: NDArray[np.bool_]) -> "TrainingSet":
        """Return the examples that are ``chosen`` (n,)."""
        return TrainingSet(
            self.names,
            self.values[chosen],
            self.target[chosen],
            self.machine[chosen],
            self.weight[chosen],
        )


def are_levels(names: tuple[str, ...]) -> NDArray[np.bool_]:
    """Which features (features,) are plain levels, that move with the panel's own."""
    return np.array([bool(LEVELS.fullmatch(name)) for name in names], dtype=np.bool_)


def with_level_errors(training: TrainingSet, rng: np.random.Generator) -> Floats:
    """Values (n, features), each example with its own error of level."""
    # All plain levels of an example move together, as those of one panel do.
    levels = are_levels(training.names)
    values: Floats = training.values + levels * rng.normal(
        0, LEVEL_ERROR, (len(training.values), 1)
    )
    return values


def centre_and_spread(values: Floats) -> tuple[Floats, Floats]:
    """Median and spread (features,) of values (n, features), rounded as the data file keeps them.

    The spread is a standard deviation where a feature is normal, at least 0.02.
    """
    # Quantiles: a few machines far out must not set the scale.
    low, centre, high = np.nan_to_num(np.nanquantile(values, [0.1, 0.5, 0.9], axis=0))
    spread = np.maximum(high - low, 0.05) / 2.5
    return centre.astype(np.float32).astype(np.float64), spread.astype(np.float32).astype(
        np.float64
    )


def fit(
    training: TrainingSet,
    size: Size,
    rng: np.random.Generator,
    run: Run = map,
    xp: Any = np,
) -> SignatureModel:
    """Fit to all examples, with errors of level; ``run`` a pool's ``map``, ``xp`` as `train_net`'s.

    The same model whatever pool runs it: every task has draws of its own. Temperature 1.
    """
    share = training.target * training.weight[:, None]
    centre, spread = centre_and_spread(training.values)
    plain = named_plainly(training.names)
    values = with_level_errors(training, rng)[:, plain]
    x = forest_inputs(values, centre[plain]).astype(np.float32)
    groves = [TREES_AT_ONCE] * (size.trees // TREES_AT_ONCE)
    groves += [size.trees % TREES_AT_ONCE] if size.trees % TREES_AT_ONCE else []
    draws = iter(rng.spawn(len(groves) + size.nets))
    scaled = network_inputs(training.values, centre, spread).astype(np.float32)
    shifted = LEVEL_ERROR * are_levels(training.names) / spread
    tasks = [(scaled, share, shifted, next(draws), size, xp) for _ in range(size.nets)]
    # A pool begins with the trees; an accelerator, which belongs to one process, does the nets.
    parts = run(fitted_trees, [(x, share, trees, next(draws), size) for trees in groves])
    nets = list((run if xp is np else map)(fitted_net, tasks))
    forest = joined(list(parts)) if groves else None
    return SignatureModel(training.names, centre, spread, forest, tuple(nets), 1.0)


def fitted_net(task: tuple[Any, Floats, Floats, np.random.Generator, Size, Any]) -> Net:
    """One network on scaled inputs."""
    x, share, shifted, rng, size, xp = task
    return train_net(
        x, share, size.steps, rng, hidden=size.hidden, batch=size.batch, shifted=shifted, xp=xp
    )


def fitted_trees(task: tuple[Any, Floats, int, np.random.Generator, Size]) -> Forest:
    """So many trees on forest inputs."""
    x, share, trees, rng, size = task
    return grow_forest(x.astype(np.float64), share, trees, rng, least=size.least)


def cross_validated(training: TrainingSet, rng: np.random.Generator, run: Run = map) -> Floats:
    """Raw probabilities (n, groups) of each example by models that never saw its machine."""
    out = np.zeros_like(training.target)
    for fold in range(FOLDS):
        held = training.machine % FOLDS == fold
        out[held] = raw_probabilities(
            fit(training.of(~held), CROSS_VALIDATION_SIZE, rng, run), training.values[held]
        )
    return out


def reliability(p: Floats, target: Floats, weight: Floats) -> Floats:
    """Said against true: mean probability, share that was true, cases; (3, bins) of 5 and more."""
    # Each probability said of each group is one case, weighed as its example.
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
        # With fewer the share that was true is chance.
        if here.sum() >= 5
    ]
    return np.array(rows).T


def fitted_temperature(p: Floats, target: Floats, weight: Floats) -> float:
    """Temperature with the best log score on probabilities (n, groups) of unseen examples.

    Softened for the error of the simulation.
    """

    def loss(log_temperature: float) -> float:
        q = tempered(p, float(np.exp(log_temperature)))
        return -float(np.sum(weight * np.sum(target * np.log(q), axis=1)))

    # Within a factor of 4.5 either way; beyond, the model is of no use anyway.
    best = minimize_scalar(loss, bounds=(-1.5, 1.5), method="bounded")
    return SOFTEN * float(np.exp(best.x))
