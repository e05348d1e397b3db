"""The order of time, and each flaw at its limit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.errors import RecordingError
from counterpoise.spin.files.quality import (
    clipping,
    finest_step,
    ordered_time,
    rate_notes,
    value_notes,
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), swaps=st.integers(0, 8))
def test_time_rises_strictly_and_each_reading_keeps_its_moment(seed, swaps):
    rng = np.random.default_rng(seed)
    t = np.arange(300) / 100
    order = np.arange(300)
    for at in rng.choice(np.arange(1, 298, 3), swaps, replace=False):
        order[[at, at + 1]] = order[[at + 1, at]]
    t, acc = t[order], np.column_stack([t[order]] * 3)
    got_t, got_acc, notes = ordered_time(t + 5.0, acc)
    assert got_t[0] == 0
    assert np.all(np.diff(got_t) > 0)
    assert got_acc[:, 0] - got_acc[0, 0] == pytest.approx(got_t)
    assert [note.code for note in notes] == (["out_of_order"] if swaps else [])


def test_copies_are_dropped_and_coarse_stamps_spread():
    t = np.arange(200) / 100
    once = np.insert(t, 50, t[50])
    got, acc, _ = ordered_time(once, np.zeros((201, 3)))
    assert len(got) == len(acc) == 200
    coarse = np.floor(t * 10) / 10
    got, acc, notes = ordered_time(coarse, np.column_stack([t] * 3))
    assert np.diff(got) == pytest.approx(np.full(len(got) - 1, 0.01))
    assert acc[:, 0] == pytest.approx(got)
    assert notes[0].code == "coarse_time"


def test_time_without_order_or_at_a_stand_is_refused():
    with pytest.raises(RecordingError, match="backwards"):
        ordered_time(np.arange(100)[::-1] / 100, np.zeros((100, 3)))
    with pytest.raises(RecordingError, match="same time"):
        ordered_time(np.zeros(100), np.zeros((100, 3)))


def test_clipping_counts_the_samples_at_the_end_of_the_range():
    wave = 40 * np.sin(np.linspace(0, 200, 20_000))
    clean = np.column_stack([wave, 0 * wave, 0 * wave + 9.81])
    assert clipping(clean) == 0
    cut = clean.clip(-20, 20)
    assert clipping(cut) == pytest.approx(np.mean(np.abs(wave) >= 20))
    # A low plateau is no end of a range: no phone ends at 1 g.
    assert clipping(clean.clip(-10, 10)) == 0


@pytest.mark.parametrize("step", [0.1, 0.005, 9.80665 / 1024])
def test_the_finest_step_is_that_of_the_rounding(step):
    values = np.round(np.random.default_rng(1).normal(0, 1, (5000, 3)) / step) * step
    assert finest_step(values) == pytest.approx(step, rel=1e-6)
    assert finest_step(np.ones((50, 3))) == 0


@pytest.mark.parametrize(
    ("rate_hz", "top_rpm", "code"),
    [(44.1, 1200, "rate_low"), (43.9, 1200, "rate_too_low"), (88.1, 1200, None),
     (43.9, None, "rate_too_low"),
     (60, 800, None), (60, 1600, "rate_low")],
)  # fmt: skip
def test_a_rate_too_low_is_said_at_its_limit(rate_hz, top_rpm, code):
    notes = rate_notes(np.arange(500) / rate_hz, rate_hz, top_rpm)
    assert [note.code for note in notes] == ([code] if code else [])


def test_remarks_on_values():
    noise = np.random.default_rng(1).normal(0, 1, (100, 3))
    assert value_notes(noise, 0.01, 0.0) == []
    codes = [note.code for note in value_notes(np.ones((100, 3)), 0.1, 0.02)]
    assert codes == ["clipped", "coarse", "constant"]
