"""Fit a machine of a family to a measured run.

Least squares on resonance speeds and levels, within the family's ranges.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

from counterpoise.dynamics.machines.families import build, family
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.check import TOP_RPM
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.response import respond
from counterpoise.errors import InputError

# A tub that travels further than this has left its machine; a level beyond it is a slip of unit.
MOST_MM = 100.0
# A level counts to this share of the largest one at least, so that a dip does not decide alone.
FLOOR_SHARE = 0.02


@dataclass(frozen=True)
class MeasuredRun:
    """What was measured with a known weight (kg) fixed in the drum.

    ``levels``: (rpm, mm rms) of the tub along ``axis`` (0 sideways, 1 along, 2 upright) at
    ``watch_m``. ``resonances``: (words of a mode, rpm) read off a free swing or a climb. Errors are
    shares of the figure, one standard deviation.
    """

    unbalance_kg: float
    depth_share: float = 0.5
    levels: tuple[tuple[float, float], ...] = ()
    resonances: tuple[tuple[str, float], ...] = ()
    axis: int = 2
    # None: the drum's middle
    watch_m: Vector | None = None
    # of a ruler or a phone at the tub, and of a speed read by the second hand (estimates)
    level_error: float = 0.10
    speed_error: float = 0.02
    # family values that are known and stay
    given: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FittedRun:
    """The machine, the fitted values (SI), the misfit in standard errors (rms).

    ``at_limit``: which values sit at the end of their range.
    """

    machine: Machine
    values: dict[str, float]
    misfit: float
    at_limit: tuple[str, ...]


def machine_for(key: str, run: MeasuredRun, values: Mapping[str, float]) -> Machine:
    """The family's machine of these values (SI) with the weight of the run in its drum."""
    return build(key, {**run.given, **values}).with_unbalance(
        run.unbalance_kg, run.depth_share, laundry=False
    )


def misfits(machine: Machine, run: MeasuredRun) -> Floats:
    """Differences in standard errors (n,): levels first, then resonances.

    Raises InputError for a resonance that the machine does not have.
    """
    out: list[float] = []
    if run.levels:
        measured = np.array(run.levels)
        levels_mm = 1e3 * respond(machine, measured[:, 0], run.watch_m).tub_rms_m[:, run.axis]
        floor = FLOOR_SHARE * measured[:, 1].max()
        out += list((levels_mm - measured[:, 1]) / (run.level_error * measured[:, 1] + floor))
    if run.resonances:
        # of modes with the same name the slowest counts
        by_words = {m.words: m.rpm for m in reversed(modes(machine))}
        for words, rpm in run.resonances:
            if words not in by_words:
                raise InputError(
                    f"no motion called {words!r}",
                    field="resonances",
                    remedy=f"one of {', '.join(by_words)}",
                )
            out.append((by_words[words] / rpm - 1.0) / run.speed_error)
    return np.array(out)


def check_speed(rpm: float) -> None:
    """Raises InputError for a speed in rpm at which nothing can be measured."""
    if not 0.0 < rpm <= TOP_RPM:
        raise InputError(
            f"a measured speed of {rpm:g} rpm",
            field="measured",
            remedy=f"above 0 to {TOP_RPM:g} rpm is valid",
        )


def check_level(rpm: float, mm: float) -> None:
    """Raises InputError for a speed in rpm or a level in mm rms that no machine can have."""
    check_speed(rpm)
    if not 0.0 <= mm <= MOST_MM:
        raise InputError(
            f"a measured travel of {mm:g} mm rms at {rpm:g} rpm",
            field="measured",
            remedy=f"0 to {MOST_MM:g} mm is valid: write the travel in mm rms, without a sign",
        )


def check_run(run: MeasuredRun) -> None:
    """Raises InputError for a speed in rpm or a level in mm that no run of a machine can have."""
    for _, rpm in run.resonances:
        check_speed(rpm)
    for rpm, mm in run.levels:
        check_level(rpm, mm)
    # everything at standstill would fit any machine, and the error would be zero
    if run.levels and not any(mm > 0.0 for _, mm in run.levels):
        raise InputError(
            "no travel was measured at any speed",
            field="measured",
            remedy="write the travel in mm rms at some speeds where the tub moves",
        )


def check_fit(key: str, run: MeasuredRun, free: Sequence[str]) -> None:
    """Raises InputError for a run that cannot be, or that cannot decide the free values."""
    check_run(run)
    known = family(key).values
    for name in free:
        if name not in known:
            raise InputError(
                f"{key} has no value {name!r}", field="free", remedy=f"one of {', '.join(known)}"
            )
        # the derivative of a count is zero
        if known[name].whole:
            raise InputError(
                f"{name} comes in whole pieces and cannot be fitted",
                field="free",
                remedy=f"set it, and free others: {', '.join(fittable(key))}",
            )
    # fewer equations than unknowns would be fitted exactly and mean nothing
    data = len(run.levels) + len(run.resonances)
    if data < len(free) or not free:
        raise InputError(
            f"{data} measured numbers for {len(free)} free values",
            field="free",
            remedy="measure more or free fewer",
        )


def fittable(key: str) -> tuple[str, ...]:
    """The names of a family's values that can be fitted: all but pieces."""
    return tuple(name for name, value in family(key).values.items() if not value.whole)


def fit(
    key: str, run: MeasuredRun, free: Sequence[str], start: Mapping[str, float] | None = None
) -> FittedRun:
    """Find the free values that agree best with the run, from the family's defaults or ``start``.

    Raises InputError for a run that cannot be, or that cannot decide.
    """
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

    # Shares of the range, so that steps and bounds are alike for N/m and kg; a start on a bound
    # would let no step out of it.
    inside = np.clip((begin - low) / (high - low), 0.01, 0.99)
    solution = least_squares(
        differences, inside, bounds=(0.0, 1.0), diff_step=[1e-3] * len(free), max_nfev=60
    )
    best = values(solution.x)
    edge = tuple(n for n, s in zip(free, solution.x, strict=True) if s < 0.002 or s > 0.998)
    misfit = float(np.sqrt(np.mean(solution.fun**2)))
    return FittedRun(machine_for(key, run, best), best, misfit, edge)
