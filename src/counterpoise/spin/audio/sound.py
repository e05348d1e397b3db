"""The sound of a spin beside its recording: how loud at which speed, and the tones that follow the drum.

It moves no chance of a cause: nothing was learned from sound. It gives tones to compare with those of a bearing.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from counterpoise.spin.audio.sound_features import FAINTEST, STEP_S, Heard, listen
from counterpoise.spin.audio.tones import Tone, Turning, following, standing
from counterpoise.spin.reading import Reading
from counterpoise.spin.recording import Floats, Note

OVERLAP_S = 20.0
AGREES = 0.75
REFINE_S = ((1.5, 0.25), (0.2, 0.05))  # how far to each side, in which steps
MOST_TONES = 8
APART = (
    "Sound and shake cannot be lined up, so which tones follow the drum is not known. Say when the sound begins on the"
    " clock of the recording."
)
TOO_FEW = (
    "The drum was heard at too few speeds above 400 rpm to tell tones that follow it from others."
)
FROM_THE_DRUM = "The tones that follow the drum come whole times a turn: the drum and what touches it, not a bearing."
NONE = (
    "No tone follows the drum clearly. That clears no bearing: a microphone hears deep tones badly."
)


@dataclass(frozen=True)
class Loudness:
    """How loud it was while the drum held a speed: dB above the quietest stretch."""

    rpm: float
    over_quiet_db: float


@dataclass(frozen=True)
class Sound:
    """What a sound says. ``start_s``: when it begins on the clock of the recording, None where that cannot be told.

    ``lined_up`` is ``told``, ``found`` or ``""``; ``level`` (n, 2) is time (own clock where not lined up) and dB of
    full scale; ``tones`` follow the drum, clearest first; ``cannot_tell`` says why there are none to trust, or is
    empty.
    """

    heard: Heard
    start_s: float | None
    lined_up: str
    level: Floats
    loudness: tuple[Loudness, ...]
    tones: tuple[Tone, ...]
    standing_hz: tuple[float, ...]
    cannot_tell: str
    notes: tuple[Note, ...]


def read_sound(path: Path, reading: Reading, start_s: float | None = None) -> Sound:
    """Read a WAV file beside a reading; ``start_s`` is when the sound begins on its clock. Raises RecordingError."""
    heard = listen(path)
    lined_up = "told" if start_s is not None else ""
    if start_s is None:
        start_s = _line_up(heard, reading)
        lined_up = "" if start_s is None else "found"
    tones, why = _tones(heard, reading, start_s)
    at = STEP_S * (np.arange(len(heard.level_db)) + 0.5) + (start_s or 0.0)
    level = np.column_stack([at, heard.level_db])
    return Sound(
        heard, start_s, lined_up, level, _loudness(level, reading) if lined_up else (), tones,
        standing(heard.low, heard.rate_hz), why, heard.notes,
    )  # fmt: skip


def _turning(reading: Reading, start_s: float) -> Turning:
    return Turning(reading.track.t_s - start_s, reading.track.f_hz)


def _tones(heard: Heard, reading: Reading, start_s: float | None) -> tuple[tuple[Tone, ...], str]:
    if start_s is None:
        return (), APART
    turning = _turning(reading, start_s)
    low = following(heard.low, heard.rate_hz, turning, in_beat=False)
    beat = following(heard.beat, heard.rate_hz, turning, in_beat=True)
    if low is None or beat is None:
        return (), TOO_FEW
    known = {round(tone.order, 1) for tone in low}
    both = sorted(
        [*low, *(tone for tone in beat if round(tone.order, 1) not in known)],
        key=lambda tone: -tone.over_db,
    )
    return tuple(both[:MOST_TONES]), ""


# --- lining up ---


def _line_up(heard: Heard, reading: Reading) -> float | None:
    """When the sound begins, by its level rising and falling with the shake; None where no place fits clearly."""
    shake_at, shake = _steps(reading)
    if len(shake) < OVERLAP_S / STEP_S:
        return None
    best, lag = max(_best_lag(shake, heard.level_db), _best_lag(shake, _high_level(heard)))
    if best < AGREES:
        return None
    return _refined(heard, reading, float(shake_at[0]) + lag * STEP_S - 0.5 * STEP_S)


def _best_lag(shake: Floats, level: Floats) -> tuple[float, int]:
    """How well the two agree where they agree best, and the step of the shake at which the sound then begins."""
    fits = [(-1.0, 0)]
    least = int(max(OVERLAP_S / STEP_S, 0.5 * min(len(level), len(shake))))
    for lag in range(least - len(level), len(shake) - least + 1):
        ours = shake[max(lag, 0) : lag + len(level)]
        theirs = level[max(-lag, 0) : max(-lag, 0) + len(ours)]
        fits.append((_alike(ours, theirs), lag))
    return max(fits)


def _high_level(heard: Heard) -> Floats:
    """Level of what is high in the sound, in dB: a steady hum does not cover it."""
    step = int(STEP_S * heard.rate_hz)
    whole = len(heard.beat) // step
    mean = np.abs(heard.beat[: whole * step]).reshape(whole, step).mean(axis=1)
    level: Floats = 20 * np.log10(np.maximum(mean, FAINTEST))
    return level


def _steps(reading: Reading) -> tuple[Floats, Floats]:
    """Level of the shake in dB on even steps."""
    t_s = reading.orders.t_s
    if len(t_s) < 2:
        return np.zeros(0), np.zeros(0)
    rms = np.sqrt(np.sum(reading.orders.rms_ms2**2, axis=0))
    at = np.arange(t_s[0], t_s[-1], STEP_S)
    return at, 20 * np.log10(np.maximum(np.interp(at, t_s, rms), 1e-3))


def _alike(one: Floats, other: Floats) -> float:
    """Correlation, 0 where one of them does not move."""
    one, other = one - one.mean(), other - other.mean()
    size = float(np.sqrt(np.sum(one**2) * np.sum(other**2)))
    return float(np.sum(one * other)) / size if size > 1e-9 else 0.0


def _refined(heard: Heard, reading: Reading, start_s: float) -> float:
    """Shift by a little where the tones that follow the drum get clearer; stay where there are none."""
    for wave in (heard.low, heard.beat):
        best = start_s
        for far, step in REFINE_S:
            shifts = best + np.arange(-far, far + 1e-9, step)
            clear = [
                _clearness(wave, heard.rate_hz, _turning(reading, float(shift))) for shift in shifts
            ]
            if not max(clear) > 0:
                break
            best = float(shifts[int(np.argmax(clear))])
        else:
            return best
    return start_s


def _clearness(wave: Floats, rate_hz: float, turning: Turning) -> float:
    found = following(wave, rate_hz, turning, in_beat=False) or ()
    return sum(tone.over_db for tone in found[:MOST_TONES])


# --- words and data ---


def _loudness(level: Floats, reading: Reading) -> tuple[Loudness, ...]:
    quiet = float(np.quantile(level[:, 1], 0.05))
    out = []
    for hold in reading.course.plateaus:
        here = (level[:, 0] >= hold.start_s) & (level[:, 0] <= hold.end_s)
        if here.sum() >= 2:
            mean = 10 * np.log10(np.mean(10 ** (level[here, 1] / 10)))
            out.append(Loudness(round(hold.rpm, 1), round(float(mean) - quiet, 1)))
    return tuple(out)


def sentence(sound: Sound) -> str:
    """What the sound says, in one sentence or two."""
    if sound.cannot_tell:
        return f"The sound cannot tell: {sound.cannot_tell[0].lower()}{sound.cannot_tell[1:]}"
    if not sound.tones:
        return NONE
    odd = [tone for tone in sound.tones if tone.whole is False and not _overtone(tone, sound.tones)]
    if not odd:
        return FROM_THE_DRUM
    listed = ", ".join(f"{tone.order:.2f}" for tone in odd[:3])
    return (
        f"Tones follow the drum {listed} times a turn: no whole numbers, so belt, motor or bearing. Compare them with"
        " the tones of this machine's bearing."
    )


def _overtone(tone: Tone, others: tuple[Tone, ...]) -> bool:
    """Whether it is two or more times another that was heard."""
    times = [tone.order / other.order for other in others]
    return any(each > 1.5 and abs(each - round(each)) < 0.004 * each for each in times)


def sound_data(sound: Sound) -> dict[str, Any]:
    """Everything a caller may want, as JSON types; times in s, levels in dB, orders in times a turn."""
    return {
        "sentence": sentence(sound),
        "cannot_tell": sound.cannot_tell,
        "lined_up": sound.lined_up,
        "start_s": None if sound.start_s is None else round(sound.start_s, 2),
        "duration_s": round(sound.heard.duration_s, 2),
        "rate_hz": sound.heard.sampled_hz,
        "level": [[round(float(t), 2), round(float(db), 1)] for t, db in sound.level],
        "loudness": [
            {"rpm": one.rpm, "over_quiet_db": one.over_quiet_db} for one in sound.loudness
        ],
        "tones": [
            {
                "order": round(t.order, 3),
                "over_db": round(t.over_db, 1),
                "whole": t.whole,
                "in_beat": t.in_beat,
            }
            for t in sound.tones
        ],
        "standing_hz": list(sound.standing_hz),
        "notes": [{"code": note.code, "text": note.text} for note in sound.notes],
    }
