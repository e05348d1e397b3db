"""Fit a machine of a family to a recording of a spin: a phone's shake once a turn at each speed.

Least squares on the logarithm of the levels and on the resonance speeds, within the family's
ranges. What lay in the drum is not known as a rule and is fitted along. Each free figure starts
from its usual value with the doubt of its range (the deviation of an even spread, range over the
root of twelve), so that what a recording cannot tell stays as usual and says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import OptimizeResult, least_squares

from counterpoise.dynamics.fitting.spin_levels import (
    DRUM,
    FAINT_M_S2,
    USUAL_FREE,
    FreeFigure,
    SpinLevels,
    check_levels,
    unknowns,
)
from counterpoise.dynamics.machines.families import build, family
from counterpoise.dynamics.machines.machine import Load, Machine
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.response import respond
from counterpoise.dynamics.motion.run import Phone

# Of the logarithm: panels that bend, laundry that shifts; estimate.
LEVEL_ERROR = 0.20
# Of a resonance read off a climb; estimate.
SPEED_ERROR = 0.04
# Determined by the recording: doubt at most this share of what it was before.
DETERMINED = 0.6
# No figure is determined more closely than this share of its range; estimate.
LEAST_ERROR = 0.08
# Step of the differences, as a share of a range: the friction loop is not smooth below it.
STEP = 0.02
# On the way through the tub's own swings the shake lags behind the speed; estimate.
SLOW_RPM, SLOW_ERROR = 250.0, 0.40


@dataclass(frozen=True)
class FittedFigure:
    """One fitted figure: value, standard error, usual value and range, in its own unit.

    ``determined``: the recording decides it; ``at_limit``: it sits at the end of its range.
    """

    name: str
    value: float
    error: float
    usual: float
    low: float
    high: float
    determined: bool
    at_limit: bool


@dataclass(frozen=True)
class SpinFit:
    """The machine as fitted, its figures, and what lay in the drum.

    ``off`` and ``off_usual``: by what factor the levels differ (rms), fitted and as usual.
    ``resonances``: axis, speed as read and as fitted in rpm. ``flat`` and ``up`` (n,): m/s2 as
    fitted, at the speeds ``rpm``.
    """

    machine: Machine
    figures: tuple[FittedFigure, ...]
    drum: tuple[FittedFigure, ...]
    off: float
    off_usual: float
    resonances: tuple[tuple[str, float, float], ...]
    rpm: Floats
    flat: Floats
    up: Floats


Tried = tuple[Machine, Phone]


def machine_for(
    key: str, levels: SpinLevels, given: Mapping[str, float], numbers: Mapping[str, float]
) -> Machine:
    """The machine of these numbers (SI) with what lies in its drum."""
    values = {name: number for name, number in numbers.items() if name not in DRUM}
    kg = (
        levels.unbalance_kg
        if levels.unbalance_kg is not None
        else float(np.exp(numbers["log_unbalance"]))
    )
    machine = build(key, {**given, **values})
    load = levels.load_kg if levels.load_kg is not None else numbers["load_kg"]
    return replace(machine, load=Load(load)).with_unbalance(kg, numbers["depth"], laundry=False)


def curves(machine: Machine, rpm: Floats, phone: Phone) -> tuple[Floats, Floats]:
    """Amplitude in m/s2 at the phone across and along the upright, (n,) each, at speeds in rpm."""
    # both axes of the panel together: nobody knows which way the phone lay
    panel = np.abs(respond(machine, rpm, None, phone).panel_m_s2)
    return np.hypot(panel[:, 0], panel[:, 1]), np.asarray(panel[:, 2])


def summit(rpm: Floats, level: Floats, near: float) -> float:
    """Speed in rpm near ``near`` where the answer to a constant unbalance is largest."""
    # the force grows with the square of the speed: without it a resonance is a summit
    part = np.flatnonzero((rpm > 0.75 * near) & (rpm < 1.33 * near))
    answer = np.log(np.maximum(level[part], 1e-9) / rpm[part] ** 2)
    top = int(np.argmax(answer))
    if not 0 < top < part.size - 1:
        return float(rpm[part[top]])
    # a parabola through the three highest, or the fit would move in steps of the speeds
    x, y = np.log(rpm[part[top - 1 : top + 2]]), answer[top - 1 : top + 2]
    bend = np.polyfit(x - x[1], y, 2)
    shift = -bend[1] / (2 * bend[0]) if bend[0] < 0 else 0.0
    return float(np.exp(x[1] + np.clip(shift, x[0] - x[1], x[2] - x[1])))


def phone_for(levels: SpinLevels, numbers: Mapping[str, float]) -> Phone:
    """Where the phone lay, as known or as tried."""
    return Phone(*(levels.phone or (numbers["phone_x_m"], numbers["phone_y_m"])))


def misfits(machine: Machine, levels: SpinLevels, phone: Phone) -> Floats:
    """Differences in standard errors: n levels across, n levels upright, resonance speeds."""
    flat, up = curves(machine, levels.rpm, phone)
    error = np.where(levels.rpm < SLOW_RPM, SLOW_ERROR, LEVEL_ERROR)
    out = [_log_ratios(flat, levels.flat) / error, _log_ratios(up, levels.up) / error]
    for axis, rpm in levels.resonances:
        peak = summit(levels.rpm, flat if axis == "flat" else up, rpm)
        out.append(np.array([np.log(peak / rpm) / SPEED_ERROR]))
    return np.concatenate(out)


def _log_ratios(fitted: Floats, measured: Floats) -> Floats:
    """Logarithm of the ratio (n,); faint levels count less, what was not read counts nothing."""
    good = np.isfinite(measured)
    level = np.where(good, measured, 1.0)
    return np.where(good, np.log(np.hypot(fitted, FAINT_M_S2) / np.hypot(level, FAINT_M_S2)), 0.0)


def fit_spin(
    key: str, levels: SpinLevels, given: Mapping[str, float], free: Sequence[str] = ()
) -> SpinFit:
    """Find the free figures that agree best with what was read; the usual ones if none are named.

    ``given`` are family values (SI) that are known and stay. Raises InputError where the recording
    cannot decide.
    """
    names = [name for name in (free or USUAL_FREE[key]) if name not in given]
    check_levels(key, levels, names)
    sought = unknowns(key, levels, names)
    low, high = np.array([f.low for f in sought]), np.array([f.high for f in sought])
    usual, doubt = np.array([f.usual for f in sought]), np.array([f.doubt for f in sought])

    def tried(share: Floats) -> tuple[Machine, Phone]:
        numbers = low + (high - low) * np.clip(share, 0.0, 1.0)
        named = dict(zip((f.name for f in sought), numbers.tolist(), strict=True))
        return machine_for(key, levels, given, named), phone_for(levels, named)

    def differences(share: Floats) -> Floats:
        # What is known beforehand, as misfits like any other: what nothing decides stays usual.
        prior = (low + (high - low) * share - usual) / doubt
        machine, phone = tried(share)
        return np.concatenate([misfits(machine, levels, phone), prior])

    # shares of the range, as in ``measured_run.fit``
    start = (usual - low) / (high - low)
    end = least_squares(
        differences,
        np.clip(start, 0.02, 0.98),
        bounds=(0.0, 1.0),
        diff_step=[STEP] * len(sought),
        # a level that is far off (laundry shifting) must not drag all others along
        loss="soft_l1",
        ftol=2e-3,
        xtol=2e-3,
        max_nfev=25,
    )
    figures = _fitted_figures(sought, end, levels.rpm.size)
    return _spin_fit(key, figures, levels, (tried(end.x), tried(start)))


def widening(lines: Floats) -> float:
    """Factor by which the variance of a fit grows: misfits larger than foreseen, or correlated.

    ``lines`` (k, n): misfits along k curves. With a correlation r from one speed to the next, n of
    them tell as much as n (1 - r) / (1 + r) (standard for a first-order autoregression).
    """
    size = float(np.mean(lines**2))
    together = float(np.mean(lines[:, 1:] * lines[:, :-1])) / max(size, 1e-12)
    # a short curve can look wholly correlated by chance
    r = min(max(together, 0.0), 0.9)
    return max(1.0, size) * (1.0 + r) / (1.0 - r)


def _fitted_figures(
    sought: Sequence[FreeFigure], end: OptimizeResult, speeds: int
) -> list[FittedFigure]:
    """Values with their errors: curvature of the data at the end, widened, beside the prior's."""
    # the last rows are the prior's own
    share, data, before = end.x, end.jac[: -len(sought)], end.jac[-len(sought) :]
    spread = np.linalg.inv(
        data.T @ data / widening(end.fun[: 2 * speeds].reshape(2, speeds)) + before.T @ before
    )
    out = []
    for i, figure in enumerate(sought):
        reach = figure.high - figure.low
        error = max(reach * float(np.sqrt(spread[i, i])), LEAST_ERROR * reach)
        # nothing is known less after a recording than before it
        error = min(error, figure.doubt)
        value = figure.low + reach * float(share[i])
        at_limit = not 0.005 < share[i] < 0.995
        determined = error <= DETERMINED * figure.doubt and not at_limit
        out.append(
            FittedFigure(
                figure.name, value, error, figure.usual, figure.low, figure.high,
                determined, at_limit,
            )
        )  # fmt: skip
    return [_in_kg(figure) if figure.name == "log_unbalance" else figure for figure in out]


def _in_kg(figure: FittedFigure) -> FittedFigure:
    """The unbalance back from its logarithm, kg."""
    kg = float(np.exp(figure.value))
    usual, low, high = (float(np.exp(x)) for x in (figure.usual, figure.low, figure.high))
    return replace(
        figure,
        name="unbalance_kg",
        value=kg,
        # d(kg) = kg d(log kg)
        error=kg * figure.error,
        usual=usual,
        low=low,
        high=high,
    )


def _spin_fit(
    key: str, fitted: list[FittedFigure], levels: SpinLevels, pair: tuple[Tried, Tried]
) -> SpinFit:
    """The result, with the curves of the fitted machine; ``pair``: as fitted, as usual."""
    (machine, phone), usual = pair
    flat, up = curves(machine, levels.rpm, phone)
    lines = {"flat": flat, "up": up}
    own = tuple(figure for figure in fitted if figure.name in family(key).values)
    return SpinFit(
        machine=machine,
        figures=own,
        drum=tuple(figure for figure in fitted if figure not in own),
        off=_off((machine, phone), levels),
        off_usual=_off(usual, levels),
        resonances=tuple(
            (axis, rpm, summit(levels.rpm, lines[axis], rpm)) for axis, rpm in levels.resonances
        ),
        rpm=levels.rpm,
        flat=flat,
        up=up,
    )


def _off(tried: Tried, levels: SpinLevels) -> float:
    """Root mean square of the levels' ratio, as a factor."""
    flat, up = curves(tried[0], levels.rpm, tried[1])
    ratios = np.concatenate([_log_ratios(flat, levels.flat), _log_ratios(up, levels.up)])
    # The deviation and not the mean square: at the unbalance that suits the machine best.
    return float(np.exp(np.std(ratios)))
