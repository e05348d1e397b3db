"""The conditions of the field stay in their ranges, and a browser's 60 samples are still read."""

import numpy as np
import pytest

from counterpoise.dynamics import Run, simulate
from counterpoise.spin.reading import read_spin
from counterpoise.spin.training.field_conditions import (
    LEAST_LEFT_S,
    RATES_HZ,
    field_profile,
    field_recording,
    random_panel,
)
from counterpoise.spin.training.random_machines import with_random_load
from counterpoise.spin.training.synthetic_recordings import PANEL_RATE_HZ, random_setup


@pytest.mark.parametrize("seed", range(8))
def test_panels_and_profiles_lie_in_the_ranges_measured(seed):
    rng = np.random.default_rng(seed)
    panel = random_panel(rng)
    assert 1 <= len(panel.modes) <= 3
    assert all(16 <= f <= 45 and 0.015 <= zeta <= 0.07 for f, zeta, _, _ in panel.modes)
    assert min(abs(panel.rate_hz / rate - 1) for rate in RATES_HZ) < 0.016
    points = np.array(field_profile(rng, 1200.0).points)
    slope = np.diff(points[:, 1]) / np.diff(points[:, 0])
    assert points[:, 1].max() == pytest.approx(1200, rel=0.004)
    assert -151 < slope.min() < -23
    assert slope.max() < 50


@pytest.fixture(scope="module")
def spin():
    rng = np.random.default_rng(11)
    machine = with_random_load(random_setup(rng).machine, rng, well_spread=True)
    return simulate(machine, Run(field_profile(rng, 1100.0)), PANEL_RATE_HZ)


@pytest.mark.parametrize("seed", range(5))
def test_a_painted_recording_is_a_recording_with_its_true_speed(spin, seed):
    rng = np.random.default_rng(seed)
    panel = random_panel(rng)
    recording, truth = field_recording(spin, panel, PANEL_RATE_HZ, rng)
    assert recording.duration_s > LEAST_LEFT_S - 1
    assert recording.has_gravity == panel.has_gravity
    assert np.all(np.diff(recording.t_s) > 0)
    assert truth[1].max() <= spin.drum_rpm.max() + 1e-6
    track = read_spin(recording).track
    assert np.all(track.f_hz[np.isfinite(track.f_hz)] > 0)
    assert np.all((track.confidence >= 0) & (track.confidence <= 1))
