"""A recording of a spin in a job as page, terminal and API show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from counterpoise.report.figures.chart import Chart
from counterpoise.report.figures.spin_chart import DrawnSpin, spin_chart
from counterpoise.report.views.sound import SoundAnswer, sound_answer
from counterpoise.spin.causes.groups import PRIOR, WORDS
from counterpoise.spin.proof import (
    CANNOT_TELL,
    LOAD_ADVICE,
    NOT_YET,
    PASS,
    ComparedFigure,
    Proof,
)
from counterpoise.spin.summary import ReadingData, reading_data
from counterpoise.workshop.services.spin_evidence import (
    Role,
    SpinEvidence,
    latest_before,
    latest_healthy,
    other_reading,
)

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.services.workshop import Workshop

_PHASES = {
    "still": "still", "tumble": "tumbling", "distribution": "spreading the load",
    "run_up": "running up", "hold": "holding its speed", "coast": "running out",
}  # fmt: skip


# what a proof came to, and what to do then
_PROVED = {
    PASS: ("It runs true now", "Save it as the {proof}: then the machine can be handed over."),
    NOT_YET: ("Not yet right", "Save it as the {proof}: the bench then shows what is left."),
    CANNOT_TELL: ("It cannot tell", "Record the {proof} again as it says below."),
}


@dataclass(frozen=True, slots=True)
class GroupLine:
    """A cause a recording can show: its words, its chance, its weight in the belief (sum 1).

    ``prior`` is its chance before the recording, every fault being as likely as any other.
    """

    group: str
    words: str
    # chance is for the eye; the weight is what the job multiplies its belief with
    chance: float
    weight: float
    prior: float = 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """What the machine did from ``start_s`` to ``end_s``; ``rpm`` None where it held no speed."""

    words: str
    start_s: float
    end_s: float
    rpm: float | None


@dataclass(frozen=True, slots=True)
class ProofAnswer:
    """Before and after: ``pass``, ``not yet`` or ``cannot tell``, the reason, the figures."""

    result: str
    sentence: str
    rows: tuple[ComparedFigure, ...]
    # a comparison of unlike loads proves nothing: said with every proof
    load_advice: str = LOAD_ADVICE


@dataclass(frozen=True, slots=True)
class RecordingAnswer:
    """A recording read: sentence, causes (likeliest first), stretches, remarks.

    ``top_rpm`` is the speed reached, ``told_rpm`` the programme's as told, None where it was not.
    ``chance`` of a cause holds where every fault is as likely as any other; the job weighs it with
    its belief. ``proof`` is None except for the role ``after``, ``sound`` where none was kept.
    """

    number: int
    recording: str
    name: str
    role: Role
    last: int
    sentence: str
    cannot_tell: bool
    # with a recording of the sound machine less of what is heard is the machine's own
    with_baseline: bool
    top_rpm: float
    told_rpm: float | None
    groups: tuple[GroupLine, ...]
    stretches: tuple[Stretch, ...]
    remarks: tuple[str, ...]
    proof: ProofAnswer | None = None
    sound: SoundAnswer | None = None
    # who set the reader, in a sentence; empty where it is as it came
    reader: str = ""


def recording_answer(workshop: Workshop, evidence: SpinEvidence) -> RecordingAnswer:
    """What a recording says in its job, rounded for the eye.

    Raises RecordingError where the sound beside it cannot be read.
    """
    data = reading_data(evidence.reading, evidence.verdict)
    family = workshop.family(evidence.job.intake.family)
    return RecordingAnswer(
        number=evidence.job.number,
        recording=evidence.recording,
        name=evidence.name,
        role=evidence.role,
        # whoever puts it down later is refused if the job moved on
        last=evidence.job.entries[-1].number,
        sentence=family.body.spoken(data["sentence"]),
        cannot_tell=data["cannot_tell"],
        with_baseline=data["with_baseline"],
        top_rpm=data["top_rpm"],
        told_rpm=evidence.top_rpm,
        groups=_groups(data),
        stretches=_stretches(data),
        remarks=tuple(map(family.body.spoken, _remarks(data, family))),
        proof=_proof(evidence.proof, family) if evidence.proof else None,
        sound=sound_answer(workshop, evidence),
        reader=_set_by(evidence.set_by),
    )


def _set_by(jobs: int) -> str:
    """That closed jobs had a part in how sure the reader is; empty where none had."""
    if not jobs:
        return ""
    return f"The reader is set by your {jobs} closed jobs with a recording."


@dataclass(frozen=True, slots=True)
class RecordingVerdict:
    """What a recording comes to, in a few words, and what to do with it in a sentence."""

    words: str
    to_do: str


def recording_verdict(answer: RecordingAnswer, proof_title: str) -> RecordingVerdict:
    """The words to stand first on the page; ``proof_title`` is what the proof is called."""
    if answer.role == "sound":
        return RecordingVerdict(
            "Its own good spin", "Keep it: later spins of this machine are held against it."
        )
    # after a repair the question is whether it runs true, not what is wrong
    if answer.proof:
        words, to_do = _PROVED[answer.proof.result]
        return RecordingVerdict(words, to_do.format(proof=proof_title.lower()))
    if answer.cannot_tell or not answer.groups:
        return RecordingVerdict(
            "It cannot tell the cause",
            "Saved, it moves no chance, and can be held against the spin after the repair.",
        )
    first = answer.groups[0].words
    return RecordingVerdict(
        first[:1].upper() + first[1:],
        "Save it: it is weighed with all that is known, and the bench shows the next step.",
    )


def recording_chart(
    workshop: Workshop, evidence: SpinEvidence, wide: float | None = None
) -> Markup:
    """Speed and shake; beside a spin from before a repair, or of the sound machine, over it.

    ``wide`` px on paper, None on a page. Raises NotFoundError, RecordingError.
    """
    job, role = evidence.job, evidence.role
    kind = workshop.recordings.kind(job)
    # without another there is nothing to compare: the recording is drawn alone
    named = {
        "after": (latest_before(job), "before", "after"),
        "before": (latest_healthy(job), "when sound", "now"),
        "tied": (latest_healthy(job), "when sound", "now"),
    }
    other, first, second = named.get(role, ("", "", ""))
    earlier = other_reading(workshop, other, evidence.recording, evidence.top_rpm, kind)
    if earlier is None:
        return spin_chart([DrawnSpin("", evidence.reading)], wide)
    return spin_chart([DrawnSpin(first, earlier), DrawnSpin(second, evidence.reading)], wide)


def cause_bar(line: GroupLine) -> Markup:
    """The chance of a cause as a bar from 0 to 1, with a mark where it stood before."""
    chart = Chart(18)
    # the whole of it first, so that a small chance is seen to be small
    chart.bar(0, 5, 1, 8, "faint")
    chart.bar(0, 5, line.chance, 8, "accent")
    chart.tick(line.prior, 0, 18)
    return chart.svg(f"{100 * line.chance:.0f} %, {100 * line.prior:.0f} % before the recording")


def _proof(proof: Proof, family: Family) -> ProofAnswer:
    same = "Both times the same load, and the same programme."
    advice = LOAD_ADVICE if family.body.spins else same
    return ProofAnswer(proof.result, family.body.spoken(proof.sentence), proof.rows, advice)


def _groups(data: ReadingData) -> tuple[GroupLine, ...]:
    likelihood = data["likelihood"]
    # a likelihood is relative; as weights the groups add up to one
    total = sum(likelihood.values())
    if not total:
        return ()
    lines = [
        GroupLine(group, WORDS[group], chance, likelihood[group] / total, PRIOR[group])
        for group, chance in data["groups"].items()
    ]
    return tuple(sorted(lines, key=lambda line: -line.chance))


def _stretches(data: ReadingData) -> tuple[Stretch, ...]:
    def held_rpm(start_s: float, end_s: float) -> float | None:
        inside = [
            plateau["rpm"]
            for plateau in data["plateaus"]
            if plateau["start_s"] < end_s and plateau["end_s"] > start_s
        ]
        # the last one it reached: the way there is not what it held
        return inside[-1] if inside else None

    return tuple(
        Stretch(
            # a phase that was added later is still shown, by its own name
            _PHASES.get(phase["phase"], phase["phase"].replace("_", " ")),
            phase["start_s"],
            phase["end_s"],
            held_rpm(phase["start_s"], phase["end_s"]) if phase["phase"] == "hold" else None,
        )
        for phase in data["phases"]
    )


def _remarks(data: ReadingData, family: Family) -> tuple[str, ...]:
    remarks = [note["text"] for note in data["notes"]]
    if data["given_up"] and family.body.spins:
        # first: a spin given up is what the owner complains of, the rest is about the recording
        remarks.insert(
            0, f"It set out to spin {data['attempts']} times and gave up {data['given_up']} times."
        )
    return tuple(remarks)
