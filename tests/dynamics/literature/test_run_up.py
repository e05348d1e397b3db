"""Run-up through resonance under gravity: Kaschke and Cartarius, *Fingeruebungen der Physik* (row
D8.

Integrated for this project).
"""

from math import pi

import numpy as np
import pytest
from tests.dynamics.anchored import plain

from counterpoise.dynamics.machines.machine import Bellows, Unbalance
from counterpoise.dynamics.motion.run import Run, SpinProfile
from counterpoise.dynamics.motion.simulate import simulate_arrays

MASS, OMEGA0, ETA, TOP, TIME = 11.0, 38.1385, 9.5346, 75.0, 15.0


def test_largest_radius_and_its_time():
    k, c = MASS * OMEGA0**2, MASS * ETA
    holder = Bellows((0.0, 0.0, 0.46), (k, k, k), (c, c, c))
    machine, par = plain(
        MASS, Unbalance(1.0, 0.5, 0.165, -pi / 2, laundry=False), bellows=(holder,)
    )
    found = simulate_arrays(
        par, machine, Run(SpinProfile(((0.0, 0.0), (TIME, TOP * 30 / pi)))), 1000.0
    )
    sag = np.array([0.0, 0.0, -9.80665 / OMEGA0**2])
    radius = np.linalg.norm(found.tub_m + sag, axis=1)
    assert radius.max() == pytest.approx(0.19355, rel=1e-3)
    assert found.t_s[radius.argmax()] == pytest.approx(8.130, abs=0.003)
