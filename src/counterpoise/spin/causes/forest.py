"""A forest of extremely randomised trees as plain arrays (Geurts, Ernst, Wehenkel, 2006).

Machine Learning 63. Random thresholds on random features, the best of them by Gini impurity. Such
trees ask only "above or below", so a machine whose levels lie outside all synthetic ones still
lands in the nearest leaf instead of far out on a slope.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats

# Sizes are estimates: few features a cut and leaves of six examples keep trees different.
FEATURE_SHARE = 0.3
LEAST_IN_LEAF = 6
DEEPEST = 16
# Share of half the middle 68 % of a feature: the noise put on each before a tree grows.
WOBBLE = 0.12


@dataclass(frozen=True)
class Forest:
    """All nodes of all trees in one row each.

    ``root`` (trees,), ``feature`` (-1: leaf), ``threshold``, ``child`` (first of two neighbours; in
    a leaf its row in ``leaf``), ``leaf`` (leaves, groups) with rows that sum to 1.
    """

    root: NDArray[np.int32]
    feature: NDArray[np.int16]
    threshold: NDArray[np.float32]
    child: NDArray[np.int32]
    leaf: Floats

    def predict(self, x: Floats) -> Floats:
        """Mean leaf (n, groups) of each row of ``x`` (n, features)."""
        return np.stack([self._votes(row.astype(np.float32)) for row in x])

    def _votes(self, row: NDArray[np.float32]) -> Floats:
        node = self.root.copy()
        for _ in range(DEEPEST + 1):
            feature = self.feature[node]
            # A leaf stays where it is until all trees have come to theirs.
            inner = feature >= 0
            if not inner.any():
                break
            right = row[feature] >= self.threshold[node]
            node = np.where(inner, self.child[node] + right, node)
        mean: Floats = self.leaf[self.child[node]].mean(axis=0)
        return mean


class _Growing:
    """One forest while it grows."""

    def __init__(self, x: Floats, share: Floats, least: int, rng: np.random.Generator) -> None:
        self.x, self.share, self.least, self.rng = x, share, least, rng
        self.root: list[int] = []
        self.feature: list[int] = []
        self.threshold: list[float] = []
        self.child: list[int] = []
        self.leaf: list[Floats] = []

    def tree(self, wobble: Floats) -> None:
        """Grow one tree on inputs disturbed a little, lest a threshold be trusted to the digit."""
        x = (self.x + self.rng.normal(0, 1, self.x.shape) * wobble).astype(np.float32)
        self.root.append(self._new())
        open_nodes = [(self.root[-1], np.arange(len(x)), 0)]
        while open_nodes:
            node, rows, depth = open_nodes.pop()
            # Depth is limited so that trees stay small in the data file.
            split = self._split(x[rows], self.share[rows]) if depth < DEEPEST else None
            if split is None:
                total = self.share[rows].sum(axis=0)
                self.child[node] = len(self.leaf)
                self.leaf.append(total / total.sum())
                continue
            self.feature[node], self.threshold[node], above = split
            first = self._new()
            self._new()
            self.child[node] = first
            open_nodes += [(first, rows[~above], depth + 1), (first + 1, rows[above], depth + 1)]

    def _new(self) -> int:
        self.feature.append(-1)
        self.threshold.append(0.0)
        self.child.append(-1)
        return len(self.feature) - 1

    def _split(
        self, x: NDArray[np.float32], share: Floats
    ) -> tuple[int, float, NDArray[np.bool_]] | None:
        """Best of random cuts: feature, threshold, who lies above; None if nothing is gained."""
        if len(x) < 2 * self.least or np.count_nonzero(share.sum(axis=0)) < 2:
            return None
        # Thresholds between the least and the largest, not the best one: that is what makes trees
        # differ and keeps the forest smooth.
        tried = self.rng.choice(x.shape[1], max(1, int(FEATURE_SHARE * x.shape[1])), replace=False)
        low, high = x[:, tried].min(axis=0), x[:, tried].max(axis=0)
        # In half precision already, as the data file keeps it.
        cut = (
            (low + self.rng.random(len(tried)) * (high - low)).astype(np.float16).astype(np.float32)
        )
        above = x[:, tried] >= cut
        count = above.sum(axis=0)
        # A cut that leaves a handful on one side learns that handful by heart.
        fits = (count >= self.least) & (len(x) - count >= self.least)
        if not fits.any():
            return None
        up = above.T.astype(np.float64) @ share
        down = share.sum(axis=0) - up
        purity = _purity(up) + _purity(down)
        best = int(np.argmax(np.where(fits, purity, -np.inf)))
        return int(tried[best]), float(cut[best]), above[:, best]


def _purity(totals: Floats) -> Floats:
    """Sum of squares over the sum: what Gini impurity leaves of the weight."""
    purity: Floats = np.sum(totals**2, axis=1) / np.maximum(totals.sum(axis=1), 1e-12)
    return purity


def grow_forest(
    x: Floats, share: Floats, trees: int, rng: np.random.Generator, *, least: int = LEAST_IN_LEAF
) -> Forest:
    """Grow a forest on ``x`` (n, features) and weights ``share`` (n, groups).

    No leaf has fewer than ``least`` examples.
    """
    growing = _Growing(x, share, least, rng)
    # The middle 68 % is two standard deviations where a feature is normal.
    low, high = np.quantile(x, [0.16, 0.84], axis=0)
    for _ in range(trees):
        growing.tree(WOBBLE * (high - low) / 2)
    return Forest(
        np.array(growing.root, dtype=np.int32),
        np.array(growing.feature, dtype=np.int16),
        np.array(growing.threshold, dtype=np.float32),
        np.array(growing.child, dtype=np.int32),
        np.array(growing.leaf),
    )


def joined(forests: Sequence[Forest]) -> Forest:
    """Put the trees of several forests into one."""
    nodes = np.cumsum([0, *(len(each.feature) for each in forests)])
    leaves = np.cumsum([0, *(len(each.leaf) for each in forests)])

    def child(each: Forest, node: int, leaf: int) -> NDArray[np.int32]:
        # in a leaf the row of its shares, else the first of two nodes
        return np.asarray(each.child + np.where(each.feature < 0, leaf, node), dtype=np.int32)

    offsets = list(zip(forests, nodes.tolist(), leaves.tolist(), strict=False))
    return Forest(
        np.concatenate([each.root + node for each, node, _ in offsets]).astype(np.int32),
        np.concatenate([each.feature for each in forests]),
        np.concatenate([each.threshold for each in forests]),
        np.concatenate([child(*each) for each in offsets]),
        np.concatenate([each.leaf for each in forests]),
    )
