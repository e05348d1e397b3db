"""Levels by band of speed: the mean of what was there, and nothing where nothing was."""

import numpy as np
import pytest

from counterpoise.spin.features.orders import Orders
from counterpoise.spin.features.orders_by_speed import EDGES_RPM, orders_by_speed
from counterpoise.spin.speed.phases import PHASES, Course


def spun(f_hz, phase):
    n = len(f_hz)
    amplitude = np.zeros((4, 3, n), dtype=complex)
    amplitude[1, :2] = [[0.3j], [0.4]]  # first order, 0.5 flat
    amplitude[2, 2] = 0.02
    amplitude[3] = np.nan
    level = np.full((3, n), 0.1)
    course = Course(np.full(n, PHASES.index(phase)), (), (), 1, 0, 900.0)
    return orders_by_speed(Orders(0.25 * np.arange(n), f_hz, amplitude, level, level), course)


def test_a_climb_fills_its_bands_and_no_others():
    got = spun(np.linspace(100, 900, 400) / 60, "run_up")
    assert got["flat1@300"] == pytest.approx(np.log10(0.5), abs=1e-3)
    assert got["front1@700"] == pytest.approx(np.log10(0.4), abs=1e-3)
    assert got["all2@300"] == pytest.approx(np.log10(0.02), abs=0.02)
    assert got["broad_flat@460"] == pytest.approx(np.log10(0.1 * np.sqrt(2)), abs=1e-3)
    assert np.isnan([got["all3@300"], got["flat1@1060"], got["down_flat1@300"]]).all()
    assert len(got) == 12 * (len(EDGES_RPM) - 1)


def test_a_coast_is_kept_apart_and_a_single_frame_tells_nothing():
    got = spun(np.array([5.2, 5.3, 7.0]), "coast")
    assert got["down_flat1@300"] == pytest.approx(np.log10(0.5), abs=1e-3)
    assert np.isnan([got["down_flat1@400"], got["flat1@300"]]).all()
