"""A recording of a spin in a job: what it says, as evidence before a repair and as proof after it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from counterpoise.errors import InputError
from counterpoise.report.figures.spin import proof_figure, spin_figure, svg
from counterpoise.report.views.read_cache import read_bytes
from counterpoise.report.views.sound import SoundAnswer, keep_sound, sound_answer
from counterpoise.spin.causes.groups import WORDS
from counterpoise.spin.causes.verdict import Verdict, judge
from counterpoise.spin.proof import CANNOT_TELL, LOAD_ADVICE, PASS, ComparedFigure, compare
from counterpoise.spin.reading import Reading
from counterpoise.spin.summary import ReadingData, reading_data
from counterpoise.workshop.jobs.entries import COULD_NOT_TELL, Body, Finding, Note, Proof
from counterpoise.workshop.jobs.job_file import RecordingMetadata

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.services.workshop import Workshop

CHECK = "spin_recording"
Role = Literal["before", "after", "sound"]
_PHASES = {
    "still": "still", "tumble": "tumbling", "distribution": "spreading the load", "run_up": "running up",
    "hold": "holding its speed", "coast": "running out",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One of the causes a recording can show: its words, its chance, and its weight in the belief (sum 1)."""

    group: str
    words: str
    chance: float
    weight: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """What the machine did from ``start_s`` to ``end_s``; ``rpm`` where it held a speed."""

    words: str
    start_s: float
    end_s: float
    rpm: float | None


@dataclass(frozen=True, slots=True)
class ProofAnswer:
    """Before and after: ``pass``, ``not yet`` or ``cannot tell``, a sentence with the reason, the numbers."""

    result: str
    sentence: str
    rows: tuple[ComparedFigure, ...]
    load_advice: str = LOAD_ADVICE


@dataclass(frozen=True, slots=True)
class RecordingAnswer:
    """A recording read: sentence, causes (likeliest first), stretches, remarks; the proof where it is one from after.

    ``top_rpm`` is the speed reached, ``told_rpm`` the programme's as told, where it was.
    ``chance`` of a cause holds where every fault is as likely as any other; the job weighs it with what it believes.
    """

    number: int
    recording: str
    name: str
    role: Role
    last: int
    sentence: str
    cannot_tell: bool
    with_baseline: bool
    top_rpm: float
    told_rpm: float | None
    groups: tuple[GroupLine, ...]
    stretches: tuple[Stretch, ...]
    remarks: tuple[str, ...]
    proof: ProofAnswer | None = None
    sound: SoundAnswer | None = None


@dataclass(frozen=True, slots=True)
class JudgedRecording:
    """A recording as it is shown, and the verdict behind it.

    What is shown is rounded for the eye; evidence is taken from the verdict, unrounded.
    """

    answer: RecordingAnswer
    verdict: Verdict


def keep(workshop: Workshop, number: int, file: tuple[str, bytes], top_rpm: float | None) -> str:
    """Keep the (name, bytes) of a recording that can be read, with its told top speed; return its id.

    Raises RecordingError.
    """
    workshop.jobs.get(number)
    read_bytes(file[1], top_rpm)
    return workshop.recordings.add(
        Path(file[0]).name or "recording.csv", file[1], RecordingMetadata(top_rpm=top_rpm)
    )


def answer(
    workshop: Workshop, number: int, recording: str, role: Role, top_rpm: float | None = None
) -> RecordingAnswer:
    """What a kept recording says in a job, for the eye. Raises NotFoundError, RecordingError.

    ``top_rpm`` is the programme's top speed; None: as told with the recording.
    """
    return judged(workshop, number, recording, role, top_rpm).answer


def judged(
    workshop: Workshop, number: int, recording: str, role: Role, top_rpm: float | None = None
) -> JudgedRecording:
    """What a kept recording says in a job, with its verdict. Raises NotFoundError, RecordingError."""
    job = workshop.jobs.get(number)
    name, data = workshop.recordings.get(recording)
    facts = workshop.recordings.metadata(recording)
    top_rpm = top_rpm or facts.top_rpm
    reading = read_bytes(data, top_rpm)
    sound = _kept(workshop, _sound(job), recording, top_rpm)
    verdict = judge(reading, sound)
    found = reading_data(reading, verdict)
    shown = RecordingAnswer(
        number=number, recording=recording, name=name, role=role, last=job.entries[-1].number,
        sentence=found["sentence"], cannot_tell=found["cannot_tell"], with_baseline=found["with_baseline"],
        top_rpm=found["top_rpm"], told_rpm=top_rpm, groups=_groups(found),
        stretches=_stretches(found), remarks=_remarks(found),
        proof=_proof(workshop, job, reading, recording, top_rpm) if role == "after" else None,
        sound=sound_answer(workshop, (data, top_rpm), facts, reading.course.top_rpm),
    )  # fmt: skip
    return JudgedRecording(shown, verdict)


def add_sound(
    workshop: Workshop,
    number: int,
    recording: str,
    file: tuple[str, bytes],
    start_s: float | None = None,
) -> None:
    """Keep the (name, bytes) of a WAV as the sound of a recording; ``start_s`` is when it begins on its clock.

    Raises NotFoundError, RecordingError.
    """
    workshop.jobs.get(number)
    keep_sound(workshop, recording, file, start_s)


def body(
    family: Family, spin: JudgedRecording, minutes: float | None = None, note: str = ""
) -> Body:
    """The entry that puts a recording down: a finding, a proof, or a note of the sound machine.

    Raises InputError where the family has no check that a recording answers.
    """
    told = spin.answer
    if told.role == "sound":
        text = f"Recording of the machine when it was sound: {told.name}. {note}".strip()
        return Note(text, recording=told.recording, healthy=True)
    if told.role == "after":
        return _proof_body(told, minutes, note)
    if CHECK not in family.checks:
        raise InputError(
            "A recording is no check of this family", field="role", remedy="Keep it with a note"
        )
    if told.cannot_tell:
        said = f"{told.sentence} {note}".strip()
        return Finding(CHECK, COULD_NOT_TELL, minutes=minutes, note=said, recording=told.recording)
    likelihood = spin.verdict.likelihood
    total = sum(likelihood.values())
    weights = tuple(likelihood[outcome] / total for outcome in family.checks[CHECK].outcomes)
    said = f"{told.sentence} {note}".strip()
    return Finding(CHECK, "", weights=weights, minutes=minutes, note=said, recording=told.recording)


def figure(
    workshop: Workshop, number: int, recording: str, role: Role, top_rpm: float | None = None
) -> bytes:
    """Speed and shake as SVG; for a recording from after a repair, before and after in one."""
    job = workshop.jobs.get(number)
    top_rpm = top_rpm or workshop.recordings.metadata(recording).top_rpm
    reading = read_bytes(workshop.recordings.get(recording)[1], top_rpm)
    before = _kept(workshop, _before(job), recording, top_rpm) if role == "after" else None
    return svg(proof_figure(before, reading) if before else spin_figure(reading))


def reading_of(workshop: Workshop, recording: str, top_rpm: float | None = None) -> Reading:
    """A kept recording, read. Raises NotFoundError, RecordingError."""
    return read_bytes(
        workshop.recordings.get(recording)[1],
        top_rpm or workshop.recordings.metadata(recording).top_rpm,
    )


def _proof_body(told: RecordingAnswer, minutes: float | None, note: str) -> Body:
    assert told.proof is not None  # noqa: S101  # one from after always has it
    rows = "; ".join(
        f"{r.name} {_seen(r.before)} before, {_seen(r.after)} after ({r.unit})"
        for r in told.proof.rows
    )
    said = " ".join(
        part for part in (told.proof.sentence, f"{rows}." if rows else "", note) if part
    )
    if told.proof.result == CANNOT_TELL:
        return Note(f"Proof spin recorded: cannot tell. {said}", recording=told.recording)
    return Proof(told.proof.result == PASS, minutes, said, told.recording)


def _seen(value: float | None) -> str:
    return "not seen" if value is None else f"{value:g}"


def _proof(
    workshop: Workshop, job: Job, after: Reading, recording: str, top_rpm: float | None
) -> ProofAnswer:
    before = _kept(workshop, _before(job), recording, top_rpm)
    if before is None:
        why = (
            "Cannot tell: there is no recording from before the repair in this job to compare with."
        )
        return ProofAnswer(CANNOT_TELL, why, ())
    found = compare(before, after)
    return ProofAnswer(found.result, found.sentence, found.rows)


def _kept(workshop: Workshop, kept: str, recording: str, top_rpm: float | None) -> Reading | None:
    """Another recording of the job, read with the top speed told of it, else of this one; never the same one."""
    if not kept or kept == recording:
        return None
    return read_bytes(
        workshop.recordings.get(kept)[1], workshop.recordings.metadata(kept).top_rpm or top_rpm
    )


def _before(job: Job) -> str:
    return _latest(job, Finding)


def _sound(job: Job) -> str:
    """The latest kept of the sound machine."""
    notes = [e.body for e in job.standing if isinstance(e.body, Note)]
    return next((note.recording for note in reversed(notes) if note.recording and note.healthy), "")


def _latest(job: Job, kind: type[Finding]) -> str:
    found = [
        e.body.recording for e in job.standing if isinstance(e.body, kind) and e.body.recording
    ]
    return found[-1] if found else ""


def _groups(found: ReadingData) -> tuple[GroupLine, ...]:
    total = sum(found["likelihood"].values())
    made = [
        GroupLine(g, WORDS[g], p, found["likelihood"][g] / total)
        for g, p in found["groups"].items()
    ]
    return tuple(sorted(made, key=lambda line: -line.chance))


def _stretches(found: ReadingData) -> tuple[Stretch, ...]:
    def rpm(start_s: float, end_s: float) -> float | None:
        inside = [
            p["rpm"] for p in found["plateaus"] if p["start_s"] < end_s and p["end_s"] > start_s
        ]
        return inside[-1] if inside else None

    return tuple(
        Stretch(
            _PHASES.get(p["phase"], p["phase"].replace("_", " ")), p["start_s"], p["end_s"],
            rpm(p["start_s"], p["end_s"]) if p["phase"] == "hold" else None,
        )
        for p in found["phases"]
    )  # fmt: skip


def _remarks(found: ReadingData) -> tuple[str, ...]:
    out = [note["text"] for note in found["notes"]]
    if found["given_up"]:
        out.insert(
            0,
            f"It set out to spin {found['attempts']} times and gave up {found['given_up']} times.",
        )
    return tuple(out)
