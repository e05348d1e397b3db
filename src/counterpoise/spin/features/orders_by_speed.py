"""The orders against the speed of the drum, climbing and coasting: the picture a network looks at.

Where the signature names a few bands and ratios, this keeps the whole course in narrow bands of
speed, so that what an unloaded damper or a foot does on the way up and down is there to be learned.
"""

import numpy as np

from counterpoise.spin.features.orders import Orders
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.phases import PHASES, Course

# From a drum that tumbles to the fastest there is, each band about 13 % wide: as fine as a climb of
# 50 rpm a second still fills with two frames (estimate). Parts of names in the model: change none.
EDGES_RPM = (
    *(60, 80, 95, 110, 130, 150, 175, 200, 230, 265, 300, 345),
    *(400, 460, 530, 610, 700, 800, 920, 1060, 1250, 1500, 1900),
)
LEAST_FRAMES = 2
# What no phone tells from nothing, m/s2, as in the signature.
FLOOR_MS2 = 0.004
MARK = "@"


def orders_by_speed(orders: Orders, course: Course) -> dict[str, float]:
    """Mean log10 of m/s2 by band of speed, names ``what@rpm`` of the band's low end, NaN if unseen.

    ``flat1``, ``front1``, ``up1``: first order; ``all05``, ``all2``, ``all3``: other orders over
    all axes; ``broad_flat``, ``broad_up``: what is no order. With ``down_`` while the drum coasts.
    """
    size = np.abs(orders.amplitude)
    total = np.sqrt(np.sum(size**2, axis=1))
    flat1 = np.hypot(size[1, 0], size[1, 1])
    broad = orders.broadband_ms2
    driven = np.isin(course.phase, [PHASES.index(p) for p in ("distribution", "run_up", "hold")])
    # A coast has no motor in it, and passes each speed but once.
    coasting = course.phase == PHASES.index("coast")
    lines = {
        "flat1": flat1,
        "front1": size[1, 1],
        "up1": size[1, 2],
        "all05": total[0],
        "all2": total[2],
        "all3": total[3],
        "broad_flat": np.hypot(broad[0], broad[1]),
        "broad_up": broad[2],
    }
    down = {name: lines[name] for name in ("flat1", "up1", "all2", "broad_flat")}
    rpm = 60 * np.nan_to_num(orders.f_hz)
    out: dict[str, float] = {}
    for prefix, where, chosen in (("", driven, lines), ("down_", coasting, down)):
        band = np.where(where, np.digitize(rpm, EDGES_RPM) - 1, -1)
        for name, line in chosen.items():
            means = _means(np.log10(np.hypot(line, FLOOR_MS2)), band)
            out |= {
                f"{prefix}{name}{MARK}{low}": float(mean)
                for low, mean in zip(EDGES_RPM[:-1], means, strict=True)
            }
    return out


def _means(values: Floats, band: np.ndarray) -> Floats:
    """Mean of values (frames,) by band (frames,), -1 for none; NaN with less than two frames."""
    count = len(EDGES_RPM) - 1
    # Logarithms are averaged, so that one loud frame does not stand for its band.
    known = np.isfinite(values) & (band >= 0) & (band < count)
    frames = np.bincount(band[known], minlength=count)
    total = np.bincount(band[known], values[known], minlength=count)
    means: Floats = np.where(frames >= LEAST_FRAMES, total / np.maximum(frames, 1), np.nan)
    return means
