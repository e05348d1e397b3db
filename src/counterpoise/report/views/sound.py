"""The sound kept beside a recording, in words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.report.views.read_cache import sound_of
from counterpoise.spin.audio.sound_data import SoundData, ToneData
from counterpoise.workshop.jobs.job_file import RecordingMetadata

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class SoundAnswer:
    """A sound read: sentence, lines in words, and the numbers (orders in times a turn, levels in dB).

    ``tones`` are (times a turn, dB over the surroundings); ``level`` is (s, dB of full scale), every half second.
    """

    name: str
    sentence: str
    cannot_tell: str
    lined_up: str
    start_s: float | None
    lines: tuple[str, ...]
    tones: tuple[tuple[float, float], ...]
    standing_hz: tuple[float, ...]
    level: tuple[tuple[float, float], ...]


def keep_sound(
    workshop: Workshop, recording: str, file: tuple[str, bytes], start_s: float | None
) -> None:
    """Keep the (name, bytes) of a WAV beside a recording, if it can be read. Raises NotFoundError, RecordingError."""
    name, data = workshop.recordings.get(recording)
    sound_of(file[1], data, workshop.recordings.metadata(recording).top_rpm, start_s)
    kept = workshop.recordings.add(Path(file[0]).name or "sound.wav", file[1])
    workshop.recordings.add(name, data, RecordingMetadata(sound=kept, sound_start_s=start_s))


def sound_answer(
    workshop: Workshop, recording: tuple[bytes, float | None], facts: RecordingMetadata, reached_rpm: float
) -> SoundAnswer | None:  # fmt: skip
    """What the sound of a recording (bytes, told top speed) says; None where it has none."""
    if not facts.sound:
        return None
    name, data = workshop.recordings.get(facts.sound)
    found = sound_of(data, *recording, facts.sound_start_s)
    return SoundAnswer(
        name=name, sentence=found["sentence"], cannot_tell=found["cannot_tell"], lined_up=found["lined_up"],
        start_s=found["start_s"], lines=tuple(sound_lines(found, reached_rpm)),
        tones=tuple((one["order"], one["over_db"]) for one in found["tones"]),
        standing_hz=tuple(found["standing_hz"]), level=tuple((t, db) for t, db in found["level"]),
    )  # fmt: skip


def sound_lines(found: SoundData, top_rpm: float) -> list[str]:
    """The numbers of a sound in words, one a line."""
    out = [_tone(one, top_rpm) for one in found["tones"]]
    out += [
        f"At {at['rpm']:.0f} rpm it is {at['over_quiet_db']:.0f} dB above the quiet."
        for at in found["loudness"]
    ]
    if found["standing_hz"]:
        listed = ", ".join(f"{hz:g}" for hz in found["standing_hz"][:6])
        out.append(
            f"Tones that keep their pitch whatever the drum does: {listed} Hz (pump, mains, room)."
        )
    if found["lined_up"] and found["start_s"] is not None:
        how = "as told" if found["lined_up"] == "told" else "found by its level"
        begin_s = round(found["start_s"], 1) + 0.0  # no minus before a zero
        out.append(f"The sound begins at {begin_s:.1f} s on the clock of the recording ({how}).")
    return out + [note["text"] for note in found["notes"]]


def _tone(one: ToneData, top_rpm: float) -> str:
    kind = {
        True: "a whole number",
        False: "no whole number",
        None: "too high to tell whether whole",
    }[one["whole"]]
    where = ", in the beat of the high sound" if one["in_beat"] else ""
    at = f", {one['order'] * top_rpm / 60:.0f} Hz at {top_rpm:.0f} rpm" if top_rpm > 0 else ""
    return f"{one['order']:.2f} times a turn ({kind}{at}): {one['over_db']:.0f} dB above its surroundings{where}."
