"""What can be sent to the workshop, as JSON or by a form; each becomes one entry of evidence."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Decision,
    Figures,
    Finding,
    Intake,
    Note,
    Owner,
    Proof,
    RepairDone,
    Retraction,
)

_NO_CONTROL = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$"
Short = Annotated[
    str, StringConstraints(max_length=200, strip_whitespace=True, pattern=_NO_CONTROL)
]
Long = Annotated[
    str, StringConstraints(max_length=4000, strip_whitespace=True, pattern=_NO_CONTROL)
]
Ident = Annotated[str, StringConstraints(max_length=80, pattern=r"^[A-Za-z0-9_.:-]*$")]
Minutes = Annotated[float, Field(ge=0, le=1440, allow_inf_nan=False)]
Number = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
Minor = Annotated[int, Field(ge=0, le=10**11)]
Photos = tuple[Annotated[str, StringConstraints(max_length=120)], ...]


class Sent(BaseModel):
    """Common to all: who sends it, and the number of the last entry the sender has seen (guards stale forms)."""

    model_config = ConfigDict(extra="forbid")

    by: Short = ""
    expected_last: int | None = Field(None, ge=0, le=10**9)

    @property
    def hand(self) -> str:
        """Who did it."""
        return self.by or "bench"


class Answered(BaseModel):
    """A question of the intake and its answer."""

    model_config = ConfigDict(extra="forbid")

    check: Ident
    outcome: Ident = ""
    reading: Number | None = None


class IntakeIn(Sent):
    """A machine comes in."""

    family: Ident = "front_loader"
    owner: Owner = "customer"
    title: Short = ""
    complaints: Annotated[tuple[Ident, ...], Field(max_length=40)] = ()
    age_years: Annotated[float, Field(ge=0, le=80, allow_inf_nan=False)] | None = None
    features: dict[Ident, Ident] = Field(default_factory=dict, max_length=40)
    maker: Short = ""
    model: Short = ""
    serial: Short = ""
    contact: Short = ""
    story: Long = ""
    paid_minor: Minor = 0
    promised: Short = ""
    away: bool = False
    used_parts: bool = False
    answers: Annotated[tuple[Answered, ...], Field(max_length=40)] = ()
    figures: dict[Ident, Number] = Field(default_factory=dict, max_length=40)

    def body(self) -> Intake:
        """The first entry of the job."""
        told = self.model_dump(exclude={"by", "expected_last", "answers", "figures"})
        return Intake(**told)


class FindingIn(Sent):
    """What a check showed: an outcome, ``could_not_tell``, ``cannot_reach``, or a reading."""

    check: Ident
    outcome: Ident = ""
    reading: Number | None = None
    reading_sd: Annotated[float, Field(gt=0, le=1e9, allow_inf_nan=False)] | None = None
    minutes: Minutes | None = None
    note: Long = ""
    photos: Photos = ()

    def body(self) -> Body:
        """The entry."""
        return Finding(
            check=self.check,
            outcome=self.outcome,
            reading=self.reading,
            reading_sd=self.reading_sd,
            minutes=self.minutes,
            note=self.note,
            photos=self.photos,
        )


class Taking(BaseModel):
    """Pieces of a lot used from the shelf."""

    model_config = ConfigDict(extra="forbid")

    lot: int = Field(ge=1, le=2**31 - 1)
    count: int = Field(ge=1, le=1000)


class RepairIn(Sent):
    """A repair was carried out, with pieces ``taken`` from the shelf."""

    repair: Ident
    minutes: Minutes | None = None
    note: Long = ""
    photos: Photos = ()
    taken: Annotated[tuple[Taking, ...], Field(max_length=40)] = ()

    def body(self) -> Body:
        """The entry."""
        return RepairDone(self.repair, self.minutes, self.note, self.photos)


class ProofIn(Sent):
    """A proof spin was run."""

    passed: bool
    minutes: Minutes | None = None
    note: Long = ""

    def body(self) -> Body:
        """The entry."""
        return Proof(self.passed, self.minutes, self.note)


class RecordingIn(Sent):
    """A kept recording is put down: from before a repair, from after it, or from when the machine was sound."""

    role: Literal["before", "after", "sound"]
    top_rpm: Annotated[float, Field(ge=200, le=2500, allow_inf_nan=False)] | None = None
    minutes: Minutes | None = None
    note: Long = ""


class DecisionIn(Sent):
    """What was decided, and the price agreed if there is one."""

    option: Ident
    agreed_minor: Minor | None = None
    why: Long = ""

    def body(self) -> Body:
        """The entry."""
        return Decision(self.option, self.agreed_minor, self.why)


class CloseIn(Sent):
    """The job is over."""

    ending: Ident
    faults: Annotated[tuple[Ident, ...], Field(max_length=40)] = ()
    received_minor: Annotated[int, Field(ge=-(10**11), le=10**11)] | None = None
    note: Long = ""

    def body(self) -> Body:
        """The entry."""
        return Closed(self.ending, self.faults, self.received_minor, self.note)


class NoteIn(Sent):
    """A remark that belongs to no check."""

    text: Long
    photos: Photos = ()
    parts_due: Short = ""

    def body(self) -> Body:
        """The entry."""
        return Note(self.text, self.photos, parts_due=self.parts_due)


class FiguresIn(Sent):
    """Figures of this very machine by their id (see ``GET /api/jobs/{number}/machine``), and how they are known."""

    values: Annotated[dict[Ident, Number], Field(min_length=1, max_length=40)]
    how: Literal["told", "plate", "counted", "measured"] = "told"
    note: Long = ""

    def body(self) -> Body:
        """The entry."""
        return Figures(self.values, self.how, note=self.note)


class FitIn(Sent):
    """The machine is fitted to a kept recording: what is known of the run, and which figures may move."""

    load_kg: Annotated[float, Field(ge=0, le=14, allow_inf_nan=False)] | None = None
    unbalance_kg: Annotated[float, Field(ge=0.02, le=3, allow_inf_nan=False)] | None = None
    free: Annotated[tuple[Ident, ...], Field(max_length=12)] = ()
    note: Long = ""


class RetractionIn(Sent):
    """Takes an entry back; ``comeback``: it closed the job rightly, but the machine came back."""

    entry: int = Field(ge=1, le=10**9)
    why: Long = ""
    comeback: bool = False

    def body(self) -> Body:
        """The entry."""
        return Retraction(self.entry, self.why, self.comeback)


EntryIn = FindingIn | RepairIn | ProofIn | DecisionIn | CloseIn | NoteIn | FiguresIn | RetractionIn
StepName = Literal["check", "repair", "proof"]
