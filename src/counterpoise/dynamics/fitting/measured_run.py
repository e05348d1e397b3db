"""Fit a machine of a family to a measured run.

Least squares on resonance speeds and levels, within the family's ranges.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

from counterpoise.dynamics.machines.families import build, family
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.response import respond
from counterpoise.errors import InputError


@dataclass(frozen=True)
class MeasuredRun:
    """What was measured with a known weight fixed in the drum.

    ``levels``: (rpm, mm rms) of the tub along ``axis`` (0 sideways, 1 along, 2 upright) at ``watch_m``.
    ``resonances``: (words of a mode, rpm) read off a free swing or a climb.
    """

    unbalance_kg: float
    depth_share: float = 0.5
    levels: tuple[tuple[float, float], ...] = ()
    resonances: tuple[tuple[str, float], ...] = ()
    axis: int = 2
    watch_m: Vector | None = None
    level_error: float = 0.10
    speed_error: float = 0.02
    given: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Fitted:
    """The machine, the values found, the misfit in standard errors (rms).

    And which values sit at the end of their range.
    """

    machine: Machine
    values: dict[str, float]
    misfit: float
    at_limit: tuple[str, ...]


def machine_for(key: str, run: MeasuredRun, values: Mapping[str, float]) -> Machine:
    """The family's machine of these values with the weight of the run in its drum."""
    return build(key, {**run.given, **values}).with_unbalance(
        run.unbalance_kg, run.depth_share, laundry=False
    )


def misfits(machine: Machine, run: MeasuredRun) -> Floats:
    """Differences in standard errors: levels first, then resonances."""
    out: list[float] = []
    if run.levels:
        measured = np.array(run.levels)
        found = 1e3 * respond(machine, measured[:, 0], run.watch_m).tub_rms_m[:, run.axis]
        floor = 0.02 * measured[:, 1].max()
        out += list((found - measured[:, 1]) / (run.level_error * measured[:, 1] + floor))
    if run.resonances:
        there = {m.words: m.rpm for m in reversed(modes(machine))}
        for words, rpm in run.resonances:
            if words not in there:
                raise InputError(
                    f"no motion called {words!r}",
                    field="resonances",
                    remedy=f"one of {', '.join(there)}",
                )
            out.append((there[words] / rpm - 1.0) / run.speed_error)
    return np.array(out)


def check_fit(key: str, run: MeasuredRun, free: Sequence[str]) -> None:
    """Refuse a fit that cannot be decided."""
    known = family(key).values
    for name in free:
        if name not in known:
            raise InputError(
                f"{key} has no value {name!r}", field="free", remedy=f"one of {', '.join(known)}"
            )
    data = len(run.levels) + len(run.resonances)
    if data < len(free) or not free:
        raise InputError(
            f"{data} measured numbers for {len(free)} free values",
            field="free",
            remedy="measure more or free fewer",
        )


def fit(
    key: str, run: MeasuredRun, free: Sequence[str], start: Mapping[str, float] | None = None
) -> Fitted:
    """Find the free values that agree best with the run, starting from the family's defaults (or ``start``)."""
    check_fit(key, run, free)
    known = family(key).values
    low, high = (np.array([getattr(known[n], end) for n in free]) for end in ("low", "high"))
    begin = np.array([(start or {}).get(n, known[n].default) for n in free])

    def values(share: Floats) -> dict[str, float]:
        return dict(
            zip(free, (low + (high - low) * np.clip(share, 0.0, 1.0)).tolist(), strict=True)
        )

    def differences(share: Floats) -> Floats:
        return misfits(machine_for(key, run, values(share)), run)

    inside = np.clip((begin - low) / (high - low), 0.01, 0.99)
    found = least_squares(
        differences, inside, bounds=(0.0, 1.0), diff_step=[1e-3] * len(free), max_nfev=60
    )
    best = values(found.x)
    edge = tuple(n for n, s in zip(free, found.x, strict=True) if s < 0.002 or s > 0.998)
    return Fitted(machine_for(key, run, best), best, float(np.sqrt(np.mean(found.fun**2))), edge)
