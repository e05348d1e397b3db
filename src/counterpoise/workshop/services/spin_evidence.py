"""A recording of a spin as evidence of a job: a finding before a repair, a proof after it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from counterpoise.catalog.check_parts import RECORDING, TEST_LOAD
from counterpoise.errors import InputError
from counterpoise.spin import proof as spin_proof
from counterpoise.spin.account import said
from counterpoise.spin.causes.verdict import Verdict, as_set, judge
from counterpoise.spin.kind import Kind
from counterpoise.spin.reading import Reading
from counterpoise.workshop.jobs.entries import COULD_NOT_TELL, Body, Finding, Note, Proof

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.entries import Entry, Job
    from counterpoise.workshop.services.workshop import Workshop

# tied: before a repair, with the test load tied in; sound: the machine in order, as a baseline for
# later, not a file with sound
Role = Literal["before", "tied", "after", "sound"]
# how the note of a recording begins that names no cause
AS_IT_CAME = "Recorded before the repair."
NOTHING_BEFORE = (
    "Cannot tell: there is no recording from before the repair in this job to compare with."
)


@dataclass(frozen=True, slots=True)
class SpinEvidence:
    """A recording read for a job: verdict over the causes, and after a repair the proof.

    ``top_rpm`` is the programme's top speed in rpm as given or told with it, None where it was not;
    ``proof`` is None except for the role ``after``. ``verdict`` is by the reader as ``set_by`` so
    many closed jobs have set it (0: as it came), ``as_read`` by the reader as it came.
    """

    job: Job
    recording: str
    name: str
    role: Role
    top_rpm: float | None
    reading: Reading
    verdict: Verdict
    as_read: Verdict
    set_by: int = 0
    proof: spin_proof.Proof | None = None

    @property
    def sentence(self) -> str:
        """What the recording says of the cause, in one sentence."""
        return said(self.reading, self.verdict)


def spin_evidence(
    workshop: Workshop, number: int, recording: str, role: Role, top_rpm: float | None = None
) -> SpinEvidence:
    """Read a kept recording for a job and judge it. Raises NotFoundError, RecordingError.

    ``top_rpm`` is the programme's top speed in rpm; None: as told with the recording.
    """
    job = workshop.jobs.get(number)
    workshop.recordings.check_owned(job, recording)
    name, _ = workshop.recordings.get(recording)
    # what is told now corrects what was told with the recording
    top_rpm = top_rpm or workshop.recordings.metadata(recording).top_rpm
    kind = workshop.recordings.kind(job)
    reading = workshop.recordings.reading(recording, top_rpm, kind)
    # a machine's own healthy spin is a better measure than that of its kind
    baseline = other_reading(workshop, latest_healthy(job), recording, top_rpm, kind)
    as_read = judge(reading, baseline)
    family = workshop.family(job.intake.family)
    verdict, set_by = as_closed_jobs_set_it(family, as_read)
    proof = None
    if role == "after":
        before = other_reading(workshop, latest_before(job), recording, top_rpm, kind)
        proof = (
            spin_proof.compare(before, reading)
            if before
            else spin_proof.Proof(spin_proof.CANNOT_TELL, NOTHING_BEFORE, NOTHING_BEFORE, ())
        )
    return SpinEvidence(
        job, recording, name, role, top_rpm, reading, verdict, as_read, set_by, proof
    )


def as_closed_jobs_set_it(family: Family, as_read: Verdict) -> tuple[Verdict, int]:
    """A verdict by the reader as the workshop's closed jobs set it, and how many jobs those are."""
    check = family.checks.get(RECORDING)
    if check is None or not check.reader or as_read.cannot_tell:
        return as_read, 0
    # numpy and the family's model: only where a reader was set
    from counterpoise.workshop.diagnosis.evidence.set_reader import SPIN, power_and_weights

    power, weights = power_and_weights(check)
    by_group = dict(zip(check.outcomes, weights.tolist(), strict=True))
    # all figures of the reader come of the same jobs
    jobs = max(each.jobs for each in family.changes if each.place.startswith(f"{SPIN}."))
    return as_set(as_read, power, by_group), jobs


def other_reading(
    workshop: Workshop, other: str, recording: str, top_rpm: float | None, kind: Kind
) -> Reading | None:
    """Another recording of the job, read with its own told top speed, else with ``top_rpm``.

    None where there is none, or where it is the very ``recording`` that it would be held against.
    """
    # held against itself a recording would prove any repair
    if not other or other == recording:
        return None
    return workshop.recordings.reading(
        other, workshop.recordings.metadata(other).top_rpm or top_rpm, kind
    )


def latest_before(job: Job) -> str:
    """The id of the latest recording of the machine as it came in; empty where there is none."""
    # standing ones only: a finding taken back is no evidence
    bodies = [entry.body for entry in reversed(job.standing)]
    # of a kind without causes it is a note, told from others by how it begins
    return next(
        (
            b.recording
            for b in bodies
            if (isinstance(b, Finding) or (isinstance(b, Note) and b.text.startswith(AS_IT_CAME)))
            and b.recording
        ),
        "",
    )


def latest_healthy(job: Job) -> str:
    """The id of the latest recording of the machine when it was sound; empty if there is none."""
    bodies = [entry.body for entry in reversed(job.standing)]
    return next(
        (b.recording for b in bodies if isinstance(b, Note) and b.recording and b.healthy), ""
    )


def entry_of(
    family: Family, evidence: SpinEvidence, minutes: float | None = None, note: str = ""
) -> Body:
    """The entry that puts a recording down: a finding, a proof, or a note of the sound machine.

    Raises InputError where the family has no check that a recording answers.
    """
    recording = evidence.recording
    if evidence.role == "sound":
        text = f"Recording of the machine when it was sound: {evidence.name}. {note}".strip()
        return Note(text, recording=recording, healthy=True)
    # after a repair the causes are settled; what counts is whether it shakes less
    if evidence.proof is not None:
        return _proof_entry(evidence.proof, recording, minutes, (family, note))
    words = f"{family.body.spoken(evidence.sentence)} {note}".strip()
    # it names no cause, so there is no belief to move; what it says is kept for the comparison
    if evidence.reading.kind.no_cause:
        return Note(f"{AS_IT_CAME} {words}", recording=recording)
    check = TEST_LOAD if evidence.role == "tied" else RECORDING
    if check not in family.checks:
        what = "A recording with a test load" if evidence.role == "tied" else "A recording"
        raise InputError(
            f"{what} is no check of this family", field="role", remedy="Keep it with a note"
        )
    if evidence.as_read.cannot_tell:
        return Finding(check, COULD_NOT_TELL, minutes=minutes, note=words, recording=recording)
    # unrounded, and as they were read: how a belief takes them is learned anew with each closing
    likelihood = evidence.as_read.likelihood
    # only ratios matter to the belief; weights of sum 1 are easier to read in an export
    total = sum(likelihood.values())
    weights = tuple(likelihood[outcome] / total for outcome in family.checks[check].outcomes)
    return Finding(check, "", weights=weights, minutes=minutes, note=words, recording=recording)


def record_spin(
    workshop: Workshop, evidence: SpinEvidence, minutes: float | None = None, note: str = "",
    by: str = "", expected_last: int | None = None, *, acknowledged: bool = False,
) -> Entry:  # fmt: skip
    """Put a recording down in its job; returns the entry. Raises InputError, ConflictError.

    ``acknowledged``: it was run although that was forbidden.
    """
    family = workshop.family(evidence.job.intake.family)
    body = entry_of(family, evidence, minutes, note)
    if isinstance(body, Finding | Proof):
        body = replace(body, acknowledged=acknowledged)
    return workshop.jobs.record(evidence.job.number, body, by=by, expected_last=expected_last)


def _proof_entry(
    proof: spin_proof.Proof,
    recording: str,
    minutes: float | None,
    remark: tuple[Family, str],
) -> Body:
    family, note = remark
    said_of_it = family.body.spoken(proof.sentence)
    rows = "; ".join(
        f"{r.name} {_figure(r.before)} before, {_figure(r.after)} after ({r.unit})"
        for r in proof.rows
    )
    words = " ".join(part for part in (said_of_it, f"{rows}." if rows else "", note) if part)
    if proof.result == spin_proof.CANNOT_TELL:
        # a proof that cannot tell is no proof: as a note it neither passes nor fails the machine
        return Note(f"{family.proof_title} recorded: cannot tell. {words}", recording=recording)
    return Proof(proof.result == spin_proof.PASS, minutes, words, recording)


def _figure(value: float | None) -> str:
    return "not seen" if value is None else f"{value:g}"
