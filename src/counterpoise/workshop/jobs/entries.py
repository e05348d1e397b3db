"""What is stored of a job: an append-only list of entries. Everything else is computed from it.

An entry is never edited; :class:`Retraction` takes one back. Times are UTC and ISO 8601, money is
integer minor units. Each field stands here once, with its limits: see :mod:`.fields`. Work is
``acknowledged`` where it ran a machine that must not be run, by somebody who had read why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from counterpoise.catalog.loader import first_family
from counterpoise.workshop.jobs.choices import How, HowByHand, Owner, Safeguard
from counterpoise.workshop.jobs.fields import (
    BY_PROGRAM,
    Count,
    FileId,
    Ident,
    Language,
    Long,
    MachinePrice,
    Minor,
    Minutes,
    Number,
    Range,
    SentAs,
    Short,
    StoredAs,
    Whole,
)

OLDEST_YEARS = 70.0  # no machine of these families is older (from memory)
COULD_NOT_TELL = "could_not_tell"
CANNOT_REACH = "cannot_reach"
# the machine has no such thing: it is of another kind
NOT_THERE = "not_there"
NOT_THERE_LABEL = "This machine has none"
Photos = tuple[FileId, ...]


@dataclass(frozen=True, slots=True)
class Intake:
    """The first entry of every job. ``paid_minor`` is what the workshop paid for the machine.

    ``promised`` is the day it was promised for (ISO 8601), or empty. ``away``: worked on at the
    owner's place. ``used_parts``: the owner agrees to used parts. ``nobody_to_ask``: no
    question to an owner is proposed. ``language``: of papers for the owner; empty: the workshop's.
    """

    family: Annotated[Ident, SentAs(first_family())]  # where none is sent, the first of the list
    owner: Annotated[Owner, SentAs("customer")]
    title: Annotated[Short, SentAs("")]
    # ids of the catalog; which of them a family knows is checked against it
    complaints: Annotated[tuple[Ident, ...], Count(40), SentAs(())]
    age_years: Annotated[float, Range(0, OLDEST_YEARS)] | None = None
    # by id; a feature left out is not known, and every check fits until it is
    features: Annotated[Mapping[Ident, Ident], Count(40)] = field(default_factory=dict)
    maker: Short = ""
    model: Short = ""
    serial: Short = ""
    contact: Short = ""  # of the owner; goes on the sheet, into no reasoning
    story: Long = ""
    paid_minor: Minor = 0
    new_machine_minor: MachinePrice | None = None
    # days stay texts: they are compared and shown, never reckoned with here
    promised: Short = ""
    away: bool = False
    used_parts: bool = False
    nobody_to_ask: bool = False  # from the kerb or a yard: what only an owner knows stays unknown
    language: Language = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check showed: an outcome's id, ``could_not_tell`` or ``cannot_reach``; or a number.

    ``reading_sd`` is the standard error of ``reading``, in the unit of the check. ``weights`` holds
    soft evidence over the outcomes (a recording of a spin); empty where the outcome is plain.
    """

    check: Ident
    # what is sent may leave it out beside a reading; what is stored has the outcome read off it
    outcome: Annotated[Ident, SentAs("")]
    reading: Number | None = None  # in the unit of the check, whose own limits are narrower
    reading_sd: Annotated[float, Range(above=0, high=1e9)] | None = None
    # likelihoods, relative to each other, in the order of the outcomes in the catalog;
    # never rounded: the belief multiplies them
    weights: Annotated[tuple[float, ...], BY_PROGRAM] = ()
    minutes: Minutes | None = None
    note: Long = ""
    photos: Photos = ()
    # set where the program read the finding off a recording, not by hand
    recording: Annotated[FileId, BY_PROGRAM] = ""
    acknowledged: bool = False


@dataclass(frozen=True, slots=True)
class RepairDone:
    """A repair was carried out; ``minutes`` it took, None where nobody timed it."""

    repair: Ident
    minutes: Minutes | None = None
    note: Long = ""
    photos: Photos = ()
    acknowledged: bool = False


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof spin was run, and ran true or not; ``minutes`` it took, None if not timed."""

    passed: bool
    minutes: Minutes | None = None
    note: Long = ""
    recording: Annotated[FileId, BY_PROGRAM] = ""
    acknowledged: bool = False


@dataclass(frozen=True, slots=True)
class Decision:
    """What was decided: one of the option ids of the money room; ``agreed_minor`` the price agreed.

    Where a customer answered a quote: ``quoted_minor`` its price, ``ceiling_minor`` the most it may
    come to without asking, ``repairs`` the work it was for, ``agreed_by`` who said yes or no
    (declined: ``agreed_minor`` is the fee), ``quote_words`` the quote as it was put to them,
    ``photos`` the signed paper, if there is one. ``used_parts``: they agreed to those.
    """

    option: Ident
    agreed_minor: Minor | None = None  # what the customer pays, tax included
    why: Long = ""
    quoted_minor: Annotated[Minor | None, BY_PROGRAM] = None
    ceiling_minor: Annotated[Minor | None, BY_PROGRAM] = None
    repairs: Annotated[tuple[Ident, ...], BY_PROGRAM] = ()
    agreed_by: Annotated[Short, BY_PROGRAM] = ""
    # stores of 0.1.0 call it "told", and theirs must still be read
    quote_words: Annotated[tuple[str, ...], BY_PROGRAM, StoredAs("told")] = ()
    photos: Annotated[Photos, BY_PROGRAM] = ()
    used_parts: Annotated[bool, BY_PROGRAM] = False
    safeguard: Safeguard = ""


@dataclass(frozen=True, slots=True)
class Closed:
    """The job is over: how, what it really was, what it brought in.

    ``faults`` somebody saw, ``likely`` stayed a guess, ``ruled_out`` was looked for and is not
    there; of all others it was never known. ``minutes`` the bench took in all, where counted.
    ``terms``: the figures of that time, by name (see :data:`TERMS`), so that books never change.
    """

    ending: Ident
    faults: Annotated[tuple[Ident, ...], Count(40)] = ()
    # scrapping may cost more than it brings, so it may be below zero
    received_minor: Annotated[int, Whole(-(10**11), 10**11)] | None = None
    note: Long = ""
    safeguard: Safeguard = ""
    likely: Annotated[tuple[Ident, ...], Count(40)] = ()
    ruled_out: Annotated[tuple[Ident, ...], Count(40)] = ()
    minutes: Minutes | None = None
    # without them, raising the hourly rate would change last year's profit
    terms: Annotated[Mapping[str, Annotated[float, Range(0, 1e9)]], BY_PROGRAM] = field(
        default_factory=dict
    )


@dataclass(frozen=True, slots=True)
class Note:
    """A remark, photos or a recording of a spin that belong to no check.

    ``healthy``: the recording is of this machine when it was sound, and is compared with from then
    on. ``parts_due``: the day (ISO 8601) on which parts on order are expected, or empty; until then
    the job waits. ``language``: that of the owner's papers from now on; empty: as before.
    """

    text: Long
    photos: Photos = ()
    recording: Annotated[FileId, BY_PROGRAM] = ""
    # kept with a note, for ordering parts decides nothing and finds nothing
    parts_due: Short = ""
    new_machine_minor: MachinePrice | None = None
    language: Language = ""
    healthy: Annotated[bool, BY_PROGRAM] = False  # said of a recording when it is put down


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of this very machine by their id in the catalog, and how they are known.

    ``errors`` are standard errors of those that were fitted, each in the unit of its figure;
    ``recording`` is what they were fitted to.
    """

    # ids and limits of figures are the catalog's; 40 is more than a family has
    values: Annotated[Mapping[Ident, Number], Count(40, least=1)]
    how: Annotated[How, SentAs(hint=HowByHand)] = "told"
    errors: Annotated[Mapping[str, float], BY_PROGRAM] = field(default_factory=dict)
    note: Long = ""
    recording: Annotated[FileId, BY_PROGRAM] = ""


@dataclass(frozen=True, slots=True)
class Retraction:
    """Takes back an earlier entry by its number.

    ``comeback``: the entry is a closing that was right then, but the machine came back.
    """

    entry: Annotated[int, Whole(1, 10**9)]
    why: Long = ""
    comeback: bool = False


# names of the figures a closing keeps; the ledger reads no others
TERMS = ("bench_rate_minor", "tax_percent", "warranty_months", "parts_minor")
Body = Intake | Finding | RepairDone | Proof | Decision | Closed | Note | Figures | Retraction
# names under which entries are stored; a name once used is never given another meaning
KINDS: Mapping[str, type[Body]] = {
    "intake": Intake,
    "finding": Finding,
    "repair": RepairDone,
    "proof": Proof,
    "decision": Decision,
    "closed": Closed,
    "note": Note,
    "figures": Figures,
    "retraction": Retraction,
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of evidence: its number within the job, when (UTC, ISO 8601), by whom, and what."""

    number: int
    at: str
    by: str
    body: Body


@dataclass(frozen=True, slots=True)
class Job:
    """A job as its evidence. ``standing`` leaves out what was retracted."""

    number: int
    entries: tuple[Entry, ...]

    @property
    def standing(self) -> tuple[Entry, ...]:
        """The entries that hold: neither retracted nor retractions."""
        # a retraction is never itself retracted: only other kinds can be taken back
        gone = {entry.body.entry for entry in self.entries if isinstance(entry.body, Retraction)}
        return tuple(
            e for e in self.entries if e.number not in gone and not isinstance(e.body, Retraction)
        )

    @property
    def intake(self) -> Intake:
        """The latest standing intake (corrections replace it)."""
        return [entry.body for entry in self.standing if isinstance(entry.body, Intake)][-1]

    @property
    def closed(self) -> Closed | None:
        """How the job ended, None where it is open."""
        return next((e.body for e in reversed(self.standing) if isinstance(e.body, Closed)), None)

    @property
    def came_back(self) -> int:
        """Number of the entry by which the machine last came back, 0 if it never did."""
        return max(
            (e.number for e in self.entries if isinstance(e.body, Retraction) and e.body.comeback),
            default=0,
        )

    @property
    def parts_due(self) -> str:
        """The latest day (ISO 8601) on which parts on order are expected, empty for none."""
        return max(
            (e.body.parts_due for e in self.standing if isinstance(e.body, Note)), default=""
        )

    @property
    def new_machine_minor(self) -> int | None:
        """Price of a comparable new machine as last said, None where nobody said one."""
        # an intake put down anew without the price does not take back what was learned before
        said = (e.body for e in reversed(self.standing) if isinstance(e.body, Note | Intake))
        return next((b.new_machine_minor for b in said if b.new_machine_minor is not None), None)

    @property
    def language(self) -> str:
        """The language of papers for the owner as last said (ISO 639-1), empty if never said."""
        said = (e.body for e in reversed(self.standing) if isinstance(e.body, Note | Intake))
        return next((body.language for body in said if body.language), "")

    @property
    def decision(self) -> Decision | None:
        """The latest standing decision, None where nothing was decided."""
        return next((e.body for e in reversed(self.standing) if isinstance(e.body, Decision)), None)
