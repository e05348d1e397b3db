"""What can be sent to the workshop, as JSON or by a form; each becomes one entry of evidence.

The fields of an entry, their limits and their defaults are those of its dataclass
(:mod:`counterpoise.workshop.jobs.entries`); here stands only what is sent along with one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, create_model

from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Decision,
    Figures,
    Finding,
    Intake,
    Note,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.fields import (
    Count,
    EntryField,
    Ident,
    Long,
    Minutes,
    Number,
    Range,
    Short,
    SpinRpm,
    Whole,
    sent_fields,
)

Model = TypeVar("Model", bound=BaseModel)
_NO_MORE = ConfigDict(extra="forbid")  # a misspelt field is a mistake, not a field left out


class Sent(BaseModel):
    """Who sends it, and the last entry the sender has seen: None where stale forms may pass."""

    model_config = _NO_MORE

    # Not required: a program that keeps no names still gets its entries in.
    by: Short = ""
    # Optimistic locking: two people at one machine must not write past each other unseen.
    expected_last: Annotated[int, Whole(0, 10**9)] | None = None

    @property
    def hand(self) -> str:
        """Who did it; the bench where the sender says nothing (``by`` empty)."""
        return self.by or "bench"


class SentEntry(Sent):
    """An entry with who sends it: the fields of ``record`` that somebody may send."""

    # Set by the decorator below, so that model and entry cannot drift apart.
    record: ClassVar[type[Body]]

    def body(self) -> Body:
        """The entry as evidence, not yet checked against the catalog.

        Raises InputError where the fields do not fit together.
        """
        record: Callable[..., Body] = self.record
        return record(**self.entry_values())

    def entry_values(self) -> dict[str, Any]:
        """The fields of the entry that can be sent, by name; None where one was left out."""
        return {field.name: getattr(self, field.name) for field in sent_fields(self.record)}


def _of(record: type[Body], only: tuple[str, ...] = ()) -> Callable[[type[Model]], type[Model]]:
    """Give a model the fields of a kind of entry that can be sent, all or ``only`` some.

    A decorator of the class that says what is sent beside them.
    """

    def with_fields(model: type[Model]) -> type[Model]:
        fields = {
            field.name: (field.sent_hint, _default(field))
            for field in sent_fields(record)
            if not only or field.name in only
        }
        # A subclass under the same name: the class written below says in plain sight what is sent
        # beside the entry's own fields, and OpenAPI shows it under that name.
        made = create_model(  # type: ignore[call-overload]  # the fields are known when it runs
            model.__name__, __base__=model, __module__=model.__module__, __doc__=model.__doc__,
            **fields,
        )  # fmt: skip
        if issubclass(made, SentEntry):
            made.record = record
        return made  # type: ignore[no-any-return]

    return with_fields


def _default(field: EntryField) -> object:
    """A field's default as pydantic takes it; ``...`` where it must be sent."""
    # The dataclasses' way of saying "required"; pydantic's is the ellipsis.
    if field.sent_default is MISSING:
        return ...
    if isinstance(field.sent_default, Mapping):
        # a factory, or the schema would offer one shared, changeable set as the default
        return Field(default_factory=dict)
    return field.sent_default


@_of(Finding, only=("check", "outcome", "reading"))
class Answered(BaseModel):
    """A question of the intake and its answer."""

    model_config = _NO_MORE

    def finding(self) -> Finding:
        """The answer as evidence."""
        return Finding(**self.model_dump())


@_of(Intake)
class IntakeIn(SentEntry):
    """A machine comes in."""

    # Forty is more than any family asks at the counter; a flood is refused before the catalog is
    # asked.
    answers: Annotated[tuple[Answered, ...], Count(40)] = ()
    figures: Annotated[dict[Ident, Number], Count(40)] = Field(default_factory=dict)

    def intake(self) -> Intake:
        """The first entry of the job."""
        return Intake(**self.entry_values())


@_of(Finding)
class FindingIn(SentEntry):
    """What a check showed: an outcome, ``could_not_tell``, ``cannot_reach``, or a reading."""


# not a field of the entry: pieces belong to the stock, not to the evidence of one job
class Taking(BaseModel):
    """Pieces of a lot used from the shelf."""

    model_config = _NO_MORE

    # The largest number of the store's columns: a larger one would be an error of the database.
    lot: Annotated[int, Whole(1, 2**31 - 1)]
    count: Annotated[int, Whole(1, 1000)]


@_of(RepairDone)
class RepairIn(SentEntry):
    """A repair was carried out, in so many minutes, with pieces ``taken`` from the shelf."""

    # put down as movements with the entry, and given back with it
    taken: Annotated[tuple[Taking, ...], Count(40)] = ()


@_of(Proof)
class ProofIn(SentEntry):
    """A proof spin was run: whether it passed, and the minutes it took."""


class RecordingIn(Sent):
    """A kept recording is put down.

    ``role``: it is from before a repair (``tied``: with the test load tied in), from after it, or
    from when the machine was sound.
    ``top_rpm`` is the programme's spin speed, None where it is not known.
    """

    # No default: a recording put down as "before" by mistake would speak for a fault that is
    # mended.
    role: Literal["before", "tied", "after", "sound"]
    top_rpm: SpinRpm | None = None
    minutes: Minutes | None = None
    note: Long = ""
    acknowledged: bool = False


@_of(Decision)
class DecisionIn(SentEntry):
    """What was decided, and the price agreed (minor units) if there is one."""


@_of(Closed)
class CloseIn(SentEntry):
    """The job is over: how it ended, what was wrong, what came in (minor units)."""


@_of(Note)
class NoteIn(SentEntry):
    """A remark that belongs to no check; ``photos`` are ids of kept photos, empty for none."""


@_of(Figures)
class FiguresIn(SentEntry):
    """Figures of this very machine by their id, and how they are known.

    The ids are those of ``GET /api/jobs/{number}/machine``.
    """


class FitIn(Sent):
    """The machine is fitted to a kept recording.

    What is known of the run: the wet load and the thing out of balance in kg, None where not
    weighed; and which figures may move.
    """

    # Wet wash of the largest household drums, from memory; a thing heavier than 3 kg out of
    # balance would have stopped any spin.
    load_kg: Annotated[float, Range(0, 14)] | None = None
    unbalance_kg: Annotated[float, Range(0.02, 3)] | None = None
    free: Annotated[tuple[Ident, ...], Count(12)] = ()
    note: Long = ""


@_of(Retraction)
class RetractionIn(SentEntry):
    """Takes an entry back; ``comeback``: it closed the job rightly, but the machine came back."""


StepName = Literal["check", "repair", "proof"]
