"""A small network of rectifiers, as plain arrays, trained by Adam (Kingma, Ba, 2015).

It draws slanted borders where a forest draws steps; the two err in different places, so their mean
errs less. The same lines train it on an accelerator, where cupy takes the place of numpy.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from counterpoise.spin.recording import Floats

# Sizes and rates are estimates, settled on synthetic machines not trained on.
HIDDEN = (48,)
BATCH = 64
RATE = 2e-3
DECAY = 0.02
# Standard deviation of the noise on each scaled input, share of inputs left out, and share of a
# layer kept.
NOISE = 0.15
DROPPED = 0.1
KEPT = 0.9


@dataclass(frozen=True)
class Net:
    """Layers of rectifiers, first to last: ``weights`` (inputs, outputs), ``offsets`` (outputs,).

    The outputs of the last are scores of the groups.
    """

    weights: tuple[Floats, ...]
    offsets: tuple[Floats, ...]

    def predict(self, x: Floats) -> Floats:
        """Probability of each group (n, groups) for scaled features ``x`` (n, features)."""
        for weight, offset in zip(self.weights[:-1], self.offsets[:-1], strict=True):
            x = np.maximum(x @ weight + offset, 0.0)
        return _softmax(x @ self.weights[-1] + self.offsets[-1])


def _softmax(scores: Floats) -> Floats:
    # Less the largest, so that no exponential overflows.
    raised = np.exp(scores - scores.max(axis=1, keepdims=True))
    p: Floats = raised / raised.sum(axis=1, keepdims=True)
    return p


def train_net(
    x: Floats,
    share: Floats,
    steps: int,
    rng: np.random.Generator,
    *,
    hidden: tuple[int, ...] = HIDDEN,
    batch: int = BATCH,
    shifted: Floats | None = None,
    xp: Any = np,
) -> Net:
    """Train on scaled features ``x`` (n, features) and weighted targets ``share`` (n, groups).

    Examples come up as often as they weigh; inputs are disturbed and some left out each time, so
    that none is relied on alone. ``shifted`` (features,) is how far an error of level of one
    deviation moves each, None for no such errors. ``xp``: numpy, or cupy on an accelerator.
    """
    weight = share.sum(axis=1)
    target = xp.asarray(share / weight[:, None], dtype=np.float32)
    sizes = (x.shape[1], *hidden, share.shape[1])
    gain = [np.sqrt(2.0)] * len(hidden) + [0.3]
    parts = [
        xp.asarray(rng.normal(0, g / np.sqrt(a), (a, b)), dtype=np.float32)
        for g, (a, b) in zip(gain, pairwise(sizes), strict=True)
    ] + [xp.zeros(b, dtype=np.float32) for b in sizes[1:]]
    adam, layers = _Adam(xp, parts), len(sizes) - 1
    rows, level = (
        xp.asarray(x, dtype=np.float32),
        xp.asarray(np.zeros(x.shape[1]) if shifted is None else shifted, dtype=np.float32),
    )
    draws = xp.random.default_rng(int(rng.integers(2**31)))
    order = rng.choice(len(x), (steps, batch), p=weight / weight.sum())

    def keep(shape: tuple[int, ...]) -> Any:
        return (draws.random(shape, dtype=np.float32) < KEPT) * np.float32(1 / KEPT)

    # Draws of noise are made where the sums are, the order of examples here: both from one seed.
    for step, chosen in enumerate(order):
        some = rows[xp.asarray(chosen)]
        noise = NOISE * draws.standard_normal(some.shape, dtype=np.float32)
        noise += draws.standard_normal((batch, 1), dtype=np.float32) * level
        some = (some + noise) * (draws.random(some.shape, dtype=np.float32) > DROPPED)
        slopes = _slopes(xp, parts[:layers], parts[layers:], some, target[xp.asarray(chosen)], keep)
        # The rate falls to nothing over the last two thirds.
        adam.descend(slopes, RATE * min(1.0, 1.5 * (1 - step / steps)))
    kept = [np.asarray(part.get() if xp is not np else part, dtype=np.float64) for part in parts]
    return Net(tuple(kept[:layers]), tuple(kept[layers:]))


def _slopes(xp: Any, weights: list[Any], offsets: list[Any], x: Any, target: Any, keep: Any) -> Any:
    """Slopes of the mean log loss by weights and offsets; ``keep`` draws what a layer keeps."""
    layers, last = [x], len(weights) - 1
    for i in range(last):
        hidden = xp.maximum(layers[-1] @ weights[i] + offsets[i], 0.0)
        layers.append(hidden * keep(hidden.shape))
    # The last layer has no rectifier: its scores become probabilities.
    scores = layers[-1] @ weights[last] + offsets[last]
    raised = xp.exp(scores - scores.max(axis=1, keepdims=True))
    error = (raised / raised.sum(axis=1, keepdims=True) - target) / len(x)
    by_weight, by_offset = [], []
    for i in range(last, -1, -1):
        by_weight.append(layers[i].T @ error)
        by_offset.append(error.sum(axis=0))
        if i:
            # What was left out is nothing, and nothing has no slope.
            error = (error @ weights[i].T) * (layers[i] > 0) / KEPT
    return by_weight[::-1] + by_offset[::-1]


class _Adam:
    """Running means of slopes and their squares; weights, not offsets, decay."""

    def __init__(self, xp: Any, parts: list[Any]) -> None:
        self.xp, self.parts, self.step = xp, parts, 0
        self.mean = [xp.zeros_like(part) for part in parts]
        self.square = [xp.zeros_like(part) for part in parts]

    def descend(self, slopes: list[Any], rate: float) -> None:
        self.step += 1
        for i, slope in enumerate(slopes):
            # The usual forgetting of Adam: 0.9 for the slopes, 0.999 for their squares.
            self.mean[i] += 0.1 * (slope - self.mean[i])
            self.square[i] += 0.001 * (slope**2 - self.square[i])
            size = self.xp.sqrt(self.square[i] / (1 - 0.999**self.step)) + 1e-8
            self.parts[i] -= rate * self.mean[i] / (1 - 0.9**self.step) / size
            # Offsets do not decay: they carry the share of each group.
            if slope.ndim == 2:
                self.parts[i] *= 1 - rate * DECAY
