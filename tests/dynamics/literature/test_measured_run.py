"""The whole model beside a measured run (rows D1 and D13).

D1: tub displacement of a 9-kg front loader with 0.5 kg out of balance, mm rms, digitised from a
photo of the test screen in Sapre's public model, 2023. That photo and geometry are one machine is
inferred. What was fitted stays within the family's stated ranges; where on the tub was measured,
and how deep the weight sat, is not told and was fitted too.
"""

import numpy as np
import pytest
from tests.dynamics.judges.textbook import permissible_unbalance_kg_m

from counterpoise.dynamics import Run, build, hold, simulate
from counterpoise.dynamics.motion.response import respond

MEASURED = {
    75: 0.05, 110: 0.12, 130: 0.48, 140: 1.12, 150: 2.15, 166: 3.15, 190: 2.72, 210: 1.75,
    230: 0.40, 250: 1.06,
    270: 2.11, 290: 2.89, 309: 3.01, 340: 2.89, 400: 2.66, 500: 2.44, 600: 2.34,
    900: 2.256, 1200: 2.302, 1370: 2.360,
}  # fmt: skip
FITTED = {
    "oscillating_kg": 48.69862, "upper_weight_kg": 10.39659, "front_weight_kg": 7.39095,
    "cabinet_kg": 19.90733,
    "pitch_inertia_kg_m2": 1.62427, "roll_inertia_kg_m2": 3.08666, "centre_y_m": 0.01228,
    "drum_radius_m": 0.29845,
    "spring_n_m": 9453.13767, "damper_viscous_n_s_m": 128.59832, "damper_friction_n": 49.93835,
    "damper_bushing_n_m": 107893.14978, "damper_pin_n_m": 3071.77275, "damper_pin_n_s_m": 15.50622,
    "bellows_n_m": 1314.69239, "bellows_n_s_m": 5.85352, "foot_n_m": 502801.28728,
}  # fmt: skip
WATCHED, DEPTH_SHARE = (-0.02645, -0.19868, 0.46), 0.45469


@pytest.fixture(scope="module")
def simulated():
    machine = build("front_loader", FITTED).with_unbalance(0.5, DEPTH_SHARE, laundry=False)
    runs = {
        rpm: simulate(machine, Run(hold(rpm, 25.0), watch_m=WATCHED), 200.0) for rpm in MEASURED
    }
    return {rpm: 1e3 * float(r.tub_m[-2000:, 2].std()) for rpm, r in runs.items()}


def peak(values, low, high):
    return max(v for rpm, v in values.items() if low <= rpm <= high)


def test_first_peak_within_three_per_cent(simulated):
    assert peak(simulated, 75, 230) == pytest.approx(3.15, rel=0.03)
    assert simulated[166] == pytest.approx(MEASURED[166], rel=0.03)


def test_second_peak_within_ten_per_cent(simulated):
    assert peak(simulated, 270, 340) == pytest.approx(3.01, rel=0.10)
    assert simulated[309] == pytest.approx(MEASURED[309], rel=0.10)


def test_dip_between_the_peaks(simulated):
    dip = min(simulated[210], simulated[230], simulated[250])
    assert dip == simulated[230]
    assert dip == pytest.approx(MEASURED[230], rel=0.20)


@pytest.mark.parametrize("rpm", [130, 140, 150, 190, 250, 270, 290, 340, 400])
def test_flanks_within_ten_per_cent(simulated, rpm):
    assert simulated[rpm] == pytest.approx(MEASURED[rpm], rel=0.10)


def test_the_fall_to_the_dip_comes_seven_rpm_early(simulated):
    """The one flank that is off: 30 % low at 210 rpm, where the measured curve falls by 4 %
    a rpm.
    """
    rpm = (190.0, 210.0, 230.0)
    falls_at = np.interp(-MEASURED[210], [-simulated[r] for r in rpm], rpm)
    assert falls_at == pytest.approx(210.0, abs=10.0)


@pytest.mark.parametrize("rpm", [500, 600, 900, 1200, 1370])
def test_plateau_within_fifteen_per_cent(simulated, rpm):
    assert simulated[rpm] == pytest.approx(MEASURED[rpm], rel=0.15)


def test_friction_holds_the_tub_nearly_still_below_110_rpm(simulated):
    assert simulated[75] < 0.03 * simulated[166]
    assert simulated[110] < 0.06 * simulated[166]


def test_a_healthy_empty_spin_is_of_the_order_that_was_logged():
    """D13: hold near 1190 rpm, 1x about 10 mg upright and 30 mg across a panel (public log of a
    spin.

    Numbers only); factor four.
    """
    drum = build("front_loader").drum
    left = permissible_unbalance_kg_m(40.0, drum.mass_kg, 1190.0) / drum.radius_m
    spin = simulate(
        build("front_loader").with_unbalance(left, laundry=False), Run(hold(1190.0, 10.0)), 500.0
    )
    rms_mg = spin.panel_m_s2[-2000:].std(axis=0) / 9.80665e-3
    assert 30.0 / 4 < rms_mg[0] < 30.0 * 4
    assert 10.0 / 4 < rms_mg[2] < 10.0 * 4


def test_the_upright_shake_grows_about_as_was_logged():
    """D13: once a turn, upright, as the 1.9th power of speed; here between 300 and 900 rpm, within
    half a power.
    """
    upright = np.abs(
        respond(build("front_loader").with_unbalance(0.1), [300.0, 900.0]).panel_m_s2[:, 2]
    )
    assert np.log(upright[1] / upright[0]) / np.log(3.0) == pytest.approx(1.9, abs=0.5)
