"""Dry friction as seen by one harmonic: complex stiffness of a damper at a given amplitude of its stroke."""

from math import pi

import numpy as np

from counterpoise.dynamics.motion.pack import Floats

# Rising half of the loop, stroke X cos(psi) with psi from pi to 2 pi: midpoints of 96 intervals
PSI = pi + pi * (np.arange(96) + 0.5) / 96
COS, SIN = np.cos(PSI), np.sin(PSI)


def dahl_stiffness(bushing_n_m: float, friction_n: float, stroke_m: float) -> complex:
    """Friction behind an elastic bushing: spring for small strokes, dry friction for large ones.

    The steady loop of f' = k s (1 - f sign(s) / F) is F (1 - (1 + tanh rho) exp(-rho (1 + x / X))) on the way up,
    rho = k X / F.
    """
    rho = bushing_n_m * stroke_m / friction_n
    if rho < 1e-3:
        return complex(bushing_n_m, 0.0)
    loop = friction_n * (1.0 - (1.0 + np.tanh(rho)) * np.exp(-rho * (1.0 + COS)))
    in_phase, behind = loop @ COS / 48.0, loop @ SIN / 48.0
    return complex(in_phase, -behind) / stroke_m


def tanh_stiffness(
    friction_n: float, settling_m_s: float, omega: float, stroke_m: float
) -> complex:
    """F tanh(s / v) on rigid bushings as an equivalent viscous damper (first harmonic)."""
    speed = omega * stroke_m
    if speed < 1e-9:
        return 1j * omega * friction_n / settling_m_s
    force = 2.0 * np.mean(friction_n * np.tanh(-speed * SIN / settling_m_s) * -SIN)
    return complex(0.0, omega * force / speed)


def damper_stiffness(row: Floats, omega: float, stroke_m: float) -> complex:
    """Complex stiffness of the dry part of one strut row (columns as in ``pack.Par.struts``)."""
    if row[9] <= 0.0:
        return 0j
    if row[11] > 0.0:
        return dahl_stiffness(float(row[11]), float(row[9]), stroke_m)
    return tanh_stiffness(float(row[9]), float(row[10]), omega, stroke_m)
