"""The sound of a spin beside its recording: loudness by speed, tones that follow the drum.

It moves no chance of a cause: nothing was learned from sound. It gives tones to compare with those
of a bearing.
"""

from dataclasses import dataclass

import numpy as np

from counterpoise.spin.audio.alignment import LINED_UP_BY_LEVEL, LINED_UP_BY_USER, aligned_start
from counterpoise.spin.audio.sound_features import STEP_S, SoundFeatures, read_sound_features
from counterpoise.spin.audio.tones import DrumSpeed, Tone, constant_tones, order_tones
from counterpoise.spin.files.byte_stream import Source
from counterpoise.spin.reading import Reading
from counterpoise.spin.recording import Floats, Note

MOST_TONES = 8
# Two tones within a tenth of an order are the same one, heard low and in the beat.
SAME_ORDER_DIGITS = 1
APART = (
    "Sound and shake cannot be lined up, so which tones follow the drum is not known. "
    "Say when the sound begins on the clock of the recording."
)
TOO_FEW = (
    "The drum was heard at too few speeds above 400 rpm to tell tones that follow it from others."
)


@dataclass(frozen=True)
class Loudness:
    """How loud it was while the drum held a speed: dB above the quietest twentieth of the sound."""

    rpm: float
    over_quiet_db: float


@dataclass(frozen=True)
class Sound:
    """What a sound says; ``start_s`` is when it begins on the recording's clock, None if unknown.

    ``lined_up`` is ``told`` (by the user), ``found`` (by its level) or ``""``; ``level`` (n, 2) is
    time in s (on its own clock where not lined up) and dB of full scale; ``tones`` follow the drum,
    clearest first; ``cannot_tell`` says why there are none to trust, or is empty.
    """

    features: SoundFeatures
    start_s: float | None
    lined_up: str
    level: Floats
    loudness: tuple[Loudness, ...]
    tones: tuple[Tone, ...]
    standing_hz: tuple[float, ...]
    cannot_tell: str
    notes: tuple[Note, ...]


def read_sound(source: Source, name: str, reading: Reading, start_s: float | None = None) -> Sound:
    """Read a WAV from a path or a seekable stream, beside a reading.

    ``name`` stands in messages ("": the path's own); ``start_s`` is when the sound begins on the
    recording's clock, in s, None to find out. Raises RecordingError.
    """
    features = read_sound_features(source, name)
    lined_up = LINED_UP_BY_USER if start_s is not None else ""
    if start_s is None:
        start_s = aligned_start(features, reading)
        lined_up = "" if start_s is None else LINED_UP_BY_LEVEL
    tones, cannot_tell = _tones(features, reading, start_s)
    # The middle of each step; on its own clock where the two could not be lined up.
    at = STEP_S * (np.arange(len(features.level_db)) + 0.5) + (start_s or 0.0)
    level = np.column_stack([at, features.level_db])
    loudness = _loudness(level, reading) if lined_up else ()
    constant_hz = constant_tones(features.low, features.rate_hz)
    return Sound(
        features, start_s, lined_up, level, loudness, tones, constant_hz, cannot_tell,
        features.notes,
    )  # fmt: skip


def _tones(
    features: SoundFeatures, reading: Reading, start_s: float | None
) -> tuple[tuple[Tone, ...], str]:
    if start_s is None:
        return (), APART
    drum = DrumSpeed(reading.track.t_s - start_s, reading.track.f_hz)
    # Low tones as they are, high ones by how their loudness beats.
    low = order_tones(features.low, features.rate_hz, drum, in_beat=False)
    beat = order_tones(features.beat, features.rate_hz, drum, in_beat=True)
    if low is None or beat is None:
        return (), TOO_FEW
    known = {round(tone.order, SAME_ORDER_DIGITS) for tone in low}
    both = sorted(
        [*low, *(tone for tone in beat if round(tone.order, SAME_ORDER_DIGITS) not in known)],
        key=lambda tone: -tone.over_db,
    )
    return tuple(both[:MOST_TONES]), ""


def _loudness(level: Floats, reading: Reading) -> tuple[Loudness, ...]:
    # The quietest twentieth: before the start and after the stop.
    quiet = float(np.quantile(level[:, 1], 0.05))
    out = []
    for hold in reading.course.plateaus:
        here = (level[:, 0] >= hold.start_s) & (level[:, 0] <= hold.end_s)
        if here.sum() >= 2:
            # Powers add, decibels do not.
            mean = 10 * np.log10(np.mean(10 ** (level[here, 1] / 10)))
            out.append(Loudness(round(hold.rpm, 1), round(float(mean) - quiet, 1)))
    return tuple(out)
