"""Runout against scipy's least squares and hand cases; play by geometry."""

import math

import numpy as np
import pytest
from scipy import optimize

from counterpoise.bench.play import PlayReadings, Shaft, play
from counterpoise.bench.runout import Rim, runout, strike
from counterpoise.errors import ReadingError


def test_four_places_by_hand():
    # Gaps 9, 8, 7, 8 mm at 12, 3, 6 and 9 o'clock: the rim sits 1 mm low, narrowest at six.
    found = runout(Rim((9.0, 8.0, 7.0, 8.0), 0.1), way="walked")
    assert found.eccentricity.value == pytest.approx(
        math.sqrt(1 - 0.1**2 / 2)
    )  # mean excess of noise taken off
    assert found.indicated.value == pytest.approx(2 * found.eccentricity.value)
    assert found.narrow_deg == pytest.approx(180)
    assert found.mean_gap.value == pytest.approx(8)
    assert found.least_gap.value == pytest.approx(7)
    assert found.ovality is None
    assert "six or more" in found.remarks[0]


def test_an_oval_by_hand():
    # 8 + 0.5 cos 2a at eight places: largest less smallest diameter is 2 mm, no eccentricity.
    angles = np.arange(8) * math.pi / 4
    found = runout(Rim(tuple(8 + 0.5 * np.cos(2 * angles)), 0.01))
    assert found.ovality.value == pytest.approx(2.0, abs=1e-3)
    assert found.eccentricity.value == 0.0


@pytest.mark.parametrize("missing", [(), (2, 7), (0, 1, 5)])
def test_the_fit_is_scipys_least_squares_with_its_covariance(missing):
    rng = np.random.default_rng(7)
    angles = np.arange(12) * math.pi / 6
    gaps = 7 + 1.2 * np.cos(angles - 0.7) + 0.3 * np.sin(2 * angles) + rng.normal(0, 0.1, 12)
    kept = [k for k in range(12) if k not in missing]
    found = runout(Rim(tuple(None if k in missing else float(gaps[k]) for k in range(12)), 0.1))

    def model(a, mean, size, place, oval, turn):
        return mean + size * np.cos(a - place) + oval * np.cos(2 * (a - turn))

    best, covariance = optimize.curve_fit(
        model,
        angles[kept],
        gaps[kept],
        p0=[7, 1, 0.7, 0.3, 0.8],
        sigma=np.full(len(kept), 0.1),
        absolute_sigma=True,
    )
    sd = math.sqrt(covariance[1, 1])
    assert found.eccentricity.sd == pytest.approx(sd, rel=0.01)
    assert found.eccentricity.value == pytest.approx(math.sqrt(best[1] ** 2 - sd**2), rel=1e-3)
    assert found.ovality.value == pytest.approx(
        math.sqrt((4 * best[3]) ** 2 - found.ovality.sd**2), rel=1e-3
    )
    assert found.mean_gap.sd == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-4)


def test_two_depths_give_the_tilt():
    angles = np.arange(8) * math.pi / 4
    front, back = (Rim(tuple(8 + size * np.cos(angles)), 0.01) for size in (2.0, 1.0))
    assert runout(front, back, depth_mm=200).tilt.value == pytest.approx(
        math.degrees(1 / 200), rel=1e-3
    )


def test_one_wild_reading_is_named():
    gaps = [8.0] * 12
    gaps[4] = 11.0
    found = runout(Rim(tuple(gaps), 0.2))
    assert "place 5" in found.remarks[0]
    assert found.eccentricity.sd > 0.2 * math.sqrt(2 / 12)


def test_an_oval_that_cannot_be_told_is_doubt_when_places_are_uneven():
    even = runout(Rim((8.0, 8.0, 8.0, 8.0), 0.2))
    uneven = runout(Rim((8.0, 8.0, None, 8.0, None, 8.0), 0.2))
    assert even.eccentricity.sd == pytest.approx(0.2 / math.sqrt(2))
    assert uneven.eccentricity.sd > 1.2 * even.eccentricity.sd


def test_turned_speaks_of_the_support_and_walked_of_the_bearing():
    gaps = (10.5, 8.0, 5.5, 8.0)
    turned, walked = (dict(runout(Rim(gaps), way=way).says) for way in ("turned", "walked"))
    assert "100 %" in turned["drum support"]
    assert turned["bearing"].startswith("not told")
    assert "100 %" in walked["bearing"]
    assert walked["drum support"].startswith("not told")


@pytest.mark.parametrize(
    ("gaps", "says"),
    [
        ((8.0,) * 3, "4 to 24"),
        ((8.0,) * 25, "4 to 24"),
        ((8.0, None, None, 8.0, 8.0), "only 3"),
        ((8.0,) * 4 + (None,) * 20, "too close"),
    ],
)
def test_too_few_places_are_refused(gaps, says):
    with pytest.raises(ReadingError, match=says):
        runout(Rim(gaps))


def test_striking_is_a_matter_of_room():
    walked = runout(Rim((5.0, 4.0, 3.0, 4.0), 0.1), way="walked")
    turned = runout(Rim((5.5, 4.0, 2.5, 4.0), 0.1))
    assert strike(walked, play_mm=(0.2, 0.1)).chance < 0.01
    tight = strike(walked, turned=turned, play_mm=(1.0, 0.1))
    # 3 mm least, 1.5 runout, half of 1 mm play, 1 mm flexing: 0 left, an even chance.
    assert tight.room.value == pytest.approx(0.0, abs=0.01)
    assert tight.chance == pytest.approx(0.5, abs=0.02)


def test_play_at_the_rim_is_the_bearings_times_the_lever():
    found = play(PlayReadings((1.6, 1.6)), Shaft(bearing_distance_m=0.1, overhang_m=0.35))
    assert found.clearance.value == pytest.approx(1.6 / 8)  # 1 + 2 * 0.35 / 0.1
    assert found.radial.sd == pytest.approx(0.2 / math.sqrt(2))


def test_rocking_is_an_angle_over_the_rim():
    found = play(PlayReadings((0.2,), rocking_mm=(1.0,)), Shaft(rim_diameter_m=0.5))
    assert found.rocking.value == pytest.approx(math.degrees(0.002))


def test_play_that_changes_round_the_drum_points_to_the_support():
    even = play(PlayReadings((1.5,), round_mm=(1.5, 1.4, 1.6, 1.5)))
    uneven = play(PlayReadings((1.5,), round_mm=(0.6, 1.5, 2.4, 1.5)))
    assert "same all round" in dict(even.says)["drum support"]
    assert "cracked arm" in dict(uneven.says)["drum support"]
    assert uneven.uneven.value == pytest.approx(math.sqrt((0.9**2 * 2 - 2 * 0.2**2) / 4))
