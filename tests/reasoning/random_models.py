"""Random small models of every kind the planner knows, drawn from a generator."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Size:
    """How large, and of what kind."""

    faults: int
    checks: int
    repairs: int
    panels: int
    outcomes: int = 2
    independent: bool = False
    max_faults: int = 1
    endings: int = 1
    misses: bool = False
    sharp: bool = False  # checks that never err
    shuts: bool = False  # retests shut the panels, and so does every other check or so


def draw(rng: np.random.Generator, size: Size) -> Model:
    names = [f"f{i}" for i in range(size.faults)]
    panels = [f"p{i}" for i in range(size.panels)]
    independent = size.independent
    model = Model(
        faults=tuple(_fault(rng, name, independent) for name in names),
        prior="independent" if independent else "exactly_one",
        max_faults=size.max_faults,
        nothing_wrong=independent and bool(rng.random() < 0.4),
        access=tuple(_panel(rng, panels, i) for i in range(size.panels)),
        checks=tuple(_check(rng, f"c{i}", names, panels, size) for i in range(size.checks)),
        repairs=tuple(_repair(rng, f"r{i}", names, panels) for i in range(size.repairs)),
        retest=_retest(rng, size),
        working=float(rng.choice([0, 30, 80]))
        if size.endings == 0
        else float(rng.choice([40, 100])),
        endings=tuple(_ending(rng, f"e{i}", names) for i in range(size.endings)),
    )
    return _shutting(rng, model) if size.shuts else model


def _shutting(rng, model):
    """The model with panels that a retest closes; drawn last, so that the rest is as without."""
    checks = tuple(replace(check, shuts=bool(rng.random() < 0.5)) for check in model.checks)
    return replace(model, checks=checks, retest=replace(model.retest, shuts=True))


def _fault(rng, name, independent):
    group = "worn" if independent and rng.random() < 0.3 else None
    alone = independent and group is None and bool(rng.random() < 0.15)
    return Fault(name, float(rng.uniform(0.02, 0.6)), group, alone=alone)


def _panel(rng, panels, i):
    behind = panels[int(rng.integers(i))] if i and rng.random() < 0.5 else None
    return Access(panels[i], float(rng.integers(0, 6)), float(rng.integers(0, 4)), behind)


def _place(rng, panels):
    return panels[int(rng.integers(len(panels)))] if panels and rng.random() < 0.5 else None


def _check(rng, name, faults, panels, size):
    outcomes = tuple(f"o{i}" for i in range(size.outcomes))
    named = [fault for fault in faults if rng.random() < 0.5] or [faults[0]]
    under = {fault: _row(rng, outcomes, sharp=size.sharp) for fault in named}
    otherwise = {} if size.sharp else _row(rng, outcomes, scale=0.2)
    kind = rng.random()
    return Check(
        name,
        float(rng.integers(0, 5)),
        outcomes,
        under,
        otherwise,
        _place(rng, panels),
        exclusive=kind < 0.3,
        unordered=kind < 0.1,
    )


def _row(rng, outcomes, *, scale=1.0, sharp=False):
    if sharp:
        return {outcomes[int(rng.integers(1, len(outcomes)))]: 1.0}
    parts = rng.dirichlet([1.0] * len(outcomes)) * scale
    return dict(zip(outcomes[1:], (float(p) for p in parts[1:]), strict=True))


def _repair(rng, name, faults, panels):
    touched = [fault for fault in faults if rng.random() < 1.5 / len(faults)] or [
        faults[int(rng.integers(len(faults)))]
    ]
    cures = {
        fault: 1.0 if rng.random() < 0.5 else float(rng.uniform(0.3, 0.95)) for fault in touched
    }
    return Repair(name, float(rng.integers(1, 40)), cures, _place(rng, panels))


def _retest(rng, size):
    cost = float(rng.integers(0, 6))
    if not size.misses:
        return Retest(cost)
    return Retest(cost, float(rng.uniform(0.02, 0.3)), float(rng.integers(0, 40)))


def _ending(rng, name, faults):
    per_fault = {fault: float(rng.integers(-30, 40)) for fault in faults if rng.random() < 0.5}
    return Ending(name, float(rng.integers(-20, 20)), per_fault)
