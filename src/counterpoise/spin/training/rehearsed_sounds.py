"""Rehearsed sounds of spins: in order, with a worn bearing, with a loose weight, in a loud room.

All ranges are estimates from memory but for the orders of a bearing, which are those of its
geometry (``bearing_orders``), less the slip of its balls. What leads astray is drawn into every
sound: motor and its whine, belt, pump, laundry that thuds once a turn, talk in the room, a phone
that makes soft sounds louder by itself.
"""

import io
import wave
from dataclasses import dataclass

import numpy as np
from scipy import signal

from counterpoise.spin.audio.tones import DrumSpeed
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.field_conditions import field_profile

RATE_HZ = 16_000
IN_ORDER, BEARING, WEIGHT = "in order", "bearing_worn", "counterweight_loose"
# Two sounds in order for each of the others.
STATES = (IN_ORDER, BEARING, IN_ORDER, WEIGHT)


@dataclass(frozen=True)
class RehearsedSound:
    """A WAV file, the drum's speed on its clock as a reader would have it, and what is wrong."""

    state: str
    wav: bytes
    drum: DrumSpeed


@dataclass(frozen=True)
class Taste:
    """How sounds are drawn: spread of levels (natural log), and how loud the room may be."""

    faint: float = 0.08
    loud: float = 2.5
    room: float = 1.0


LEARNED, JUDGED = Taste(), Taste(0.05, 2.0, 1.6)


def bearing_orders(balls: int, ratio: float) -> tuple[float, float, float]:
    """Times a turn that balls pass a pit of the outer and the inner ring, and turns of the cage.

    ``ratio``: diameter of the balls over the pitch circle (contact angle nought).
    """
    return balls / 2 * (1 - ratio), balls / 2 * (1 + ratio), (1 - ratio) / 2


def rehearsed_sound(number: int, seed: int, taste: Taste = LEARNED) -> RehearsedSound:
    """Draw sound ``number``; ``taste`` LEARNED or JUDGED, which never share a draw."""
    rng = np.random.default_rng([seed, 616, number, round(100 * taste.room)])
    state = STATES[number % len(STATES)]
    profile = field_profile(rng, float(rng.uniform(750, 1550)))
    at, rpm = np.array(profile.points).T
    t = np.arange(0, at[-1], 1 / RATE_HZ)
    f = np.interp(t, at, rpm) / 60
    turn = np.cumsum(f) / RATE_HZ
    size = f / (1000 / 60)
    out = _machine(t, turn, size, rng) + taste.room * _room(t, rng)
    level = float(np.exp(rng.uniform(np.log(taste.faint), np.log(taste.loud))))
    if state == BEARING:
        out += level * _balls(turn, size, rng)
    if state == WEIGHT:
        out += level * _blows(turn, size, rng)
    return RehearsedSound(state, _as_phone(out, rng), _as_read(t, f, rng))


def _level(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _machine(t: Floats, turn: Floats, size: Floats, rng: np.random.Generator) -> Floats:
    """Noise that grows with speed, motor, whine, belt, pump, thuds: (n,), about 0.1 at 1,000."""
    power = rng.uniform(1, 2.5)
    hiss = rng.normal(0, 1, len(t)).astype(np.float64)
    dull = signal.lfilter([0.15], [1, -0.85], hiss)
    out = 0.05 * (size**power + 0.05 * (size > 0)) * (rng.uniform(0.2, 1) * hiss + 3 * dull)
    motor = float(rng.choice([rng.uniform(8, 14), 6.0, 12.0, 24.0]))
    tone = _level(rng, 0.005, 0.1) * size
    out += tone * (np.sin(2 * np.pi * motor * turn) + 0.4 * np.sin(4 * np.pi * motor * turn))
    # The electronics whine high, and their loudness ripples with the motor.
    ripple = 1 + rng.uniform(0, 0.6) * np.sin(2 * np.pi * motor * turn)
    whine = _level(rng, 0.001, 0.03) * (size > 0)
    out += whine * ripple * np.sin(2 * np.pi * rng.uniform(3000, 7500) * t)
    if rng.random() < 0.4:
        out += _level(rng, 0.003, 0.05) * size * np.sin(2 * np.pi * rng.uniform(0.4, 3.2) * turn)
    mains = float(rng.choice([50.0, 60.0]))
    hum = _level(rng, 0.002, 0.08) * (np.sin(2 * np.pi * t * rng.uniform(0.02, 0.1)) > 0)
    out += hum * (np.sin(4 * np.pi * mains * t) + 0.3 * np.sin(8 * np.pi * mains * t))
    # Laundry, hoses, a tub that thuds: once a turn in any machine, dull.
    out += _level(rng, 0.01, 0.4) * _blows(turn, size, rng, dull=True)
    return np.asarray(out, dtype=np.float64)


def _knocks(turn: Floats, order: float, jitter: float, rng: np.random.Generator) -> np.ndarray:
    """Samples at which ``order`` knocks a turn fall, off by ``jitter`` of the way to the next."""
    count = int(turn[-1] * order)
    where = (np.arange(count) + rng.uniform() + jitter * rng.normal(0, 1, count)) / order
    return np.asarray(np.searchsorted(turn, where[(where > 0) & (where < turn[-1])]))


def _rung(at: np.ndarray, force: Floats, count: int, f_hz: float, decay_s: float) -> Floats:
    """Knocks at samples ``at`` of ``force`` (both (k,)) that ring at ``f_hz``; (count,)."""
    train = np.bincount(at[at < count], force[at < count], count)
    tail = np.arange(int(6 * decay_s * RATE_HZ)) / RATE_HZ
    ring = np.exp(-tail / decay_s) * np.sin(2 * np.pi * f_hz * tail)
    return np.asarray(signal.fftconvolve(train, ring)[:count], dtype=np.float64)


def _balls(turn: Floats, size: Floats, rng: np.random.Generator) -> Floats:
    """Balls over a pit of the outer or the inner ring, in and out of the load once a turn."""
    outer, inner, _ = bearing_orders(int(rng.integers(7, 12)), float(rng.uniform(0.18, 0.3)))
    of_inner = rng.random() < 0.5
    order = (inner if of_inner else outer) * (1 - rng.uniform(0, 0.02))
    at = _knocks(turn, order, 0.015, rng)
    at = at[at < len(turn)]
    force = size[at] ** rng.uniform(1, 2) * rng.uniform(0.6, 1.4, len(at))
    if of_inner:
        force *= 1 + 0.8 * np.cos(2 * np.pi * turn[at])
    return 0.3 * _rung(at, force, len(turn), rng.uniform(1500, 6000), rng.uniform(4e-4, 2e-3))


def _blows(turn: Floats, size: Floats, rng: np.random.Generator, *, dull: bool = False) -> Floats:
    """A loose weight strikes once a turn, now and then not, now and then twice."""
    at = _knocks(turn, 1.0, 0.02, rng)
    at = at[at < len(turn)]
    at = at[rng.random(len(at)) > (0.5 if dull else 0.15)]
    force = size[at] ** rng.uniform(1, 2) * rng.lognormal(0, 0.8 if dull else 0.3, len(at))
    high = rng.uniform(60, 400) if dull else rng.uniform(500, 2500)
    return 0.4 * _rung(at, force, len(turn), high, rng.uniform(3e-3, 1.5e-2))


def _room(t: Floats, rng: np.random.Generator) -> Floats:
    """Talk, a radio, a street: (n,)."""
    hiss = rng.normal(0, 1, len(t))
    band = signal.butter(2, [300, 3000], "bandpass", fs=RATE_HZ, output="sos")
    words = np.asarray(signal.sosfilt(band, hiss))
    on = np.repeat(rng.random(int(t[-1]) + 2) < rng.uniform(0, 0.5), RATE_HZ)[: len(t)]
    beat = np.maximum(0, np.sin(2 * np.pi * rng.uniform(2, 6) * t + rng.uniform(0, 6)))
    hum = _level(rng, 1e-4, 0.01) * np.sin(2 * np.pi * rng.uniform(80, 1500) * t)
    loud = _level(rng, 0.002, 0.08)
    return np.asarray(loud * words * on * beat + 0.002 * hiss + hum, dtype=np.float64)


def _as_phone(out: Floats, rng: np.random.Generator) -> bytes:
    """What a phone makes of it: deep tones cut, soft parts louder, sixteen bits; a WAV file."""
    deep = signal.butter(1, rng.uniform(60, 300), "highpass", fs=RATE_HZ, output="sos")
    heard = np.asarray(signal.sosfilt(deep, out))
    slow = signal.butter(1, rng.uniform(0.2, 1.5), fs=RATE_HZ, output="sos")
    loud = np.sqrt(np.maximum(signal.sosfilt(slow, heard**2), 1e-8))
    heard = heard / loud ** rng.uniform(0, 0.8)
    heard *= rng.uniform(0.1, 1.1) / np.quantile(np.abs(heard), 0.9995)
    samples = np.round(32767 * np.clip(heard, -1, 1)).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as stream:
        stream.setnchannels(1)
        stream.setsampwidth(2)
        stream.setframerate(RATE_HZ)
        stream.writeframes(samples.tobytes())
    return file.getvalue()


def _as_read(t: Floats, f_hz: Floats, rng: np.random.Generator) -> DrumSpeed:
    """The speed as the shake tells it: every quarter second, a little off and a little late."""
    at = np.arange(1.0, t[-1] - 1.0, 0.25)
    speed = np.interp(at + rng.normal(0, 0.05), t, f_hz)
    speed = speed * (1 + 0.002 * np.sin(at / rng.uniform(5, 20)) * rng.normal())
    return DrumSpeed(at, np.where(speed > 0.9, speed, np.nan))
