"""A small network of one layer of rectifiers, as plain arrays, trained by Adam (Kingma, Ba, 2015).

It draws slanted borders where a forest draws steps; the two err in different places, so their mean
errs less.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats

# Sizes and rates are estimates, settled on synthetic machines not trained on.
HIDDEN = 48
BATCH = 64
RATE = 3e-3
DECAY = 0.02
# Standard deviation of the noise on each scaled input, and share of inputs left out.
NOISE = 0.15
DROPPED = 0.1


@dataclass(frozen=True)
class Net:
    """Weights ``into`` (features, hidden) and ``out`` (hidden, groups) with their offsets."""

    into: Floats
    into_offset: Floats
    out: Floats
    out_offset: Floats

    def predict(self, x: Floats) -> Floats:
        """Probability of each group (n, groups) for scaled features ``x`` (n, features)."""
        return _softmax(
            np.maximum(x @ self.into + self.into_offset, 0.0) @ self.out + self.out_offset
        )


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
    hidden: int = HIDDEN,
    batch: int = BATCH,
) -> Net:
    """Train on scaled features ``x`` (n, features) and weighted targets ``share`` (n, groups).

    Examples come up as often as they weigh; inputs are disturbed and some left out each time, so
    that none is relied on alone.
    """
    weight = share.sum(axis=1)
    target = share / weight[:, None]
    groups, features = share.shape[1], x.shape[1]
    parts = [
        rng.normal(0, 1 / np.sqrt(features), (features, hidden)),
        np.zeros(hidden),
        rng.normal(0, 0.3 / np.sqrt(hidden), (hidden, groups)),
        np.zeros(groups),
    ]
    adam = _Adam(parts)
    order = rng.choice(len(x), (steps, batch), p=weight / weight.sum())
    for step, rows in enumerate(order):
        disturbed = (x[rows] + rng.normal(0, NOISE, (batch, features))) * (
            rng.random((batch, features)) > DROPPED
        )
        # The rate falls to nothing over the last third.
        adam.descend(
            _slopes(parts, disturbed, target[rows]), RATE * min(1.0, 3 * (1 - step / steps))
        )
    return Net(*parts)


def _slopes(parts: list[Floats], x: Floats, target: Floats) -> list[Floats]:
    """Slopes of the mean log loss by weights and offsets."""
    into, into_offset, out, out_offset = parts
    raw = x @ into + into_offset
    hidden = np.maximum(raw, 0.0)
    error = (_softmax(hidden @ out + out_offset) - target) / len(x)
    back = (error @ out.T) * (raw > 0)
    return [x.T @ back, back.sum(axis=0), hidden.T @ error, error.sum(axis=0)]


class _Adam:
    """Running means of slopes and their squares; weights, not offsets, decay."""

    def __init__(self, parts: list[NDArray[np.float64]]) -> None:
        self.parts, self.step = parts, 0
        self.mean = [np.zeros_like(part) for part in parts]
        self.square = [np.zeros_like(part) for part in parts]

    def descend(self, slopes: list[Floats], rate: float) -> None:
        self.step += 1
        for i, slope in enumerate(slopes):
            # The usual forgetting of Adam: 0.9 for the slopes, 0.999 for their squares.
            self.mean[i] += 0.1 * (slope - self.mean[i])
            self.square[i] += 0.001 * (slope**2 - self.square[i])
            size = np.sqrt(self.square[i] / (1 - 0.999**self.step)) + 1e-8
            self.parts[i] -= rate * self.mean[i] / (1 - 0.9**self.step) / size
            # Offsets do not decay: they carry the share of each group.
            if slope.ndim == 2:
                self.parts[i] *= 1 - rate * DECAY
