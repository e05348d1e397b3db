"""What a sound says, in words and as JSON types."""

from typing import TypedDict

from counterpoise.spin.audio.sound import Sound
from counterpoise.spin.audio.tones import Tone
from counterpoise.spin.recording import NoteData, notes_data

FROM_THE_DRUM = (
    "The tones that follow the drum come whole times a turn: the drum and what touches it, "
    "not a bearing."
)
NONE = (
    "No tone follows the drum clearly. That clears no bearing: a microphone hears deep tones badly."
)
# A tone is an overtone if its order is a whole multiple within this share: the reading of an order
# errs by up to 0.2 % (measured), twice that for two of them.
OVERTONE_WITHIN = 0.004


class ToneData(TypedDict):
    """A tone that follows the drum: times a turn, dB over its surroundings."""

    order: float
    over_db: float
    whole: bool | None
    in_beat: bool


class LoudnessData(TypedDict):
    """A speed held in rpm, and how loud it was in dB above the quiet."""

    rpm: float
    over_quiet_db: float


# Names are those of the JSON: programs outside read them.
class SoundData(TypedDict):
    """A sound as JSON: times in s, levels in dB of full scale, orders in times a turn."""

    sentence: str
    cannot_tell: str
    lined_up: str
    start_s: float | None
    duration_s: float
    rate_hz: int
    level: list[list[float]]
    loudness: list[LoudnessData]
    tones: list[ToneData]
    standing_hz: list[float]
    notes: list[NoteData]


def sentence(sound: Sound) -> str:
    """What the sound says, in one sentence or two."""
    if sound.cannot_tell:
        return f"The sound cannot tell: {sound.cannot_tell[0].lower()}{sound.cannot_tell[1:]}"
    if not sound.tones:
        return NONE
    # Overtones are left out: one knock with many harmonics is one finding.
    odd = [tone for tone in sound.tones if tone.whole is False and not _overtone(tone, sound.tones)]
    if not odd:
        return FROM_THE_DRUM
    listed = ", ".join(f"{tone.order:.2f}" for tone in odd[:3])
    return (
        f"Tones follow the drum {listed} times a turn: no whole numbers, so belt, motor or bearing."
        " Compare them with the tones of this machine's bearing."
    )


def _overtone(tone: Tone, others: tuple[Tone, ...]) -> bool:
    """Whether it is two or more times another that was heard."""
    times = [tone.order / other.order for other in others]
    return any(each > 1.5 and abs(each - round(each)) < OVERTONE_WITHIN * each for each in times)


def sound_data(sound: Sound) -> SoundData:
    """Everything a caller may want, as JSON types; times in s, levels in dB, orders a turn."""
    return {
        "sentence": sentence(sound),
        "cannot_tell": sound.cannot_tell,
        "lined_up": sound.lined_up,
        "start_s": None if sound.start_s is None else round(sound.start_s, 2),
        "duration_s": round(sound.features.duration_s, 2),
        "rate_hz": sound.features.sampled_hz,
        "level": [[round(float(t), 2), round(float(db), 1)] for t, db in sound.level],
        "loudness": [
            {"rpm": hold.rpm, "over_quiet_db": hold.over_quiet_db} for hold in sound.loudness
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
        "notes": notes_data(sound.notes),
    }
