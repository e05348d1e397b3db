"""The sound kept beside a recording, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.spin.audio.sound_data import SoundData, ToneData
from counterpoise.workshop.services.spin_readings import sound_of

if TYPE_CHECKING:
    from counterpoise.workshop.services.spin_evidence import SpinEvidence
    from counterpoise.workshop.services.workshop import Workshop

_MOST_LISTED = 6


@dataclass(frozen=True, slots=True)
class SoundAnswer:
    """A sound read: sentence, lines in words, and the numbers.

    ``tones`` are (times a turn, dB over the surroundings); ``level`` is (s, dB of full scale),
    every half second; ``start_s`` is when it begins on the recording's clock, None where it cannot
    be lined up.
    """

    name: str
    sentence: str
    # the reason; empty where it can tell
    cannot_tell: str
    # how it was laid beside the recording: as told, by its level, or not at all
    lined_up: str
    start_s: float | None
    lines: tuple[str, ...]
    tones: tuple[tuple[float, float], ...]
    standing_hz: tuple[float, ...]
    level: tuple[tuple[float, float], ...]


def sound_answer(workshop: Workshop, evidence: SpinEvidence) -> SoundAnswer | None:
    """What the sound kept beside a recording says; None where there is none.

    Raises NotFoundError, RecordingError.
    """
    # most recordings have no sound: a phone records either well
    metadata = workshop.recordings.metadata(evidence.recording)
    if not metadata.sound:
        return None
    name, wav = workshop.recordings.get(metadata.sound)
    _, recording = workshop.recordings.get(evidence.recording)
    data = sound_of(wav, recording, evidence.top_rpm, metadata.sound_start_s, evidence.reading.kind)
    say = workshop.family(evidence.job.intake.family).body.spoken
    return SoundAnswer(
        name=name,
        sentence=say(data["sentence"]),
        cannot_tell=say(data["cannot_tell"]),
        lined_up=data["lined_up"],
        start_s=data["start_s"],
        lines=tuple(map(say, sound_lines(data, evidence.reading.course.top_rpm))),
        tones=tuple((tone["order"], tone["over_db"]) for tone in data["tones"]),
        standing_hz=tuple(data["standing_hz"]),
        level=tuple((time_s, level_db) for time_s, level_db in data["level"]),
    )


def sound_lines(data: SoundData, top_rpm: float) -> list[str]:
    """The numbers of a sound in words, one a line; ``top_rpm`` 0 where no speed is known."""
    lines = [_tone(tone, top_rpm) for tone in data["tones"]]
    lines += [
        f"At {at['rpm']:.0f} rpm it is {at['over_quiet_db']:.0f} dB above the quiet."
        for at in data["loudness"]
    ]
    # what does not follow the drum is not of the drum: named, so that nobody chases it
    if data["standing_hz"]:
        listed = ", ".join(f"{hz:g}" for hz in data["standing_hz"][:_MOST_LISTED])
        lines.append(
            f"Tones that keep their pitch whatever the drum does: {listed} Hz (pump, mains, room)."
        )
    if data["lined_up"] and data["start_s"] is not None:
        how = "as told" if data["lined_up"] == "told" else "found by its level"
        # the sum turns a rounded -0.0 into 0.0: no minus before a zero
        begin_s = round(data["start_s"], 1) + 0.0
        lines.append(f"The sound begins at {begin_s:.1f} s on the clock of the recording ({how}).")
    return lines + [note["text"] for note in data["notes"]]


def _tone(tone: ToneData, top_rpm: float) -> str:
    kind = {
        True: "a whole number",
        False: "no whole number",
        None: "too high to tell whether whole",
    }[tone["whole"]]
    where = ", in the beat of the high sound" if tone["in_beat"] else ""
    order = tone["order"]
    at = f", {order * top_rpm / 60:.0f} Hz at {top_rpm:.0f} rpm" if top_rpm > 0 else ""
    return (
        f"{order:.2f} times a turn ({kind}{at}):"
        f" {tone['over_db']:.0f} dB above its surroundings{where}."
    )
