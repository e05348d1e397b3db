"""Tones that follow the drum, and tones that keep their pitch.

The sound is laid over the angle of the drum instead of time, so that a tone that follows it keeps
its place (its order: how often a turn) however the speed changes, and any other tone wanders. Only
what keeps its place at several speeds counts.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from counterpoise.spin.recording import Floats

LEAST_HZ = 400 / 60  # below that a turn is too long for a tone
# Points a turn: 16 for each period of the highest order, enough for straight lines between
# samples (estimate).
PER_TURN = 640
# Turns a block: orders are told apart by 1/32, and 32 turns pass in 2 s at 1000 rpm.
TURNS = 32
# Bearings, belts and motors of washing machines come below order 40 (estimate).
LEAST_ORDER, MOST_ORDER = 0.4, 40.0
# A hum at one pitch lies at another order a step further on.
SPEED_STEP = 1.08
# With fewer speeds a hum can pass for a tone that follows (estimate).
LEAST_SPEEDS, LEAST_BLOCKS = 4, 12
# Estimates; none of 24 made-up sounds without a tone passed them (docs/spin.md).
CLEAR_DB = 7.0
NEAR = 1.5  # orders to each side that make up the surroundings
STANDING_DB = 10.0
_BELL = np.hanning(TURNS * PER_TURN)
_NOISE = float(np.log(2))  # median over mean of the power of noise


@dataclass(frozen=True)
class Tone:
    """A tone ``order`` times a turn, by how many dB it stands out, and whether in the beat."""

    order: float
    over_db: float
    in_beat: bool

    @property
    def whole(self) -> bool | None:
        """Whether it is a whole number a turn; None above order 15, where that cannot be said."""
        if self.order > 15:
            return None
        return abs(self.order - round(self.order)) <= max(0.03, 0.003 * self.order)


@dataclass(frozen=True)
class DrumSpeed:
    """Drum speed (n,) in Hz at times (n,) on the clock of the sound; NaN where it is not known."""

    t_s: Floats
    f_hz: Floats


def order_tones(
    wave: Floats, rate_hz: float, drum: DrumSpeed, *, in_beat: bool
) -> tuple[Tone, ...] | None:
    """Tones that keep their place a turn, clearest first; ``wave`` (n,) is sampled at ``rate_hz``.

    None where too few speeds were heard to tell.
    """
    spectra, speeds = order_spectra(wave, rate_hz, drum)
    table = by_speed(spectra, speeds)
    if table is None:
        return None
    over_db = 10 * np.log10(np.median(table, axis=0) * _NOISE + 1e-12)
    # Loud at one speed is no tone that follows: it must stand out at six speeds in ten.
    lasting = np.mean(table * _NOISE > 2.0, axis=0) >= 0.6
    tones = [
        Tone(at / TURNS, over, in_beat)
        for at, over in _peaks(over_db, _clear(over_db))
        if lasting[round(at)]
    ]
    inside = (tone for tone in tones if LEAST_ORDER <= tone.order <= MOST_ORDER)
    return tuple(sorted(inside, key=lambda tone: -tone.over_db))


def _clear(over_db: Floats) -> float:
    """Level in dB that stands out clearly from the scatter of this very spectrum."""
    middle = float(np.median(over_db))
    return max(CLEAR_DB, middle + 7 * float(np.median(np.abs(over_db - middle))))


def order_spectra(wave: Floats, rate_hz: float, drum: DrumSpeed) -> tuple[Floats, Floats]:
    """Power over its surroundings (blocks, bins) for each 32 turns, and drum speed (blocks,) in Hz.

    A ratio of powers, not dB. Both are empty where the drum was never fast enough for long enough.
    """
    rows, speeds = [], []
    for angle, t_s in _stretches(drum, len(wave) / rate_hz):
        even = np.arange(0, angle[-1], 1 / PER_TURN)
        at = np.interp(even, angle, t_s)
        felt = np.interp(at * rate_hz, np.arange(len(wave)), wave)
        size = TURNS * PER_TURN
        for start in range(0, len(felt) - size + 1, size // 2):
            rows.append(_whitened(felt[start : start + size]))
            speeds.append(TURNS / (at[start + size - 1] - at[start]))
    return np.array(rows).reshape(len(rows), -1), np.array(speeds)


def _stretches(drum: DrumSpeed, until_s: float) -> list[tuple[Floats, Floats]]:
    """Angle in turns and time in s, for each stretch without a gap of a drum fast enough."""
    inside = (drum.t_s >= 0) & (drum.t_s <= until_s) & (np.nan_to_num(drum.f_hz) >= LEAST_HZ)
    out = []
    for run in np.split(np.arange(len(inside)), np.flatnonzero(np.diff(inside.astype(int))) + 1):
        # Only the stretches inside, and not the gaps between them.
        if len(run) < 2 or not inside[run[0]]:
            continue
        t_s, f_hz = drum.t_s[run], drum.f_hz[run]
        angle = np.concatenate([[0.0], np.cumsum(0.5 * (f_hz[1:] + f_hz[:-1]) * np.diff(t_s))])
        fine = np.arange(t_s[0], t_s[-1], 0.01)
        out.append((_smooth_angle(fine, t_s, f_hz, angle), fine))
    return [(angle, t_s) for angle, t_s in out if len(angle) and angle[-1] > TURNS]


def _smooth_angle(fine: Floats, t_s: Floats, f_hz: Floats, angle: Floats) -> Floats:
    """Between two known speeds the speed changes evenly, so the angle bends."""
    at = np.clip(np.searchsorted(t_s, fine, side="right") - 1, 0, len(t_s) - 2)
    since, slope = fine - t_s[at], np.diff(f_hz)[at] / np.diff(t_s)[at]
    bent: Floats = angle[at] + f_hz[at] * since + 0.5 * slope * since**2
    return bent


def _whitened(turns: Floats) -> Floats:
    power = np.abs(np.fft.rfft((turns - turns.mean()) * _BELL)) ** 2
    return _over_surroundings(power[: int((MOST_ORDER + NEAR) * TURNS)], int(2 * NEAR * TURNS) + 1)


def _over_surroundings(power: Floats, width: int) -> Floats:
    # A median, so that tones do not raise the surroundings they are measured against.
    around = ndimage.median_filter(power, width, mode="nearest")
    share: Floats = power / np.maximum(around, 1e-30)
    return share


def by_speed(spectra: Floats, speeds: Floats) -> Floats | None:
    """Mean spectrum at each speed heard (speeds, bins), speeds 8 % apart.

    None where they are too few to tell tones apart.
    """
    if len(spectra) < LEAST_BLOCKS:
        return None
    slot = np.round(np.log(speeds) / np.log(SPEED_STEP)).astype(int)
    table = np.array([spectra[slot == each].mean(axis=0) for each in np.unique(slot)])
    return table if len(table) >= LEAST_SPEEDS else None


def _peaks(over_db: Floats, least_db: float) -> list[tuple[float, float]]:
    """Places in bins, between them by a parabola, and heights in dB of what stands out."""
    out = []
    for at in range(1, len(over_db) - 1):
        left, top, right = over_db[at - 1 : at + 2]
        if top < least_db or top < left or top <= right:
            continue
        bend = left - 2 * top + right
        shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
        out.append((at + float(np.clip(shift, -0.5, 0.5)), float(top)))
    # Of peaks less than three bins apart the Hann window made one tone.
    return [
        peak
        for peak in out
        if peak[1] >= max(other[1] for other in out if abs(other[0] - peak[0]) < 3)
    ]


def constant_tones(wave: Floats, rate_hz: float) -> tuple[float, ...]:
    """Frequencies in Hz of tones that are there most of the time at one and the same pitch.

    Empty for less than 10 s of sound.
    """
    size = int(2 * rate_hz)
    starts = range(0, len(wave) - size + 1, size)
    if len(starts) < 5:
        return ()
    # An odd number of bins, 60 Hz wide.
    around, bell = int(60 * size / rate_hz) | 1, np.hanning(size)
    powers = [np.abs(np.fft.rfft(wave[at : at + size] * bell)) ** 2 for at in starts]
    rows = [_over_surroundings(power, around) for power in powers]
    over_db = 10 * np.log10(np.quantile(np.array(rows), 0.3, axis=0) * _NOISE + 1e-12)
    # Above 0.4 of the rate the low-pass has taken the sound away.
    audible = int(0.4 * rate_hz * size / rate_hz)
    return tuple(round(at * rate_hz / size, 1) for at, _ in _peaks(over_db[:audible], STANDING_DB))
