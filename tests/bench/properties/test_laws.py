"""What holds for every machine and every reading."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from counterpoise.bench.feet import FEET, PITCH_MM, Feet, Tolerance
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.quantity import soft_outcomes
from counterpoise.bench.readings import GAP_MM, possible
from counterpoise.bench.runout import Rim, runout
from counterpoise.bench.slopes import from_degrees, reversal
from counterpoise.errors import ReadingError

number = st.floats(-5, 5, allow_nan=False)


@given(number, number, number)
def test_reversal_cancels_any_constant_offset(true, own, other):
    first, second = (reversal(offset + true, offset - true) for offset in (own, other))
    assert first.slope.value == pytest.approx(true, abs=1e-12)
    assert second.slope.value == pytest.approx(true, abs=1e-12)
    assert first.own_error.value == pytest.approx(own, abs=1e-12)


@given(
    st.floats(-1e3, 1e3), st.floats(0, 1e3), st.lists(st.floats(-1e3, 1e3), max_size=6, unique=True)
)
def test_soft_outcomes_are_a_distribution(value, sd, edges):
    weights = soft_outcomes(value, sd, sorted(edges))
    assert len(weights) == len(edges) + 1
    assert all(0 <= weight <= 1 for weight in weights)
    assert sum(weights) == pytest.approx(1, abs=1e-9)


@given(st.floats(-10, 10), st.floats(0.01, 5), st.floats(0.01, 5))
def test_a_larger_value_never_looks_milder(value, sd, more):
    before, after = (
        np.cumsum(soft_outcomes(place, sd, [0.0, 2.0])) for place in (value, value + more)
    )
    assert (after <= before + 1e-12).all()


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_every_reading_is_taken_or_asked_about(value):
    if 0 <= value <= 30:
        assert possible(value, GAP_MM) == value
    else:
        with pytest.raises(ReadingError) as caught:
            possible(value, GAP_MM)
        assert caught.value.remedy


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 11), st.lists(st.floats(2, 14), min_size=12, max_size=12))
def test_turning_the_numbering_turns_only_the_direction(shift, gaps):
    straight, turned = (runout(Rim(tuple(row), 0.3)) for row in (gaps, gaps[shift:] + gaps[:shift]))
    assert turned.eccentricity.value == pytest.approx(straight.eccentricity.value, abs=1e-9)
    assert turned.ovality.value == pytest.approx(straight.ovality.value, abs=1e-9)
    assert turned.least_gap.value == pytest.approx(straight.least_gap.value, abs=1e-6)


# A machine on its feet, worked out independently of the code under test.


def _stand(points, centre):
    """Plane coefficients and gaps of a rigid cabinet on four points, its centre of mass at
    ``centre``.

    Three feet carry; the centre lies within their triangle and no foot is below the floor.
    """
    for feet in itertools.combinations(range(4), 3):
        rows = np.column_stack([np.ones(3), points[list(feet), :2]])
        plane = np.linalg.solve(rows, points[list(feet), 2])
        gaps = np.column_stack([np.ones(4), points[:, :2]]) @ plane - points[:, 2]
        shares = np.linalg.solve(rows.T, [1.0, *centre])
        if (gaps > -1e-9).all() and (shares > -1e-9).all():
            return plane, np.maximum(gaps, 0)
    raise AssertionError("no stance")


def _corners(feet, heights):
    x = np.array([-0.5, 0.5, -0.5, 0.5]) * feet.width_m * 1000
    y = np.array([-0.5, -0.5, 0.5, 0.5]) * feet.depth_m * 1000
    return np.column_stack([x, y, np.broadcast_to(heights, 4)])


def _read(plane, gaps, noise=(0.0, 0.0), sd=0.02):
    x, y = (math.degrees(math.atan(slope)) for slope in plane[1:])
    floats = int(np.argmax(gaps))
    lifted = bool(gaps[floats] > 1e-6)
    return LevelReadings(
        front=from_degrees(x + noise[0], sd),
        left=from_degrees(y + noise[1], sd),
        floating=FEET[floats] if lifted else "none",
        gap_mm=float(gaps[floats]) if lifted else 0.0,
    )


def _turned(feet, found):
    change = {turn.foot: turn.change_mm for turn in found.advice.turns}
    return np.array([change.get(foot, 0.0) for foot in FEET])


machines = st.fixed_dictionaries(
    {
        "width": st.floats(0.35, 0.6),
        "depth": st.floats(0.3, 0.6),
        "thread": st.sampled_from(sorted(PITCH_MM)),
        "extension": st.tuples(*[st.floats(0, 20)] * 4),
        "floor": st.tuples(*[st.floats(-6, 6)] * 4),
        "centre": st.tuples(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1)),
    }
)


@settings(max_examples=200, deadline=None)
@given(machines)
def test_one_round_brings_every_machine_within_tolerance(machine):
    feet = Feet(
        machine["width"],
        machine["depth"],
        PITCH_MM[machine["thread"]],
        machine["extension"],
        limit_mm=20.0,
    )
    tolerance = Tolerance()
    centre = (
        machine["centre"][0] * feet.width_m * 1000,
        machine["centre"][1] * feet.depth_m * 1000,
    )
    extension = np.array(machine["extension"])
    plane, gaps = _stand(_corners(feet, extension + machine["floor"]), centre)
    assume(gaps.max() <= 20)
    found = level(_read(plane, gaps), feet, tolerance)
    after = extension + _turned(feet, found)
    assert (after >= -1e-9).all(), "below its stop"
    assert (after <= 20 + 1e-9).all(), "past its limit"
    plane, gaps = _stand(_corners(feet, after + machine["floor"]), centre)
    x, y = (abs(math.degrees(math.atan(slope))) for slope in plane[1:])
    assert found.advice.reachable, "floors of up to 12 mm over feet of 20 mm can always be taken up"
    assert max(x, y) <= tolerance.slope_deg + 1e-6
    assert gaps.max() <= tolerance.gap_mm + 1e-6


@settings(max_examples=100, deadline=None)
@given(machines, st.floats(-0.1, 0.1), st.floats(-0.1, 0.1))
def test_short_feet_on_a_steep_floor_never_make_it_worse(machine, right, back):
    """Feet of 12 mm that cannot take up all: within their travel, no new float, no more lean than
    before.
    """
    feet = Feet(
        0.5, 0.5, 1.25, tuple(min(12.0, out) for out in machine["extension"]), limit_mm=12.0
    )
    start = np.array(feet.extension_mm)
    floor = _corners(feet, 0.0)[:, :2] @ [right, back] + np.array(machine["floor"]) / 3
    plane, gaps = _stand(_corners(feet, start + floor), (0.0, 0.0))
    assume(gaps.max() <= 20 and max(abs(plane[1:])) < 0.17)
    found = level(_read(plane, gaps), feet)
    after = start + _turned(feet, found)
    assert ((after >= -1e-9) & (after <= 12 + 1e-9)).all()
    settled, left = _stand(_corners(feet, after + floor), (0.0, 0.0))
    assert left.max() <= max(0.5, gaps.max()) + 1e-6
    # A gap that is closed may bring the mean slope out; it is worth less than half the gap over the
    # feet.
    assert max(abs(settled[1:])) <= max(abs(plane[1:])) + (gaps.max() + 0.5) / 1000 + 0.0045
    if found.advice.reachable:
        assert max(abs(np.degrees(np.arctan(settled[1:])))) <= 0.5 + 1e-6
        assert left.max() <= 0.5 + 1e-6


def test_the_stated_chance_of_success_comes_true():
    """Coarse readings (sd 0.2 degrees, 0.15 mm): of 2000 machines as many come right as the
    chances add up to.

    On steep floors, so that nearly level is no likelier beforehand than any other slope; where
    machines mostly stand nearly level the stated chance is on the safe side.
    """
    rng, right, stated = np.random.default_rng(13), [], []
    feet = Feet(extension_mm=(55.0, 56.0, 55.0, 54.0), limit_mm=120.0)
    start = np.array(feet.extension_mm)
    for _ in range(2000):
        floor = _corners(feet, 0.0)[:, :2] @ rng.uniform(-0.08, 0.08, 2) + rng.uniform(-2, 2, 4)
        plane, gaps = _stand(_corners(feet, start + floor), (10.0, -20.0))
        seen = _read(
            plane,
            np.where(gaps > 0.5, gaps + rng.normal(0, 0.15), gaps),
            rng.normal(0, 0.2, 2),
            0.2,
        )
        found = level(replace(seen, gap_sd_mm=0.15), feet)
        plane, gaps = _stand(_corners(feet, start + _turned(feet, found) + floor), (10.0, -20.0))
        right.append(max(abs(np.degrees(np.arctan(plane[1:])))) <= 0.5 and gaps.max() <= 0.5)
        stated.append(found.chance_after)
    # The standard error of 2000 is about 0.8 %.
    assert 0.5 < np.mean(right) < 0.95
    assert np.mean(right) == pytest.approx(np.mean(stated), abs=0.03)


def test_one_round_holds_with_noisy_readings_too():
    """Readings off by an sd of 0.05 degrees and 0.05 mm: 99 of 100 machines within tolerance."""
    rng, good = np.random.default_rng(12), 0
    feet = Feet(extension_mm=(9.0, 8.0, 10.0, 9.0))
    for _ in range(300):
        floor = rng.uniform(-5, 5, 4)
        plane, gaps = _stand(_corners(feet, np.array(feet.extension_mm) + floor), (10.0, -20.0))
        seen = _read(
            plane,
            np.maximum(0, gaps + (gaps > 0.2) * rng.normal(0, 0.05)),
            rng.normal(0, 0.05, 2),
            0.05,
        )
        after = np.array(feet.extension_mm) + _turned(feet, level(seen, feet))
        plane, gaps = _stand(_corners(feet, after + floor), (10.0, -20.0))
        good += max(abs(np.degrees(np.arctan(plane[1:])))) <= 0.5 and gaps.max() <= 0.5
    assert good >= 297
