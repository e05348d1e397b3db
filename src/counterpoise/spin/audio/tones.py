"""Tones that follow the drum, and tones that stand still.

The sound is laid over the angle of the drum instead of time, so that a tone that follows it keeps its place (its order:
how often a turn) however the speed changes, and any other tone wanders. Only what keeps its place at several speeds
counts.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from counterpoise.spin.recording import Floats

LEAST_HZ = 400 / 60  # below that a turn is too long for a tone
PER_TURN = 640
TURNS = 32
LEAST_ORDER, MOST_ORDER = 0.4, 40.0
SPEED_STEP = 1.08
LEAST_SPEEDS, LEAST_BLOCKS = 4, 12
CLEAR_DB = 7.0
NEAR = 1.5  # orders to each side that make up the surroundings
STANDING_DB = 10.0
_BELL = np.hanning(TURNS * PER_TURN)
_NOISE = float(np.log(2))  # median over mean of the power of noise


@dataclass(frozen=True)
class Tone:
    """A tone so many times a turn: how far it stands out (dB), and whether it was heard in the beat of high tones."""

    order: float
    over_db: float
    in_beat: bool

    @property
    def whole(self) -> bool | None:
        """Whether it is a whole number a turn; None above order 15, where the speed is not known well enough to say."""
        if self.order > 15:
            return None
        return abs(self.order - round(self.order)) <= max(0.03, 0.003 * self.order)


@dataclass(frozen=True)
class Turning:
    """Drum speed (n,) in Hz at times (n,) on the clock of the sound; NaN where it is not known."""

    t_s: Floats
    f_hz: Floats


def following(
    wave: Floats, rate_hz: float, turning: Turning, *, in_beat: bool
) -> tuple[Tone, ...] | None:
    """Tones that keep their place, clearest first; None where too few speeds were heard to tell."""
    spectra, speeds = order_spectra(wave, rate_hz, turning)
    table = by_speed(spectra, speeds)
    if table is None:
        return None
    over_db = 10 * np.log10(np.median(table, axis=0) * _NOISE + 1e-12)
    seen = np.mean(table * _NOISE > 2.0, axis=0) >= 0.6
    found = [
        Tone(at / TURNS, over, in_beat)
        for at, over in _peaks(over_db, _clear(over_db))
        if seen[round(at)]
    ]
    inside = (tone for tone in found if LEAST_ORDER <= tone.order <= MOST_ORDER)
    return tuple(sorted(inside, key=lambda tone: -tone.over_db))


def _clear(over_db: Floats) -> float:
    """What stands out clearly from the scatter of this very spectrum."""
    middle = float(np.median(over_db))
    return max(CLEAR_DB, middle + 7 * float(np.median(np.abs(over_db - middle))))


def order_spectra(wave: Floats, rate_hz: float, turning: Turning) -> tuple[Floats, Floats]:
    """Power over its surroundings by order, one row for each 32 turns, and the drum speed (Hz) of each row."""
    rows, speeds = [], []
    for angle, t_s in _stretches(turning, len(wave) / rate_hz):
        even = np.arange(0, angle[-1], 1 / PER_TURN)
        at = np.interp(even, angle, t_s)
        felt = np.interp(at * rate_hz, np.arange(len(wave)), wave)
        size = TURNS * PER_TURN
        for start in range(0, len(felt) - size + 1, size // 2):
            rows.append(_whitened(felt[start : start + size]))
            speeds.append(TURNS / (at[start + size - 1] - at[start]))
    return np.array(rows).reshape(len(rows), -1), np.array(speeds)


def _stretches(turning: Turning, until_s: float) -> list[tuple[Floats, Floats]]:
    """Angle in turns against time, for each stretch without a gap in which the drum is fast enough."""
    inside = (
        (turning.t_s >= 0) & (turning.t_s <= until_s) & (np.nan_to_num(turning.f_hz) >= LEAST_HZ)
    )
    out = []
    for run in np.split(np.arange(len(inside)), np.flatnonzero(np.diff(inside.astype(int))) + 1):
        if len(run) < 2 or not inside[run[0]]:
            continue
        t_s, f_hz = turning.t_s[run], turning.f_hz[run]
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
    around = ndimage.median_filter(power, width, mode="nearest")
    share: Floats = power / np.maximum(around, 1e-30)
    return share


def by_speed(spectra: Floats, speeds: Floats) -> Floats | None:
    """The mean at each speed heard, rows of speeds 8 % apart; None where they are too few to tell tones apart."""
    if len(spectra) < LEAST_BLOCKS:
        return None
    slot = np.round(np.log(speeds) / np.log(SPEED_STEP)).astype(int)
    table = np.array([spectra[slot == each].mean(axis=0) for each in np.unique(slot)])
    return table if len(table) >= LEAST_SPEEDS else None


def _peaks(over_db: Floats, least_db: float) -> list[tuple[float, float]]:
    """Places (in bins, between them by a parabola) and heights of what stands out."""
    out = []
    for at in range(1, len(over_db) - 1):
        left, top, right = over_db[at - 1 : at + 2]
        if top < least_db or top < left or top <= right:
            continue
        bend = left - 2 * top + right
        shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
        out.append((at + float(np.clip(shift, -0.5, 0.5)), float(top)))
    return [
        one for one in out if one[1] >= max(other[1] for other in out if abs(other[0] - one[0]) < 3)
    ]


def standing(wave: Floats, rate_hz: float) -> tuple[float, ...]:
    """Frequencies (Hz) of tones that are there most of the time at one and the same pitch."""
    size = int(2 * rate_hz)
    starts = range(0, len(wave) - size + 1, size)
    if len(starts) < 5:
        return ()
    around, bell = int(60 * size / rate_hz) | 1, np.hanning(size)
    powers = [np.abs(np.fft.rfft(wave[at : at + size] * bell)) ** 2 for at in starts]
    rows = [_over_surroundings(power, around) for power in powers]
    over_db = 10 * np.log10(np.quantile(np.array(rows), 0.3, axis=0) * _NOISE + 1e-12)
    audible = int(0.4 * rate_hz * size / rate_hz)
    return tuple(round(at * rate_hz / size, 1) for at, _ in _peaks(over_db[:audible], STANDING_DB))
