"""How the machine tilts and which way it shakes: signs of a foot off the floor, of a tub that sags.

The mean of the flat axes is the tilt (g times a small angle). The shaking of the first order is an
ellipse on the panel; its narrowness and direction do not depend on the unbalance.
"""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.features.orders import Orders
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.phases import PHASES, Course
from counterpoise.spin.speed.uniform import UprightSignal

# 0.02 degrees of tilt, and what no phone tells from nothing (estimate).
FAINT_MS2 = 0.004
# Distribution and the two holds on the way up, as for the interharmonics.
BANDS_RPM = ((85, 106), (330, 450), (600, 820))
# Before the spin and after it: the first and the last second, at least four frames.
STILL_S = 1.0


def tilt_features(signal: UprightSignal, orders: Orders, course: Course) -> dict[str, float]:
    """Tilt while spinning and after the spin, against before it; log10 m/s2, NaN where not seen."""
    hop = orders.t_s[1] - orders.t_s[0]
    # Two hops, half a second: the shake of a fast drum averages out.
    wide = max(1, round(2 * hop * signal.rate_hz))
    mean = np.stack(
        [np.convolve(axis, np.full(wide, 1 / wide), mode="same") for axis in signal.acc_ms2[:2]]
    )
    at = np.clip(np.round(orders.t_s * signal.rate_hz).astype(int), 0, mean.shape[1] - 1)
    flat = mean[:, at]
    spinning = np.flatnonzero(np.isin(course.phase, [PHASES.index("run_up"), PHASES.index("hold")]))
    if len(spinning) < 8:
        return {"lean_spin": np.nan, "lean_after": np.nan}
    start = _middle(flat[:, : max(4, round(STILL_S / hop))])
    after = flat[:, spinning[-1] :][:, -max(4, round(STILL_S / hop)) :]
    rpm = 60 * np.nan_to_num(orders.f_hz)
    full = spinning[rpm[spinning] > 0.95 * rpm[spinning].max()]
    return {
        "lean_spin": _size(_middle(flat[:, full]) - start),
        "lean_after": _size(_middle(after) - start),
    }


def _middle(values: Floats) -> Floats:
    return np.asarray(np.median(values, axis=1), dtype=np.float64)


def _size(way: Floats) -> float:
    return float(np.log10(np.hypot(np.linalg.norm(way), FAINT_MS2)))


def orbit_features(orders: Orders, course: Course) -> dict[str, float]:
    """Narrowness of the first order's ellipse in bands of rpm, and how far its long axis turns.

    log10 of short over long axis, and the sine of the angle to full speed's axis; NaN if not seen.
    """
    driven = np.isin(
        course.phase, [PHASES.index("distribution"), PHASES.index("run_up"), PHASES.index("hold")]
    )
    rpm = 60 * np.nan_to_num(orders.f_hz)
    driven &= np.isfinite(orders.amplitude[1, :2]).all(axis=0)
    top = float(np.quantile(rpm[driven], 0.98)) if driven.any() else np.inf
    full = _ellipse(orders, driven & (rpm > 0.95 * top) & (top > 600))
    out = {}
    for low, high in BANDS_RPM:
        here = _ellipse(orders, driven & (rpm >= low) & (rpm < high))
        out[f"narrow_{low}"] = here[0]
        out[f"aside_{low}"] = float(np.abs(np.sin(here[1] - full[1])))
    # Where the machine answers most for its speed.
    peak = (
        np.nan_to_num(np.linalg.norm(np.abs(orders.amplitude[1, :2]), axis=0))
        / np.maximum(rpm, 1) ** 2
    )
    above = driven & (rpm > 330)
    at_peak = _ellipse(orders, above & (peak > 0.8 * peak[above].max(initial=0.0)))
    return out | {
        "narrow_peak": at_peak[0],
        "aside_peak": float(np.abs(np.sin(at_peak[1] - full[1]))),
    }


def _ellipse(orders: Orders, where: NDArray[np.bool_]) -> tuple[float, float]:
    """log10 of short over long axis, and direction of the long axis in rad.

    NaN with less than three frames.
    """
    if where.sum() < 3:
        return np.nan, np.nan
    z = orders.amplitude[1, :2][:, where]
    # The real part forgets the phase: what is left is how much in which direction.
    shape = (z @ z.conj().T).real
    size, way = np.linalg.eigh(shape / where.sum())
    return float(0.5 * np.log10((size[0] + FAINT_MS2**2) / (size[1] + FAINT_MS2**2))), float(
        np.arctan2(*way[:, 1])
    )
