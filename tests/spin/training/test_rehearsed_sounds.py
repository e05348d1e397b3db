"""Rehearsed sounds: bearings at the orders of their geometry, and what is counted of them."""

import io

import numpy as np
import pytest
from benchmarks.sounds import ANSWERS, answer_of, bits_gained, likelihoods

from counterpoise.spin.audio.tones import Tone
from counterpoise.spin.audio.wave import wave_format
from counterpoise.spin.files.byte_stream import NamedStream
from counterpoise.spin.training.rehearsed_sounds import (
    BEARING,
    IN_ORDER,
    STATES,
    WEIGHT,
    bearing_orders,
    rehearsed_sound,
)


@pytest.mark.parametrize(
    ("balls", "ball_in", "pitch_in", "published"),
    [
        (9, 0.3126, 1.537, (3.5848, 5.4152, 0.3983)),  # 6205, bearing data centre of Case Western
        (8, 0.2656, 1.122, (3.0531, 4.9469, 0.38164)),  # 6203, the same
    ],
)
def test_the_orders_of_a_bearing_are_those_published(balls, ball_in, pitch_in, published):
    assert bearing_orders(balls, ball_in / pitch_in) == pytest.approx(published, abs=1e-4)


def test_a_sound_is_a_wav_beside_a_drum_that_reaches_speed_and_comes_back_the_same():
    sound = rehearsed_sound(1, 7)
    assert sound.state == BEARING == STATES[1]
    form = wave_format(NamedStream(io.BytesIO(sound.wav), "made"))
    assert (form.rate_hz, form.channels) == (16_000, 1)
    assert sound.drum.t_s[-1] < form.duration_s
    assert 60 * np.nanmax(sound.drum.f_hz) > 700
    assert rehearsed_sound(1, 7).wav == sound.wav


def tone(order, *, in_beat=True):
    return Tone(order, 12.0, in_beat)


@pytest.mark.parametrize(
    ("beat", "answer"),
    [
        (None, "none"),
        ((), "none"),
        ((tone(3.58),), "between"),
        ((tone(1.0), tone(4.95)), "between"),
        ((tone(1.0), tone(2.0)), "whole"),
        ((tone(12.37),), "none"),  # no bearing of a drum has so many balls
    ],
)
def test_an_answer_is_what_the_beat_shows(beat, answer):
    assert answer_of(beat) == answer


def test_bits_are_gained_where_the_states_answer_apart_and_none_where_they_do_not():
    apart = [(BEARING, "between"), (WEIGHT, "whole"), (IN_ORDER, "none")] * 20
    rows = likelihoods(apart)
    assert all(row.sum() == pytest.approx(1) and len(row) == len(ANSWERS) for row in rows.values())
    assert all(mean > 1.2 for mean, _ in bits_gained(apart, rows).values())
    alike = [(state, answer) for state in (BEARING, WEIGHT, IN_ORDER) for answer in ANSWERS] * 20
    gained = bits_gained(apart, likelihoods(alike))
    assert all(mean == pytest.approx(0) for mean, _ in gained.values())
