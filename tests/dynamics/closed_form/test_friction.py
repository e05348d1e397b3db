"""Dry friction as one harmonic: the limits of small and large strokes, and what it may never do."""

from itertools import pairwise
from math import pi

import numpy as np
import pytest

from counterpoise.dynamics.motion.friction import (
    dahl_stiffness,
    damper_stiffness,
    tanh_stiffness,
)

BUSHING, FRICTION = 6e4, 60.0


def test_a_small_stroke_only_stretches_the_bushing():
    assert dahl_stiffness(BUSHING, FRICTION, 1e-9) == BUSHING
    assert dahl_stiffness(BUSHING, FRICTION, 1e-5).real == pytest.approx(BUSHING, rel=0.02)


def test_a_large_stroke_is_dry_friction():
    """An equivalent viscous damper loses 4 F a stroke, so its imaginary part is 4 F / (pi X)."""
    stroke = 0.1
    found = dahl_stiffness(BUSHING, FRICTION, stroke)
    assert found.imag == pytest.approx(4.0 * FRICTION / (pi * stroke), rel=0.02)
    # what the bushing gives back is a small part, and smaller the further it slides
    assert found.real < 0.2 * found.imag
    further = dahl_stiffness(BUSHING, FRICTION, 10 * stroke)
    assert further.real / further.imag < 0.05


@pytest.mark.parametrize("stroke", np.geomspace(1e-6, 0.05, 12))
def test_friction_always_brakes_and_never_stiffens_beyond_its_bushing(stroke):
    found = dahl_stiffness(BUSHING, FRICTION, float(stroke))
    assert found.imag >= 0.0
    assert 0.0 <= found.real <= BUSHING * (1.0 + 1e-9)
    assert abs(found) * stroke <= 4.0 * FRICTION / pi * 1.001 + BUSHING * 1e-9


def test_the_further_it_moves_the_softer_it_is():
    sizes = [abs(dahl_stiffness(BUSHING, FRICTION, x)) for x in np.geomspace(1e-5, 0.05, 20)]
    assert all(later <= earlier for earlier, later in pairwise(sizes))


def test_stroke_and_friction_scale_together():
    """Only rho = k X / F matters: twice the friction at twice the stroke is the same stiffness."""
    assert dahl_stiffness(BUSHING, 2 * FRICTION, 0.004) == pytest.approx(
        dahl_stiffness(BUSHING, FRICTION, 0.002), rel=1e-12
    )


@pytest.mark.parametrize("omega", [5.0, 17.0, 100.0])
def test_rigid_bushings_slide_or_creep(omega):
    creeping = tanh_stiffness(FRICTION, 0.0015, omega, 1e-12)
    assert creeping == pytest.approx(1j * omega * FRICTION / 0.0015)
    sliding = tanh_stiffness(FRICTION, 0.0015, omega, 0.05)
    assert sliding.imag == pytest.approx(4.0 * FRICTION / (pi * 0.05), rel=0.02)
    assert sliding.real == 0.0


def test_the_creep_meets_the_slide():
    at = tanh_stiffness(FRICTION, 0.0015, 10.0, 2e-10)
    assert at == pytest.approx(tanh_stiffness(FRICTION, 0.0015, 10.0, 5e-11), rel=1e-6)


def strut(friction, bushing):
    row = np.zeros(13)
    row[9], row[10], row[11] = friction, 0.0015, bushing
    return row


def test_a_damper_takes_the_law_of_its_row():
    assert damper_stiffness(strut(0.0, BUSHING), 10.0, 0.01) == 0j
    assert damper_stiffness(strut(FRICTION, BUSHING), 10.0, 0.01) == dahl_stiffness(
        BUSHING, FRICTION, 0.01
    )
    assert damper_stiffness(strut(FRICTION, 0.0), 10.0, 0.01) == tanh_stiffness(
        FRICTION, 0.0015, 10.0, 0.01
    )
