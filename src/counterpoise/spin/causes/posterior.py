"""From a signature to what it says about the nine groups.

A forest and a few small networks, trained by ``counterpoise.spin.training.train`` on synthetic
recordings, are read from a data file of the package and averaged. Their answers are tempered: the
log odds against the prior are divided by a temperature fitted on machines they never saw, softened
further, and mixed with the prior, because the simulation is not the world.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, bounded
from counterpoise.spin.causes.forest import Forest
from counterpoise.spin.causes.net import Net
from counterpoise.spin.features.orders_by_speed import MARK
from counterpoise.spin.recording import Floats

MODEL_FILE = "signature_model.npz"
KINDS = ("alone", "with_baseline")
# Of recordings without a baseline; they hold with one as well.
THRESHOLDS = f"{KINDS[0]}.thresholds"
# Networks that see the orders against speed as well, where the file has them: they learn more from
# rehearsed machines, and lean more on how exactly those are made.
BESIDE = "orders_"
# Seen only where the drum was followed from slow to fast.
CLIMB = "climb_most"
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
    """Networks, and where examples were few a forest, over named features less their ``centre``.

    ``centre`` and ``spread``, which networks divide by, are (features,); ``temperature`` divides
    the log odds.
    """

    names: tuple[str, ...]
    centre: Floats
    spread: Floats
    forest: Forest | None
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
    """Probability of each group (n, groups), not tempered: the nets', with a forest half of it."""
    x = network_inputs(values, model.centre, model.spread)
    # Means of probabilities, not of log odds: one that is sure and wrong does less harm.
    by_nets: Floats = np.mean([net.predict(x) for net in model.nets], axis=0)
    if model.forest is None:
        return by_nets
    plain = named_plainly(model.names)
    by_forest = model.forest.predict(forest_inputs(values[:, plain], model.centre[plain]))
    mean: Floats = (by_forest + by_nets) / 2
    return mean


def named_plainly(names: tuple[str, ...]) -> NDArray[np.bool_]:
    """Which features (features,) the forest sees: not those by bands of speed, which are many."""
    return np.array([MARK not in name for name in names], dtype=np.bool_)


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
    """Read the models of the package, by name as in ``asked``."""
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return {name: unpack(stored, name) for name in asked(stored, with_baseline=True)}


def asked(stored: Collection[str], *, with_baseline: bool) -> tuple[str, ...]:
    """Names of the models that a recording is put to, of those that are ``stored``.

    With a baseline those of both kinds.
    """
    names = [name for kind in KINDS[: 1 + with_baseline] for name in (kind, f"{BESIDE}{kind}")]
    # The file decides: what it does not hold is not asked.
    return tuple(name for name in names if f"{name}.names" in stored)


def agreed(answers: Sequence[Floats]) -> Floats:
    """Mean of tempered answers, each (n, groups), in log space: together they err less."""
    p = np.exp(np.mean([np.log(each) for each in answers], axis=0))
    shares: Floats = p / p.sum(axis=1, keepdims=True)
    return shares


def pack(model: SignatureModel, kind: str) -> dict[str, np.ndarray]:
    """Small plain arrays for the data file; leaves are kept to 1/255."""
    arrays = {
        f"{kind}.names": np.array(model.names),
        f"{kind}.centre": model.centre.astype(np.float32),
        f"{kind}.spread": model.spread.astype(np.float32),
        f"{kind}.temperature": np.array(model.temperature),
    }
    if forest := model.forest:
        arrays |= {
            f"{kind}.root": forest.root,
            f"{kind}.feature": forest.feature,
            f"{kind}.threshold": forest.threshold.astype(np.float16),
            f"{kind}.child": steps_of_children(forest),
            # A leaf to 1/255 is finer than what the examples in it can tell.
            f"{kind}.leaf": np.round(255 * forest.leaf).astype(np.uint8).T.copy(),
        }
    return arrays | packed_nets(model.nets, kind)


def packed_nets(nets: tuple[Net, ...], kind: str) -> dict[str, np.ndarray]:
    """Layers of all networks, ``kind.weights.0`` first, in half precision."""
    arrays: dict[str, np.ndarray] = {}
    for layer in range(len(nets[0].weights)):
        weights = np.array([net.weights[layer] for net in nets], dtype=np.float16)
        offsets = np.array([net.offsets[layer] for net in nets], dtype=np.float16)
        arrays[f"{kind}.weights.{layer}"] = bytes_apart(weights)
        arrays[f"{kind}.offsets.{layer}"] = offsets
    return arrays


def unpacked_nets(stored: Mapping[str, Any], kind: str) -> tuple[Net, ...]:
    """Undo ``packed_nets``."""
    weights: list[Floats] = []
    offsets: list[Floats] = []
    while f"{kind}.weights.{len(weights)}" in stored:
        layer = len(weights)
        weights.append(bytes_together(stored[f"{kind}.weights.{layer}"]).astype(np.float64))
        offsets.append(stored[f"{kind}.offsets.{layer}"].astype(np.float64))
    return tuple(
        Net(tuple(each[n] for each in weights), tuple(each[n] for each in offsets))
        for n in range(len(weights[0]))
    )


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


def unpacked_forest(stored: Mapping[str, Any], kind: str) -> Forest:
    """Return the forest of the data file."""
    # Rounded leaves no longer sum to 1.
    leaf = stored[f"{kind}.leaf"].T.astype(np.float64)
    return Forest(
        stored[f"{kind}.root"],
        stored[f"{kind}.feature"],
        stored[f"{kind}.threshold"].astype(np.float32),
        children_of_steps(stored[f"{kind}.child"], stored[f"{kind}.feature"]),
        leaf / leaf.sum(axis=1, keepdims=True),
    )


def unpack(stored: Mapping[str, Any], kind: str) -> SignatureModel:
    """Return a model from the arrays of the data file."""
    names = tuple(str(name) for name in stored[f"{kind}.names"])
    centre, spread = (stored[f"{kind}.{part}"].astype(np.float64) for part in ("centre", "spread"))
    nets = unpacked_nets(stored, kind)
    forest = unpacked_forest(stored, kind) if f"{kind}.root" in stored else None
    return SignatureModel(names, centre, spread, forest, nets, float(stored[f"{kind}.temperature"]))


def stored_reliability(kind: str) -> Floats:
    """Said against true on unseen machines, (3, bins): mean probability, share true, cases."""
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return np.asarray(stored[f"{kind}.reliability"], dtype=np.float64)


@cache
def stored_thresholds() -> Floats:
    """Least likelihood ratio (groups,) against "nothing found" at which a group may be raised.

    Those of recordings without a baseline, for all.
    """
    with (
        files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream,
        np.load(stream) as stored,
    ):
        return np.asarray(stored[THRESHOLDS], dtype=np.float64)


def stands_beside(signature: dict[str, float], baseline: dict[str, float]) -> bool:
    """Whether a baseline shows what the recording shows, so that their difference says something.

    With the climb in the recording alone the differences are blank, and on rehearsed machines a
    baseline then took away as much as it gave.
    """
    return bool(np.isfinite(baseline[CLIMB]) or not np.isfinite(signature[CLIMB]))


def group_probabilities(
    signature: dict[str, float], baseline: dict[str, float] | None = None
) -> Floats:
    """Probability of each of GROUPS (9,), sum 1.

    ``baseline`` is the signature of the machine's own earlier healthy recording, None if there is
    none; one that does not stand beside the recording is not used.
    """
    compared = baseline is not None and stands_beside(signature, baseline)
    models = [
        model for name, model in shipped_models().items() if compared or not name.endswith(KINDS[1])
    ]
    p = agreed(
        [
            tempered(raw_probabilities(m, feature_row(signature, baseline, m.names)), m.temperature)
            for m in models
        ]
    )
    # One threshold with a baseline and without: what a group must show to be named is the same.
    held: Floats = bounded(p, stored_thresholds())[0]
    return held
