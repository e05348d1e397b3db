"""The tub on its springs.

What follows from the nodes, free length and stiffness of Sapre's public model of 2023 (derived for
this project).
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.dynamics.anchored import plain

from counterpoise.dynamics import build
from counterpoise.dynamics.machines.machine import Unbalance
from counterpoise.dynamics.motion.equilibrium import accelerations_at, jacobian, static_equilibrium

MASS = 60.0


@pytest.fixture(scope="module")
def hung():
    springs = tuple(replace(s, free_length_m=0.172) for s in build("front_loader").springs)
    _, par = plain(MASS, Unbalance(0.5, 0.3, 0.165, laundry=False), springs)
    return par, static_equilibrium(par)


def test_sag_and_tension(hung):
    # derived with g = 9.81; ours is 9.80665, worth 0.011 mm and 0.1 N
    par, q = hung
    assert 1e3 * (q[2] - q[8]) == pytest.approx(1.39, abs=0.012)
    way = par.struts[0, 3:6] + par.gap + q[6:9] - par.struts[0, 0:3] - q[0:3]
    assert 9000.0 * (np.linalg.norm(way) - 0.172) == pytest.approx(296.0, abs=0.15)


def test_stiffness_with_its_geometric_part(hung):
    par, q = hung
    springy = -MASS * jacobian(par, q)[0][6:9, 6:9]
    assert springy[0, 0] == pytest.approx(3060.0, abs=1.0)
    assert springy[2, 2] == pytest.approx(17829.0, abs=1.0)


def test_frequencies(hung):
    par, q = hung
    own = np.sqrt(-np.diag(jacobian(par, q)[0])[[6, 8]]) / (2 * np.pi)
    assert own == pytest.approx([1.137, 2.744], abs=0.001)


def test_a_rod_pulls_and_never_pushes():
    machine = build("top_loader")
    rods = tuple(replace(s, pulls_only=True) for s in machine.springs)
    _, par = plain(35.0, Unbalance(0.01, 0.1, 0.1, laundry=False), rods)
    still, lifted = np.zeros(18), np.zeros(18)
    lifted[8] = 0.10
    assert accelerations_at(par, lifted, still)[8] == pytest.approx(-9.80665)
    assert accelerations_at(par, -lifted, still)[8] > 5.0
