"""From a signature to what it says about the nine groups.

A small committee of neural networks, learned by ``counterpoise.spin.learn`` on rehearsed recordings, is read from
a data file of the package. Its answers are tempered: divided by a temperature fitted on machines it never saw and
mixed with the prior, because the rehearsals are not the world.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.groups import GROUPS, PRIOR
from counterpoise.spin.recording import Floats

MODEL_FILE = "signature_model.npz"
CLIP = 4.0
DOUBT = 0.06


@dataclass(frozen=True)
class Committee:
    """Networks over named features.

    ``centre``, ``scale`` (features,) standardise; ``w1`` (networks, 2 features, hidden), ``b1``, ``w2`` (networks,
    hidden, groups), ``b2`` are their weights; ``temperature`` divides the mean log odds.
    """

    names: tuple[str, ...]
    centre: Floats
    scale: Floats
    w1: Floats
    b1: Floats
    w2: Floats
    b2: Floats
    temperature: float


PRIOR_OF = np.array([PRIOR[group] for group in GROUPS])


def inputs(values: Floats, centre: Floats, scale: Floats) -> Floats:
    """Standardised features, 0 where not seen, followed by flags of what was not seen; (n, 2 features)."""
    z = np.clip((values - centre) / scale, -CLIP, CLIP)
    return np.concatenate([np.nan_to_num(z), np.isnan(z).astype(np.float64)], axis=1)


def votes(committee: Committee, values: Floats) -> Floats:
    """Mean log probability of each group (n, groups) before tempering."""
    x = inputs(values, committee.centre, committee.scale)
    hidden = np.tanh(np.einsum("nf,kfh->knh", x, committee.w1) + committee.b1[:, None])
    score = np.einsum("knh,khg->kng", hidden, committee.w2) + committee.b2[:, None]
    score -= score.max(axis=2, keepdims=True)
    log_p = score - np.log(np.exp(score).sum(axis=2, keepdims=True))
    mean: Floats = log_p.mean(axis=0)
    return mean


def tempered(log_p: Floats, temperature: float) -> Floats:
    """Probabilities (n, groups) under the equal-faults prior, tempered."""
    towards = np.log(PRIOR_OF) + (log_p - np.log(PRIOR_OF)) / temperature
    p = np.exp(towards - towards.max(axis=1, keepdims=True))
    p /= p.sum(axis=1, keepdims=True)
    mixed: Floats = (1 - DOUBT) * p + DOUBT * PRIOR_OF
    return mixed


def features(signature: dict[str, float], baseline: dict[str, float] | None, names: tuple[str, ...]) -> Floats:
    """Row (1, features): a name that ends in ``'`` is the difference from the baseline."""
    row = []
    for name in names:
        if name.endswith("'"):
            row.append(signature[name[:-1]] - (baseline or {})[name[:-1]])
        else:
            row.append(signature[name])
    return np.array([row], dtype=np.float64)


@cache
def committees() -> dict[str, Committee]:
    """Read the learned committees, ``alone`` and ``with_baseline``."""
    with files("counterpoise.spin").joinpath(MODEL_FILE).open("rb") as stream, np.load(stream) as stored:
        return {kind: _committee(stored, kind) for kind in ("alone", "with_baseline")}


def _committee(stored: "np.lib.npyio.NpzFile", kind: str) -> Committee:
    def part(name: str) -> NDArray[np.float64]:
        return np.asarray(stored[f"{kind}.{name}"], dtype=np.float64)

    names = tuple(str(name) for name in stored[f"{kind}.names"])
    parts = (part(name) for name in ("centre", "scale", "w1", "b1", "w2", "b2"))
    return Committee(names, *parts, temperature=float(part("temperature")))


def group_probabilities(signature: dict[str, float], baseline: dict[str, float] | None = None) -> Floats:
    """Probability of each of GROUPS (9,), with the machine's own earlier healthy recording if there is one."""
    committee = committees()["with_baseline" if baseline else "alone"]
    p: Floats = tempered(votes(committee, features(signature, baseline, committee.names)), committee.temperature)[0]
    return p
