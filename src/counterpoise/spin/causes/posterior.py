"""From a signature to what it says about the nine groups.

A forest and a few small networks, trained by ``counterpoise.spin.training.train`` on synthetic
recordings, are read from a data file of the package and averaged. Their answers are tempered: the
log odds against the prior are divided by a temperature fitted on machines they never saw, softened
further, and mixed with the prior, because the simulation is not the world.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, bounded
from counterpoise.spin.causes.forest import Forest
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.net import Net
from counterpoise.spin.recording import Floats

MODEL_FILE = "signature_model.npz"
# Below every value a feature can have after CLIP would be: "not seen" is a side of its own.
MISSING = -9.0
# A value far out says no more than one at the limit (estimate).
CLIP = 10.0
NET_CLIP = 3.0
# Estimates: how much less a real recording tells than a simulated one not learned from.
SOFTEN = 1.2
PRIOR_MIX = 0.05


@dataclass(frozen=True)
class SignatureModel:
    """A forest and networks over named features, taken from ``centre``, for nets over ``spread``.

    ``centre`` and ``spread`` are (features,); ``temperature`` divides the log odds.
    """

    names: tuple[str, ...]
    centre: Floats
    spread: Floats
    forest: Forest
    nets: tuple[Net, ...]
    temperature: float


def forest_inputs(values: Floats, centre: Floats) -> Floats:
    """Features (n, features) from their centres, -9 where not seen: below all others."""
    x: Floats = np.clip(np.nan_to_num(values - centre, nan=MISSING), -CLIP, CLIP)
    return x


def network_inputs(values: Floats, centre: Floats, spread: Floats) -> Floats:
    """Features (n, features) over their spread, 0 where not seen: that says nothing."""
    x: Floats = np.clip(np.nan_to_num((values - centre) / spread), -NET_CLIP, NET_CLIP)
    return x


def raw_probabilities(model: SignatureModel, values: Floats) -> Floats:
    """Probability of each group (n, groups), not tempered: half the forest's, half the nets'."""
    by_forest = model.forest.predict(forest_inputs(values, model.centre))
    x = network_inputs(values, model.centre, model.spread)
    # Means of probabilities, not of log odds: one that is sure and wrong does less harm.
    by_nets = np.mean([net.predict(x) for net in model.nets], axis=0)
    mean: Floats = (by_forest + by_nets) / 2
    return mean


def tempered(p: Floats, temperature: float) -> Floats:
    """Probabilities (n, groups) under the equal-faults prior, tempered."""
    # A thousandth keeps a group that no tree voted for from being ruled out.
    log_odds = (np.log(p + 1e-3) - np.log(PRIOR_OF)) / temperature + np.log(PRIOR_OF)
    q = np.exp(log_odds - log_odds.max(axis=1, keepdims=True))
    # No group is ever ruled out: a recording cannot do that.
    mixed: Floats = (1 - PRIOR_MIX) * q / q.sum(axis=1, keepdims=True) + PRIOR_MIX * PRIOR_OF
    return mixed


def feature_row(
    signature: dict[str, float], baseline: dict[str, float] | None, names: tuple[str, ...]
) -> Floats:
    """Row (1, features): a name that ends in ``'`` is the difference from the baseline."""
    # Models without a baseline name no difference, so nothing is looked up in it.
    base = baseline or {}
    row = [
        signature[name[:-1]] - base[name[:-1]] if name.endswith("'") else signature[name]
        for name in names
    ]
    return np.array([row], dtype=np.float64)


@cache
def shipped_models() -> dict[str, SignatureModel]:
    """Read the models of the package, by kind: ``alone`` and ``with_baseline``."""
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return {kind: unpack(stored, kind) for kind in ("alone", "with_baseline")}


def pack(model: SignatureModel, kind: str) -> dict[str, np.ndarray]:
    """Small plain arrays for the data file; leaves are kept to 1/255."""
    forest = model.forest
    return {
        f"{kind}.names": np.array(model.names),
        f"{kind}.centre": model.centre.astype(np.float32),
        f"{kind}.spread": model.spread.astype(np.float32),
        f"{kind}.temperature": np.array(model.temperature),
        f"{kind}.root": forest.root,
        f"{kind}.feature": forest.feature,
        f"{kind}.threshold": forest.threshold.astype(np.float16),
        f"{kind}.child": steps_of_children(forest),
        # A leaf to 1/255 is finer than what the examples in it can tell.
        f"{kind}.leaf": np.round(255 * forest.leaf).astype(np.uint8).T.copy(),
        f"{kind}.into": bytes_apart(np.array([net.into for net in model.nets], dtype=np.float16)),
        f"{kind}.into_offset": np.array([net.into_offset for net in model.nets], dtype=np.float16),
        f"{kind}.out": np.array([net.out for net in model.nets], dtype=np.float16),
        f"{kind}.out_offset": np.array([net.out_offset for net in model.nets], dtype=np.float16),
    }


def steps_of_children(forest: Forest) -> NDArray[np.int32]:
    """How far each node's children lie from it, and each leaf's row from the last one's; (nodes,).

    Small numbers that come again and again take a fifth of the room in the file.
    """
    inner = forest.feature >= 0
    steps = forest.child - np.arange(len(inner), dtype=np.int32)
    steps[~inner] = np.diff(forest.child[~inner], prepend=0)
    return np.asarray(steps, dtype=np.int32)


def children_of_steps(steps: NDArray[np.int32], feature: NDArray[np.int16]) -> NDArray[np.int32]:
    """Undo ``steps_of_children``."""
    inner = feature >= 0
    child = steps + np.arange(len(inner), dtype=np.int32)
    child[~inner] = np.cumsum(steps[~inner])
    return np.asarray(child, dtype=np.int32)


def bytes_apart(values: NDArray[np.float16]) -> NDArray[np.uint8]:
    """High and low bytes of half-precision numbers one after the other (2, ...): packs better."""
    return np.moveaxis(np.ascontiguousarray(values)[..., None].view(np.uint8), -1, 0).copy()


def bytes_together(planes: NDArray[np.uint8]) -> NDArray[np.float16]:
    """Undo ``bytes_apart``."""
    together: NDArray[np.float16] = np.moveaxis(planes, 0, -1).copy().view(np.float16)[..., 0]
    return together


def unpack(stored: Mapping[str, Any], kind: str) -> SignatureModel:
    """Return a model from the arrays of the data file."""
    # Rounded leaves no longer sum to 1.
    leaf = stored[f"{kind}.leaf"].T.astype(np.float64)
    forest = Forest(
        stored[f"{kind}.root"],
        stored[f"{kind}.feature"],
        stored[f"{kind}.threshold"].astype(np.float32),
        children_of_steps(stored[f"{kind}.child"], stored[f"{kind}.feature"]),
        leaf / leaf.sum(axis=1, keepdims=True),
    )
    names = tuple(str(name) for name in stored[f"{kind}.names"])
    centre, spread = (stored[f"{kind}.{part}"].astype(np.float64) for part in ("centre", "spread"))
    into = bytes_together(stored[f"{kind}.into"]).astype(np.float64)
    rest = (
        stored[f"{kind}.{part}"].astype(np.float64) for part in ("into_offset", "out", "out_offset")
    )
    nets = tuple(Net(*each) for each in zip(into, *rest, strict=True))
    return SignatureModel(names, centre, spread, forest, nets, float(stored[f"{kind}.temperature"]))


def stored_reliability(kind: str) -> Floats:
    """Said against true on unseen machines, (3, bins): mean probability, share true, cases."""
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return np.asarray(stored[f"{kind}.reliability"], dtype=np.float64)


@cache
def stored_thresholds(kind: str) -> Floats:
    """Least likelihood ratio (groups,) against "nothing found" at which a group may be raised."""
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return np.asarray(stored[f"{kind}.thresholds"], dtype=np.float64)


def group_probabilities(
    signature: dict[str, float], baseline: dict[str, float] | None = None
) -> Floats:
    """Probability of each of GROUPS (9,), sum 1.

    ``baseline`` is the signature of the machine's own earlier healthy recording, None if there is
    none.
    """
    # With a baseline both are asked and averaged in log space: together they err less.
    kinds = ("alone", "with_baseline") if baseline else ("alone",)
    log_p = np.zeros(len(GROUPS))
    for kind in kinds:
        model = shipped_models()[kind]
        raw = raw_probabilities(model, feature_row(signature, baseline, model.names))
        log_p += np.log(tempered(raw, model.temperature)[0]) / len(kinds)
    p = np.exp(log_p) / np.exp(log_p).sum()
    held: Floats = bounded(p[None], stored_thresholds(kinds[-1]))[0]
    return held
