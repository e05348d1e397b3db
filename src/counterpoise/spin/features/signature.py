"""The signature of a spin: ratios and speeds that mean something physical, NaN where not seen.

Levels are log10 of m/s2. Flat levels do not depend on how the phone is turned, ratios not on the
unbalance.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.features.knocks import Knocks
from counterpoise.spin.features.orders import Orders
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.phases import PHASES, Course

# What no phone tells from nothing (estimate); silence gets one and the same logarithm.
FLOOR_MS2 = 0.004
# Bands that part the resonances of tub, cabinet, feet and floor (estimates). Their lowest
# speeds are part of the names in the stored model: change neither.
SHARES_RPM = ((150, 250), (250, 330), (330, 450), (450, 580), (580, 680), (680, 800), (800, 950))
# Where a loose part can answer every second turn.
HALF_RPM = ((380, 580), (580, 680), (680, 800), (800, 950))
SLOW_RPM = ((130, 200),)
HARMONIC_RPM = ((200, 330), (330, 450), (450, 600), (600, 820))
# 300 to 1530 rpm; below it the tub swings, above it no household drum turns.
RESONANCE_GRID_HZ = np.arange(5.0, 26.0, 0.5)
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Levels:
    """Amplitudes in m/s2 at the frames of a driven drum (climb or hold): flat, up (orders, frames).

    ``rpm``, ``broad`` and ``full`` are (frames,): speed, broadband rms in m/s2, whether at full
    speed.
    """

    rpm: Floats
    flat: Floats
    up: Floats
    broad: Floats
    full: Flags

    @property
    def total(self) -> Floats:
        """Amplitude (orders, frames) over all axes, in m/s2."""
        return np.hypot(self.flat, self.up)


def levels(orders: Orders, course: Course) -> Levels:
    """Keep the frames where the drum is driven above 130 rpm, and mark those at full speed."""
    driven = np.isfinite(orders.f_hz) & np.isin(
        course.phase, [PHASES.index("run_up"), PHASES.index("hold")]
    )
    size = np.abs(orders.amplitude[:, :, driven])
    rpm = 60 * orders.f_hz[driven]
    # Not the maximum, which a single stray frame can set.
    top = float(np.quantile(rpm, 0.98)) if len(rpm) else np.inf
    broad = np.sqrt(np.sum(orders.broadband_ms2[:, driven] ** 2, axis=0))
    return Levels(
        rpm, np.hypot(size[:, 0], size[:, 1]), size[:, 2], broad, (rpm > 0.95 * top) & (top > 600)
    )


def _log(value: Floats) -> Floats:
    return np.log10(np.hypot(value, FLOOR_MS2))


def _mid(values: Floats, where: Flags) -> float:
    chosen = values[where]
    chosen = chosen[np.isfinite(chosen)]
    return float(np.median(chosen)) if len(chosen) >= 3 else np.nan


def _between(rpm: Floats, low: float, high: float) -> Flags:
    return (rpm >= low) & (rpm < high)


def signature(orders: Orders, course: Course, knocks: Knocks) -> dict[str, float]:
    """Features by name: log10 of m/s2, ratios in log10, speeds in rpm / 1000; NaN if not seen."""
    lev = levels(orders, course)
    values: dict[str, float] = {
        "top_krpm": course.top_rpm / 1000,
        "spun": float(course.top_rpm > 250),
        # Capped: the fourth attempt says no more than the third.
        "given_up": float(min(course.given_up, 3)),
        "attempts": float(min(course.attempts, 4)),
    }
    values |= _full_speed(lev, orders, course)
    values |= _along_speed(lev)
    values |= _harmonics(lev)
    values |= _resonances(lev)
    values |= _slow(orders, course, knocks)
    return values


def _full_speed(lev: Levels, orders: Orders, course: Course) -> dict[str, float]:
    flat, up = _mid(_log(lev.flat[1]), lev.full), _mid(_log(lev.up[1]), lev.full)
    # The same frames as those of ``levels``, so that ``full`` fits.
    driven = np.isfinite(orders.f_hz) & np.isin(course.phase, [3, 4])
    sides = np.abs(orders.amplitude[1][:, driven])
    first = lev.total[1][lev.full]
    first = first[np.isfinite(first)]
    return {
        "full_flat": flat,
        "full_up": up,
        "full_up_flat": up - flat,
        # How narrow the path on the panel is.
        "full_narrow": _mid(_log(sides[1]) - _log(sides[0]), lev.full),
        # Beating at full speed: a second source near the drum, or a load that moves.
        "full_beat": float(np.log10(np.std(first) / np.mean(first) + 0.005))
        if len(first) > 8
        else np.nan,
        "full_broad": _mid(_log(lev.broad), lev.full),
        # What no order explains, beside the unbalance: rattle and bearing.
        "full_broad_one": _mid(_log(lev.broad) - _log(lev.total[1]), lev.full),
        "full_half": _mid(_log(lev.total[0]) - _log(lev.total[1]), lev.full),
        "full_two": _mid(_log(lev.total[2]) - _log(lev.total[1]), lev.full),
        "full_three": _mid(_log(lev.total[3]) - _log(lev.total[1]), lev.full),
    }


def _along_speed(lev: Levels) -> dict[str, float]:
    """First order in bands of rpm: absolute, and against full speed and the square law."""
    out = {}
    top = float(np.median(lev.rpm[lev.full])) if lev.full.any() else np.nan
    for low, high in SHARES_RPM:
        here = _between(lev.rpm, low, high)
        # With nothing in resonance the shake grows with the square of the speed.
        law = 2 * np.log10(lev.rpm / top)
        for name, line in (("flat", lev.flat[1]), ("up", lev.up[1])):
            level = _log(line)
            out[f"{name}_{low}"] = _mid(level, here)
            out[f"{name}_{low}_law"] = _mid(level - law, here) - _mid(level, lev.full)
    return out


def _harmonics(lev: Levels) -> dict[str, float]:
    out = {}
    first = _log(lev.total[1])
    for low, high in HARMONIC_RPM:
        here = _between(lev.rpm, low, high)
        out[f"two_{low}"] = _mid(_log(lev.total[2]) - first, here)
        out[f"three_{low}"] = _mid(_log(lev.total[3]) - first, here)
        out[f"broad_{low}"] = _mid(_log(lev.broad), here)
        out[f"broad_one_{low}"] = _mid(_log(lev.broad) - first, here)
    for low, high in SLOW_RPM:
        here = _between(lev.rpm, low, high)
        out[f"two_{low}"] = _mid(_log(lev.total[2]) - first, here)
        out[f"three_{low}"] = _mid(_log(lev.total[3]) - first, here)
    for low, high in HALF_RPM:
        out[f"half_{low}"] = _mid(_log(lev.total[0]) - first, _between(lev.rpm, low, high))
    return out


def response(lev: Levels, line: Floats) -> Floats:
    """Largest amplitude over f^2 of orders 1 to 3 on RESONANCE_GRID_HZ (32,), NaN if not passed."""
    out = np.full(len(RESONANCE_GRID_HZ), np.nan)
    step = RESONANCE_GRID_HZ[1] - RESONANCE_GRID_HZ[0]
    # A resonance answers to whatever order passes its frequency, not to the first alone.
    for order, row in ((1, 1), (2, 2), (3, 3)):
        f = order * lev.rpm / 60
        good = (
            np.isfinite(line[row])
            & (f > RESONANCE_GRID_HZ[0] - step)
            & (f < RESONANCE_GRID_HZ[-1] + step)
        )
        slot = np.clip(
            np.round((f[good] - RESONANCE_GRID_HZ[0]) / step).astype(int), 0, len(out) - 1
        )
        # fmax ignores NaN, and .at counts every frame of a slot.
        np.fmax.at(out, slot, line[row][good] / f[good] ** 2)
    return out


def _resonances(lev: Levels) -> dict[str, float]:
    """Where the first order (and any) is strongest for its speed, by how much over full speed."""
    out: dict[str, float] = {}
    # Above the swinging of the tub, where peaks belong to cabinet, feet and floor.
    climbing = lev.rpm > 330
    for name, line in (("flat", lev.flat), ("up", lev.up)):
        scaled = np.where(climbing & np.isfinite(line[1]), line[1] / lev.rpm**2, np.nan)
        # Three seconds of climb at least, or the largest is chance.
        if np.isfinite(scaled).sum() < 12:
            out |= {
                f"peak_{name}_krpm": np.nan,
                f"peak_{name}_gain": np.nan,
                f"any_{name}_hz": np.nan,
            }
            continue
        # Far above all resonances the answer is mass alone: the measure for the peak.
        top = _mid(scaled, lev.full)
        out[f"peak_{name}_krpm"] = float(lev.rpm[np.nanargmax(scaled)] / 1000)
        out[f"peak_{name}_gain"] = float(np.log10(np.nanmax(scaled) / top)) if top > 0 else np.nan
        everything = response(lev, line)
        usable = np.isfinite(everything).any()
        out[f"any_{name}_hz"] = (
            float(RESONANCE_GRID_HZ[np.nanargmax(everything)] / 10) if usable else np.nan
        )
    return out


def _slow(orders: Orders, course: Course, knocks: Knocks) -> dict[str, float]:
    """Tumbling and distribution, before the first climb: how rough, and in blows or smoothly."""
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    run = np.flatnonzero(course.phase >= 3)
    # Not the last three frames: their windows reach into the run-up already.
    before = np.arange(len(rms)) < (run[0] - 3 if len(run) else len(rms))
    up, flat = orders.rms_ms2[2], np.hypot(orders.rms_ms2[0], orders.rms_ms2[1])
    size = np.sqrt(np.sum(np.abs(orders.amplitude) ** 2, axis=1))
    distributing = course.phase == 2
    return {
        # The roughest tenth: laundry that falls lies still in between.
        "slow_most": float(np.quantile(_log(rms[before]), 0.9)) if before.sum() > 8 else np.nan,
        "slow_up_flat": _mid(_log(up) - _log(flat), before),
        "slow_crest": float(np.log10(knocks.crest)),
        # One knock in 20 s is none: the logarithm of nothing must not stand out.
        "slow_knocks_hz": float(np.log10(knocks.per_second + 0.05)),
        "slow_high_ms2": float(np.log10(knocks.high_rms_ms2 + FLOOR_MS2)),
        "dist_one": _mid(_log(size[1]), distributing),
        "dist_two": _mid(_log(size[2]) - _log(size[1]), distributing),
        "dist_three": _mid(_log(size[3]) - _log(size[1]), distributing),
        "dist_up_flat": _mid(_log(np.abs(orders.amplitude[1, 2])) - _log(size[1]), distributing),
        "tumble_dist": _mid(_log(rms), course.phase == 1) - _mid(_log(rms), distributing),
    }
