"""Machines side by side move as each does alone, whatever stands beside them."""

import numpy as np
import pytest

from counterpoise.dynamics import (
    Controller,
    Phone,
    Run,
    SpinProfile,
    build,
    hold,
    simulate,
    spin_cycle,
    with_fault,
)
from counterpoise.dynamics.batch import accelerator
from counterpoise.dynamics.batch.lanes import prepare, stacked
from counterpoise.dynamics.batch.spins import drum_course, simulate_batch
from counterpoise.dynamics.motion.pack import RPM
from counterpoise.errors import InputError

RATE = 200.0
KEPT = ("panel", "tub", "foot", "place", "stop")
SHORT = SpinProfile(
    ((0.0, 0.0), (1.0, 48.0), (3.0, 48.0), (4.0, 95.0), (6.0, 95.0), (12.0, 700.0), (17.0, 700.0))
)


def machines():
    """Different numbers of springs, ties and unbalances, blows, play, rumble, a floor that gives."""
    sound = build("front_loader").with_unbalance(0.3)
    faults = (
        "transit_bolts",
        "counterweight_loose",
        "bearing_worn",
        "soft_floor",
        "spring_off",
        "heavy_load",
    )
    return [
        sound,
        *(with_fault(sound, fault) for fault in faults),
        build("top_loader").with_unbalance(0.4),
    ]


@pytest.fixture(scope="module")
def spins():
    runs = [
        Run(SHORT, None, Phone(0.05, -0.04, 0.3), seed=number) for number in range(len(machines()))
    ]
    pairs = list(zip(machines(), runs, strict=True))
    side_by_side = simulate_batch(
        [prepare(machine, run, RATE) for machine, run in pairs], device="processor", keep=KEPT
    )
    return [
        (simulate(machine, run, RATE), each)
        for (machine, run), each in zip(pairs, side_by_side, strict=True)
    ]


def test_each_moves_as_it_does_alone(spins):
    for alone, beside in spins:
        assert beside.complete == alone.complete
        assert len(beside.t_s) == len(alone.t_s)
        # kept in single precision, reckoned in double
        for name in ("panel_m_s2", "tub_m", "tub_centre_m", "foot_n", "walked_m", "stop_n"):
            one, other = getattr(alone, name), getattr(beside, name)
            assert np.abs(one - other).max() <= 2e-7 * max(1.0, np.abs(one).max()), name


def test_speed_and_angle_follow_from_the_programme(spins):
    alone, beside = spins[0]
    assert beside.drum_rpm == pytest.approx(alone.drum_rpm, abs=1e-6)
    assert beside.drum_rad == pytest.approx(alone.drum_rad, abs=1e-3)
    speed, angle = drum_course(np.array([[0.0, 2.0], [3.0, 8.0]]), np.array([0.0, 1.5, 3.0, 4.0]))
    assert speed == pytest.approx([2.0, 5.0, 8.0, 8.0])
    assert angle == pytest.approx([0.0, 1.5 * 3.5, 15.0, 23.0])


def test_single_precision_shakes_a_machine_that_does_not_knock_alike():
    machine, run = build("front_loader").with_unbalance(0.3), Run(hold(700.0, 6.0))
    double, single = (
        simulate_batch([prepare(machine, run, RATE)], device="processor", dtype=dtype)[0]
        .panel_m_s2[400:]
        .std(axis=0)
        for dtype in (np.float64, np.float32)
    )
    assert single == pytest.approx(double, rel=0.01)


def test_what_a_controller_refuses_is_said():
    stubborn = Run(spin_cycle(1000.0), Controller(ripple_limit=1e-4, attempts=1))
    prepared = prepare(build("front_loader").with_unbalance(0.3), stubborn, RATE)
    assert prepared.refused
    assert prepared.outline.profile[:, 1].max() < 200 * RPM


def test_shorter_tables_are_filled_up_with_nothing():
    run = Run(hold(300.0, 1.0))
    bolted, free = (
        prepare(m, run, RATE)
        for m in (with_fault(build("front_loader"), "transit_bolts"), build("front_loader"))
    )
    lanes = stacked([bolted, free])
    ties = lanes.rows[1]
    assert ties[0] > ties[1]
    assert not lanes.par.ties[ties[1] :, :, 1].any()
    assert pytest.approx(free.par.struts.T) == lanes.par.struts[:, :, 1].T


def test_only_what_is_asked_for_is_kept():
    prepared = [prepare(build("front_loader"), Run(hold(300.0, 1.0)), RATE)]
    result = simulate_batch(prepared, device="processor")[0]
    assert len(result.panel_m_s2) == len(result.t_s) == 201
    assert result.foot_n.shape == (0, 4, 3)
    with pytest.raises(InputError, match="wheel"):
        simulate_batch(prepared, device="processor", keep=("wheel",))
    with pytest.raises(InputError, match="abacus"):
        simulate_batch(prepared, device="abacus")


def test_without_an_accelerator_it_says_so(monkeypatch):
    monkeypatch.setattr(accelerator.cuda, "is_available", lambda: False)
    prepared = [prepare(build("front_loader"), Run(hold(300.0, 1.0)), RATE)]
    with pytest.raises(InputError, match="no accelerator") as refused:
        simulate_batch(prepared, device="accelerator")
    assert "processor" in refused.value.remedy
