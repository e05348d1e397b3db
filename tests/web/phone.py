"""A phone's browser on a simulated machine: 60 readings a second, rounded to 0.1 m/s2."""

import numpy as np

from counterpoise.dynamics import Phone, Run, SpinProfile, simulate
from counterpoise.spin.training.synthetic_recordings import (
    random_setup,
    with_random_fault,
    with_random_load,
)

CAPTURE = "0123456789abcdef" * 2
PIECE_ROWS = 180
PROFILE = SpinProfile(
    ((0.0, 0.0), (4.0, 0.0), (6.0, 48.0), (12.0, 48.0), (15.0, 95.0), (22.0, 95.0), (32.0, 400.0), (40.0, 400.0),
     (52.0, 800.0), (60.0, 800.0), (70.0, 1100.0), (84.0, 1100.0), (94.0, 0.0), (98.0, 0.0))
)  # fmt: skip


def coarse_spin(fault="", seed=4, rate_hz=60.0):
    """Time in ms (n,) and accelerations (n, 3) in m/s2, with gravity, of one spin of a machine with a fault."""
    rng = np.random.default_rng(seed)
    machine = with_random_load(random_setup(rng).machine, rng)
    if fault:
        machine = with_random_fault(machine, fault, rng)
    felt = simulate(machine, Run(PROFILE, None, Phone(0.02, -0.03, 0.4, 0.0, 0.0), seed=7), 400.0)
    at = np.arange(0, felt.t_s[-1], 1 / rate_hz)
    at = at + rng.normal(0, 0.0004, len(at))
    at = at[(at >= 0) & (at <= felt.t_s[-1])]
    seen = np.column_stack([np.interp(at, felt.t_s, axis) for axis in felt.panel_m_s2.T])
    seen += rng.normal(0, 0.02, seen.shape)
    return (at - at[0]) * 1000, np.round(seen, 1)


def pieces(t_ms, acc):
    """The bodies that the page would send."""
    cut = range(0, len(t_ms), PIECE_ROWS)
    return [
        {"t_ms": np.round(t_ms[i : i + PIECE_ROWS], 2).tolist()}
        | {name: acc[i : i + PIECE_ROWS, axis].tolist() for axis, name in enumerate("xyz")}
        for i in cut
    ]
