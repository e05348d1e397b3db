"""Dry friction as seen by one harmonic: complex stiffness of a damper at the stroke it makes."""

from math import pi

import numpy as np

from counterpoise.dynamics.kernels.layout import BUSHING_STIFFNESS, DRY_FRICTION, SETTLING_SPEED
from counterpoise.dynamics.motion.pack import Floats

# Rising half of the loop, stroke X cos(psi) with psi from pi to 2 pi: midpoints of 96 intervals.
# The falling half is the same with the other sign, so it adds nothing.
PSI = pi + pi * (np.arange(96) + 0.5) / 96
COS, SIN = np.cos(PSI), np.sin(PSI)
# Below this share of the sliding stroke the bushing is a plain spring to six digits, and the loop
# would be a difference of nearly equal numbers.
STICKS = 1e-3


def dahl_stiffness(bushing_n_m: float, friction_n: float, stroke_m: float) -> complex:
    """Stiffness in N/m of friction behind an elastic bushing, for an amplitude of stroke in m.

    A spring for small strokes, dry friction for large ones. The steady loop of f' = k s (1 - f
    sign(s) / F) is F (1 - (1 + tanh rho) exp(-rho (1 + x / X))) on the way up, rho = k X / F
    (derived from Dahl's law).
    """
    rho = bushing_n_m * stroke_m / friction_n
    if rho < STICKS:
        return complex(bushing_n_m, 0.0)
    loop = friction_n * (1.0 - (1.0 + np.tanh(rho)) * np.exp(-rho * (1.0 + COS)))
    in_phase, behind = loop @ COS / 48.0, loop @ SIN / 48.0
    return complex(in_phase, -behind) / stroke_m


def tanh_stiffness(
    friction_n: float, settling_m_s: float, omega: float, stroke_m: float
) -> complex:
    """Stiffness in N/m of F tanh(s / v) on rigid bushings: an equivalent viscous damper."""
    speed = omega * stroke_m
    # the limit of the quotient below, where both go to zero
    if speed < 1e-9:
        return 1j * omega * friction_n / settling_m_s
    force = 2.0 * np.mean(friction_n * np.tanh(-speed * SIN / settling_m_s) * -SIN)
    return complex(0.0, omega * force / speed)


def damper_stiffness(row: Floats, omega: float, stroke_m: float) -> complex:
    """Complex stiffness in N/m of the dry part of one strut row (13,); omega in rad/s."""
    friction, bushing = float(row[DRY_FRICTION]), float(row[BUSHING_STIFFNESS])
    if friction <= 0.0:
        return 0j
    if bushing > 0.0:
        return dahl_stiffness(bushing, friction, stroke_m)
    return tanh_stiffness(friction, float(row[SETTLING_SPEED]), omega, stroke_m)
