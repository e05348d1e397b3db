"""When a sound begins on the clock of a recording: two phones, two clocks, one machine."""

import numpy as np

from counterpoise.spin.audio.sound_features import FAINTEST, STEP_S, SoundFeatures
from counterpoise.spin.audio.tones import DrumSpeed, order_tones
from counterpoise.spin.reading import Reading
from counterpoise.spin.recording import Floats

# Words that go into JSON and pages.
LINED_UP_BY_USER, LINED_UP_BY_LEVEL = "told", "found"
OVERLAP_S = 20.0
# Least correlation of the two levels (estimate).
AGREES = 0.75
# How far to each side in s, in which steps: the level comes in steps of half a second, the tones
# get clearer down to a twentieth.
REFINE_S = ((1.5, 0.25), (0.2, 0.05))
MOST_TONES = 8
# Well below any phone's noise: keeps the logarithm finite.
FAINTEST_MS2 = 1e-3


def aligned_start(features: SoundFeatures, reading: Reading) -> float | None:
    """When the sound begins on the recording's clock, in s, by its level rising with the shake.

    None where no place fits clearly.
    """
    shake_at, shake = _shake_level(reading)
    if len(shake) < OVERLAP_S / STEP_S:
        return None
    best, lag = max(_best_lag(shake, features.level_db), _best_lag(shake, _high_level(features)))
    if best < AGREES:
        return None
    return _refined(features, reading, float(shake_at[0]) + lag * STEP_S - 0.5 * STEP_S)


def _best_lag(shake: Floats, level: Floats) -> tuple[float, int]:
    """Best correlation of two levels, and the step of the shake at which the sound then begins."""
    fits = [(-1.0, 0)]
    least = int(max(OVERLAP_S / STEP_S, 0.5 * min(len(level), len(shake))))
    for lag in range(least - len(level), len(shake) - least + 1):
        ours = shake[max(lag, 0) : lag + len(level)]
        theirs = level[max(-lag, 0) : max(-lag, 0) + len(ours)]
        fits.append((_correlation(ours, theirs), lag))
    return max(fits)


def _high_level(features: SoundFeatures) -> Floats:
    """Level of what is high in the sound, in dB: a steady hum does not cover it."""
    step = int(STEP_S * features.rate_hz)
    whole = len(features.beat) // step
    mean = np.abs(features.beat[: whole * step]).reshape(whole, step).mean(axis=1)
    level: Floats = 20 * np.log10(np.maximum(mean, FAINTEST))
    return level


def _shake_level(reading: Reading) -> tuple[Floats, Floats]:
    """Times in s on even steps, and the level of the shake there in dB over 1 m/s2."""
    t_s = reading.orders.t_s
    if len(t_s) < 2:
        return np.zeros(0), np.zeros(0)
    rms = np.sqrt(np.sum(reading.orders.rms_ms2**2, axis=0))
    at = np.arange(t_s[0], t_s[-1], STEP_S)
    return at, 20 * np.log10(np.maximum(np.interp(at, t_s, rms), FAINTEST_MS2))


def _correlation(a: Floats, b: Floats) -> float:
    """Correlation, 0 where one of them does not move."""
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt(np.sum(a**2) * np.sum(b**2)))
    return float(np.sum(a * b)) / size if size > 1e-9 else 0.0


def _refined(features: SoundFeatures, reading: Reading, start_s: float) -> float:
    """Shift to where the tones that follow the drum are clearest; stay if there are none."""
    for wave in (features.low, features.beat):
        best = start_s
        for far, step in REFINE_S:
            shifts = best + np.arange(-far, far + 1e-9, step)
            clear = [
                _clearness(wave, features.rate_hz, _drum_from(reading, float(shift)))
                for shift in shifts
            ]
            if not max(clear) > 0:
                break
            best = float(shifts[int(np.argmax(clear))])
        else:
            return best
    return start_s


def _drum_from(reading: Reading, start_s: float) -> DrumSpeed:
    return DrumSpeed(reading.track.t_s - start_s, reading.track.f_hz)


def _clearness(wave: Floats, rate_hz: float, drum: DrumSpeed) -> float:
    """Sum in dB by which the clearest tones stand out; 0 where none does."""
    tones = order_tones(wave, rate_hz, drum, in_beat=False) or ()
    return sum(tone.over_db for tone in tones[:MOST_TONES])
