"""Sound reduced to what a spin needs, as it streams by: level, low tones, beat of the high ones."""

from dataclasses import dataclass

import numpy as np
from scipy import signal

from counterpoise.spin.audio.wave import wave_blocks, wave_format
from counterpoise.spin.files.byte_stream import Source, opened
from counterpoise.spin.recording import Floats, Note

STEP_S = 0.5
# About this rate is kept: order 40 of the drum at 1600 rpm is 1070 Hz.
LOW_RATE_HZ = 4000
# Where a damaged rolling bearing rings, and a phone's microphone hears well (common practice).
BEAT_FROM_HZ, BEAT_TO_HZ = 1000.0, 8000.0
FAINTEST = 1e-6  # -120 dB: below the noise of any microphone
CLIP_AT = 0.999
# Share of clipped samples worth a remark, and level in dB below which there is nothing to hear.
CLIPPED_SHARE = 1e-4
SILENT_DB = -70
# The microphones of phones cut off below about 20 Hz; what is there is wind and handling.
HEARD_FROM_HZ = 20.0


@dataclass(frozen=True)
class SoundFeatures:
    """A sound: level (n,) in dB of full scale, one each 0.5 s; two waves at ``rate_hz``.

    ``low`` is the sound itself below 0.4 of that rate, ``beat`` how loud its part from 1 to 8 kHz
    is from moment to moment: a damaged bearing rings high at each knock, and the knocks come at the
    rate that tells. ``sampled_hz`` is the rate of the file.
    """

    level_db: Floats
    low: Floats
    beat: Floats
    rate_hz: float
    sampled_hz: int
    duration_s: float
    notes: tuple[Note, ...]


class _Filter:
    """A filter that goes on where the last block ended."""

    def __init__(self, sos: Floats) -> None:
        self.sos = sos
        self.state = np.zeros((len(sos), 2))

    def __call__(self, block: Floats) -> Floats:
        out, self.state = signal.sosfilt(self.sos, block, zi=self.state)
        passed: Floats = out
        return passed


class _Decimated:
    """Every n-th sample of what a low-pass leaves."""

    def __init__(self, every: int, edge_hz: float, rate_hz: float) -> None:
        self.every, self.at = every, 0
        self.smooth = _Filter(signal.butter(8, edge_hz, fs=rate_hz, output="sos"))
        self.kept: list[Floats] = []

    def __call__(self, block: Floats) -> None:
        out = self.smooth(block)
        self.kept.append(out[self.at :: self.every].astype(np.float32))
        # Where the next kept sample lies in the next block.
        self.at = (self.at - len(block)) % self.every

    def whole(self) -> Floats:
        return np.concatenate(self.kept).astype(np.float64)


def read_sound_features(source: Source, name: str = "") -> SoundFeatures:
    """Read a WAV file once, from a path or a seekable stream called ``name``.

    Raises RecordingError.
    """
    with opened(source, name) as file:
        form = wave_format(file)
        rate = float(form.rate_hz)
        every = max(1, form.rate_hz // LOW_RATE_HZ)
        rumble = _Filter(signal.butter(2, HEARD_FROM_HZ, "highpass", fs=rate, output="sos"))
        band = [BEAT_FROM_HZ, min(BEAT_TO_HZ, 0.45 * rate)]
        ringing = _Filter(signal.butter(4, band, "bandpass", fs=rate, output="sos"))
        # The beat needs half the band of the low tones: knocks come at most 20 times a turn.
        low = _Decimated(every, 0.4 * rate / every, rate)
        beat = _Decimated(every, 0.2 * rate / every, rate)
        meter = _Meter(round(STEP_S * rate))
        for block in wave_blocks(file, form):
            audible = rumble(block)
            meter(audible, block)
            low(audible)
            beat(np.abs(ringing(block)))
    level = meter.level_db()
    notes = _notes(level, meter.clipped_share)
    return SoundFeatures(
        level, low.whole(), beat.whole(), rate / every, form.rate_hz, form.duration_s, notes
    )


class _Meter:
    """Mean power of each step, and how often the sound hit its end."""

    def __init__(self, step: int) -> None:
        self.step, self.powers, self.rest = step, list[Floats](), np.zeros(0)
        self.clipped = self.count = 0

    def __call__(self, audible: Floats, raw: Floats) -> None:
        self.clipped += int(np.sum(np.abs(raw) >= CLIP_AT))
        self.count += len(raw)
        squares = np.concatenate([self.rest, audible**2])
        whole = len(squares) // self.step
        self.powers.append(squares[: whole * self.step].reshape(whole, self.step).mean(axis=1))
        self.rest = squares[whole * self.step :]

    @property
    def clipped_share(self) -> float:
        return self.clipped / max(self.count, 1)

    def level_db(self) -> Floats:
        power = np.concatenate(self.powers)
        level: Floats = 10 * np.log10(np.maximum(power, FAINTEST**2))
        return level


def _notes(level_db: Floats, clipped: float) -> tuple[Note, ...]:
    notes = []
    if clipped > CLIPPED_SHARE:
        words = (
            f"{100 * clipped:.2g} % of the sound hit the end of its range; "
            "next time lay the phone further off."
        )
        notes.append(Note("sound_clipped", words))
    if float(np.max(level_db)) < SILENT_DB:
        notes.append(Note("sound_silent", "There is next to nothing to hear in the sound file."))
    return tuple(notes)
