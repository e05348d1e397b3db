"""Sound of a spin: what is put in comes out; WAV files of every kind; files that are none."""

import contextlib
import struct

import numpy as np
import pytest
from scipy.io import wavfile
from tests.memory import peak_bytes
from tests.spin.shared import USUAL, made, spin_signal
from tests.spin.sounds import spin_sound, wav

from counterpoise.errors import RecordingError
from counterpoise.spin.audio.sound import read_sound
from counterpoise.spin.audio.sound_data import sentence, sound_data
from counterpoise.spin.audio.sound_features import STEP_S, read_sound_features
from counterpoise.spin.audio.wave import wave_blocks, wave_format
from counterpoise.spin.files.byte_stream import opened
from counterpoise.spin.reading import read_spin


@pytest.fixture(scope="module")
def reading():
    t, acc, _ = spin_signal(100.0, noise=0.05)
    return read_spin(made(t, acc))


def heard(folder, reading, start_s=None, **kind):
    (folder / "a.wav").write_bytes(wav(spin_sound(**kind)))
    return read_sound(folder / "a.wav", "", reading, start_s)


def orders(sound):
    return [tone.order for tone in sound.tones]


# --- what follows the drum ---


@pytest.mark.parametrize("begin_s", [0.0, 6.3])
def test_tones_come_out_at_their_orders_wherever_the_sound_began(tmp_path, reading, begin_s):
    (tmp_path / "a.wav").write_bytes(
        wav(spin_sound({3.07: 0.006, 5.11: 0.006, 12.37: 0.006}, start_s=begin_s))
    )
    sound = read_sound(tmp_path / "a.wav", "", reading)
    assert np.allclose(sorted(orders(sound)), [3.07, 5.11, 12.37], rtol=0.002)
    assert [tone.whole for tone in sound.tones] == [False] * 3
    assert sound.lined_up == "found"
    assert abs(sound.start_s - begin_s) < 0.1
    assert "3.07" in sentence(sound)
    assert "belt, motor or bearing" in sentence(sound)


def test_the_knocks_of_a_bearing_are_heard_in_the_beat_of_what_they_ring(tmp_path, reading):
    sound = heard(tmp_path, reading, tones={}, beats=(4.93,), noise=0.001)
    assert abs(sound.tones[0].order / 4.93 - 1) < 0.002
    assert all(tone.in_beat for tone in sound.tones)
    assert sentence(sound).count("4.93") == 1
    assert "9.86" not in sentence(sound)  # its overtone is no tone of its own


def test_whole_orders_are_the_drums_own(tmp_path, reading):
    sound = heard(tmp_path, reading, tones={1: 0.02, 2: 0.02, 3: 0.01}, start_s=0.0)
    assert np.allclose(sorted(orders(sound)), [1, 2, 3], atol=0.02)
    assert "not a bearing" in sentence(sound)


@pytest.mark.parametrize("seed", range(2))
def test_noise_and_a_steady_hum_follow_nothing(tmp_path, reading, seed):
    sound = heard(tmp_path, reading, tones={}, standing=(100.0, 250.0, 47.0), seed=seed)
    assert sound.tones == ()
    assert sound.standing_hz == (47.0, 100.0, 250.0)
    assert "clears no bearing" in sentence(sound)


def test_a_hum_near_an_order_of_one_hold_is_not_taken_for_it(tmp_path, reading):
    hold_hz = 1100 / 60
    sound = heard(tmp_path, reading, start_s=0.0, tones={}, standing=(5.5 * hold_hz,))
    assert sound.tones == ()


def test_louder_with_speed_and_in_its_numbers(tmp_path, reading):
    sound = heard(tmp_path, reading, start_s=0.0, tones={1: 0.02})
    assert [round(one.rpm, -1) for one in sound.loudness] == [400, 800, 1100]
    levels = [one.over_quiet_db for one in sound.loudness]
    assert levels == sorted(levels)
    data = sound_data(sound)
    assert len(data["level"]) == int(USUAL[-1][0] / STEP_S)
    assert all(np.isfinite(db) for _, db in data["level"])


def test_the_level_is_that_of_the_wave(tmp_path):
    t = np.arange(0, 10, 1 / 16_000)
    (tmp_path / "a.wav").write_bytes(wav(0.5 * np.sin(2 * np.pi * 440 * t)))
    level = read_sound_features(tmp_path / "a.wav").level_db
    assert np.allclose(level[2:], 10 * np.log10(0.5**2 / 2), atol=0.02)


# --- what cannot be told ---


def test_silence_and_a_sound_of_something_else_cannot_be_lined_up(tmp_path, reading):
    rng = np.random.default_rng(3)
    for wave in (np.zeros(16_000 * 60), rng.normal(0, 0.1, 16_000 * 60)):
        (tmp_path / "a.wav").write_bytes(wav(wave))
        sound = read_sound(tmp_path / "a.wav", "", reading)
        assert (sound.lined_up, sound.tones, sound.start_s) == ("", (), None)
        assert sentence(sound).startswith("The sound cannot tell")


def test_too_few_speeds_cannot_tell(tmp_path):
    points = [(0, 0), (5, 0), (6, 900), (50, 900), (51, 0), (55, 0)]
    t, acc, _ = spin_signal(100.0, points)
    sound = heard(tmp_path, read_spin(made(t, acc)), start_s=0.0, tones={3.07: 0.01}, points=points)
    assert sound.tones == ()
    assert "too few speeds" in sentence(sound)


def test_clipping_is_said(tmp_path, reading):
    sound = heard(tmp_path, reading, start_s=0.0, tones={1: 3.0})
    assert [note.code for note in sound.notes] == ["sound_clipped"]


# --- files ---


def whole_wave(path):
    """The format of a WAV file and all its samples."""
    with opened(path) as file:
        form = wave_format(file)
        return form, np.concatenate(list(wave_blocks(file, form)))


KINDS = [
    {"bits": 8}, {"bits": 16}, {"bits": 24}, {"bits": 32}, {"bits": 32, "is_float": True},
    {"bits": 64, "is_float": True}, {"channels": 2}, {"bits": 24, "extensible": True},
    {"before": b"LIST" + struct.pack("<I", 5) + b"INFOx" + b"\0"},
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_wav_gives_the_same_wave(tmp_path, kind):
    wave = np.random.default_rng(1).uniform(-0.9, 0.9, 90_000)
    (tmp_path / "a.wav").write_bytes(wav(wave, 16_000, **kind))
    form, read = whole_wave(tmp_path / "a.wav")
    assert (len(read), form.rate_hz) == (90_000, 16_000)
    assert np.abs(read - wave).max() <= (1 / 64 if kind.get("bits") == 8 else 1e-4)


@pytest.mark.parametrize("kind", [np.uint8, np.int16, np.int32, np.float32])
def test_it_agrees_with_scipys_reader(tmp_path, kind):
    rng = np.random.default_rng(2)
    wave = rng.uniform(-0.9, 0.9, (50_000, 2)).astype(kind) if kind is np.float32 else None
    if wave is None:
        wave = rng.integers(np.iinfo(kind).min, np.iinfo(kind).max, (50_000, 2)).astype(kind)
    wavfile.write(tmp_path / "a.wav", 8000, wave)
    _, theirs = wavfile.read(tmp_path / "a.wav")
    full = {np.uint8: 128.0, np.int16: 2.0**15, np.int32: 2.0**31, np.float32: 1.0}[kind]
    mono = (theirs.astype(float) - (128 if kind is np.uint8 else 0)).mean(axis=1) / full
    _, ours = whole_wave(tmp_path / "a.wav")
    assert np.allclose(ours, mono, atol=1e-12)


def test_a_file_that_was_cut_off_gives_what_arrived(tmp_path):
    whole = wav(np.full(160_000, 0.25))
    untold = [whole[:40] + said + whole[44:] for said in (b"\xff\xff\xff\xff", b"\0\0\0\0")]
    for data in (whole[:200_000], *untold):
        (tmp_path / "a.wav").write_bytes(data)
        form, read = whole_wave(tmp_path / "a.wav")
        assert form.frames == len(read) == (len(data) - 44) // 2


def changed(at, put):
    data = bytearray(wav(np.zeros(100_000)))
    data[at : at + len(put)] = put
    return bytes(data)


WRONG = {
    "empty": b"", "text": b"t,x,y,z\n1,2,3,4\n", "only a head": b"RIFF\x04\0\0\0WAVE",
    "big-endian": changed(0, b"RIFX"),
    "no wave": changed(8, b"AVI "), "no fmt": changed(12, b"fmx "),
    "no data": changed(36, b"dat\0"), "packed": changed(20, b"\x55\0"),
    "adpcm": changed(20, b"\x02\0"), "no channels": changed(22, b"\0\0"),
    "many channels": changed(22, b"\xff\xff"), "no rate": changed(24, b"\0\0\0\0"),
    "wild rate": changed(24, b"\xff\xff\xff\xff"), "12 bits": changed(34, b"\x0c\0"),
    "0 bits": changed(34, b"\0\0"), "short": wav(np.zeros(1000)),
    "nested": b"RIFF\0\0\0\0WAVE" + (b"junk" + bytes(4)) * 5000,
    "short fmt": b"RIFF\0\0\0\0WAVEfmt \x04\0\0\0\x01\0\x01\0data\x04\0\0\0abcd",
    "length beyond all": b"RIFF\0\0\0\0WAVEjunk\xfe\xff\xff\xffx",
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_no_sound_is_refused_in_words(tmp_path, name):
    (tmp_path / "a.wav").write_bytes(WRONG[name])
    with pytest.raises(RecordingError) as told:
        read_sound_features(tmp_path / "a.wav")
    assert told.value.remedy
    assert "a.wav" in told.value.message


@pytest.mark.parametrize("seed", range(60))
def test_a_damaged_file_is_read_or_refused_and_never_more(tmp_path, seed):
    rng = np.random.default_rng(seed)
    data = bytearray(
        wav(rng.normal(0, 0.1, 50_000), 8000, bits=int(rng.choice([8, 16, 24, 32])), is_float=False)
    )
    for at in rng.integers(0, 60, rng.integers(1, 8)):
        data[at] = int(rng.integers(256))
    (tmp_path / "a.wav").write_bytes(bytes(data[: int(rng.integers(20, len(data)))]))
    with contextlib.suppress(RecordingError):
        assert np.isfinite(read_sound_features(tmp_path / "a.wav").level_db).all()


def test_floats_that_are_no_numbers_read_as_silence(tmp_path):
    wave = np.full(80_000, 0.1)
    wave[::7], wave[1::7], wave[2::7] = np.nan, np.inf, 1e300
    (tmp_path / "a.wav").write_bytes(wav(wave, 8000, bits=64, is_float=True))
    assert np.isfinite(read_sound_features(tmp_path / "a.wav").level_db).all()


def test_memory_does_not_grow_with_the_rate(tmp_path):
    """A minute of stereo at 96 kHz (23 MB) in less than it holds."""
    with (tmp_path / "a.wav").open("wb") as out:
        out.write(wav(np.zeros(1), 96_000, channels=2)[:40] + b"\xff\xff\xff\xff")
        for _ in range(60):
            out.write(np.zeros(2 * 96_000, "<i2").tobytes())
    before = f"""
from pathlib import Path
from counterpoise.spin.audio.sound_features import read_sound_features
path = Path({str(tmp_path / "a.wav")!r})
"""
    assert peak_bytes(before, "read_sound_features(path)") < 20e6
