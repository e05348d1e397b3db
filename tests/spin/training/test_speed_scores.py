"""What counts as a true plateau, and how a speed told for it is called."""

import numpy as np
import pytest
from tests.spin.shared import made, spin_signal

from counterpoise.spin.reading import read_spin
from counterpoise.spin.speed.speed_tracking import SpeedTrack
from counterpoise.spin.training.speed_scores import (
    A_LITTLE,
    ELSEWHERE,
    NOT_TOLD,
    RIGHTLY,
    ToldPlateau,
    speed_text,
    told_plateaus,
    true_plateaus,
    wrong_share,
)


def truth():
    """Ten seconds each at 100, 400 and 1,000 rpm, and the way between them."""
    t = np.arange(0, 60, 0.1)
    return np.stack([t, np.interp(t, [0, 10, 15, 25, 40, 50], [100, 100, 400, 400, 1000, 1000])])


def track(rpm):
    t = np.arange(0, 55, 0.25)
    return SpeedTrack(t, np.interp(t, *truth()) * rpm / 60, np.empty(0), np.ones(len(t)))


def test_only_fast_and_steady_stretches_are_plateaus():
    plateaus = true_plateaus(truth())
    assert [rpm for _, rpm in plateaus] == pytest.approx([400, 1000], rel=0.002)
    assert plateaus[0][0] == pytest.approx(20, abs=0.2)
    backwards = truth() * np.array([[1.0], [-1.0]])
    assert true_plateaus(backwards) == plateaus


@pytest.mark.parametrize(
    ("times", "outcome"),
    [(1.0, RIGHTLY), (0.992, RIGHTLY), (1.04, A_LITTLE), (2.0, "twice"), (3.02, "three times"),
     (0.5, "half"), (0.34, "a third"), (1.49, "3 to 2"), (0.8, ELSEWHERE)],
)  # fmt: skip
def test_a_mistake_is_called_by_its_ratio(times, outcome):
    told = told_plateaus(track(times), truth())
    assert [each.outcome for each in told] == [outcome] * 2
    wrong = wrong_share(track(times), truth())
    # Only what is told above 200 rpm counts: of a third of the speed half the time.
    assert wrong > 0.25 if abs(times - 1) > 0.05 else wrong == 0


def test_where_nothing_is_told_nothing_is_right():
    seen = track(1.0)
    seen.f_hz[:] = np.nan
    assert {each.outcome for each in told_plateaus(seen, truth())} == {NOT_TOLD}
    seen.f_hz[0] = 6.7  # twenty seconds away
    assert {each.outcome for each in told_plateaus(seen, truth())} == {NOT_TOLD}


def test_a_line_says_how_many_and_which():
    told = [ToldPlateau(1, 400, 400), ToldPlateau(2, 400, 800), ToldPlateau(3, 400, float("nan"))]
    assert speed_text(told).startswith("1 of 3 plateaus within 1 % (33.3 %)")
    assert "twice 1" in speed_text(told)
    assert "not told 1" in speed_text(told)


def test_a_made_up_spin_is_told_rightly():
    t, acc, f = spin_signal(100.0)
    told = told_plateaus(read_spin(made(t, acc)).track, np.stack([t, 60 * f]))
    assert [each.outcome for each in told] == [RIGHTLY] * 3
