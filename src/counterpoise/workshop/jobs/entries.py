"""What is stored of a job: an append-only list of findings. Everything else is computed from it.

An entry is never edited; :class:`Retraction` takes one back. Times are UTC and ISO 8601, money integer minor units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Owner = Literal["customer", "workshop"]
How = Literal["told", "plate", "counted", "measured", "fitted"]
COULD_NOT_TELL = "could_not_tell"
CANNOT_REACH = "cannot_reach"


@dataclass(frozen=True, slots=True)
class Intake:
    """The first entry of every job. ``paid_minor`` is what the workshop paid for the machine, if anything.

    ``promised`` is the day it was promised for (ISO 8601), or empty. ``away``: worked on at the owner's place.
    ``used_parts``: the owner agrees to used parts.
    """

    family: str
    owner: Owner
    title: str
    complaints: tuple[str, ...]
    age_years: float | None = None
    features: Mapping[str, str] = field(default_factory=dict)
    maker: str = ""
    model: str = ""
    serial: str = ""
    contact: str = ""
    story: str = ""
    paid_minor: int = 0
    promised: str = ""
    away: bool = False
    used_parts: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check showed: an outcome's id, ``could_not_tell`` or ``cannot_reach``; or a number with its error.

    ``weights`` holds soft evidence over the outcomes (a recording of a spin); empty where the outcome is plain.
    """

    check: str
    outcome: str
    reading: float | None = None
    reading_sd: float | None = None
    weights: tuple[float, ...] = ()
    minutes: float | None = None
    note: str = ""
    photos: tuple[str, ...] = ()
    recording: str = ""


@dataclass(frozen=True, slots=True)
class RepairDone:
    """A repair was carried out."""

    repair: str
    minutes: float | None = None
    note: str = ""
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof spin was run, and ran true or not."""

    passed: bool
    minutes: float | None = None
    note: str = ""
    recording: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """What was decided: one of the option ids of the money room; ``agreed_minor`` the price agreed, if any.

    Where a customer answered a quote: ``quoted_minor`` its price, ``ceiling_minor`` the most it may come to without
    asking, ``repairs`` the work it was for, ``agreed_by`` who said yes or no (declined: ``agreed_minor`` is the fee),
    ``told`` the words of the quote, ``photos`` the signed paper, if there is one. ``used_parts``: they agreed to those.
    """

    option: str
    agreed_minor: int | None = None
    why: str = ""
    quoted_minor: int | None = None
    ceiling_minor: int | None = None
    repairs: tuple[str, ...] = ()
    agreed_by: str = ""
    told: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    used_parts: bool = False


@dataclass(frozen=True, slots=True)
class Closed:
    """The job is over: how, what was found to be wrong, what it brought in.

    ``terms``: the workshop's figures at that time, by name (see :data:`TERMS`), so that its books never change.
    """

    ending: str
    faults: tuple[str, ...] = ()
    received_minor: int | None = None
    note: str = ""
    terms: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Note:
    """A remark, photos or a recording of a spin that belong to no check.

    ``healthy``: the recording is of this machine when it was sound, and is compared with from then on.
    ``parts_due``: the day (ISO 8601) on which parts on order are expected, or empty; until then the job waits.
    """

    text: str
    photos: tuple[str, ...] = ()
    recording: str = ""
    parts_due: str = ""
    healthy: bool = False


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of this very machine by their id in the catalog (mass, dampers, spin speed), and how they are known.

    ``errors`` are standard errors of those that were fitted, ``recording`` what they were fitted to.
    """

    values: Mapping[str, float]
    how: How = "told"
    errors: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    recording: str = ""


@dataclass(frozen=True, slots=True)
class Retraction:
    """Takes back an earlier entry by its number.

    ``comeback``: the entry is a closing that was right then, but the machine came back.
    """

    entry: int
    why: str = ""
    comeback: bool = False


TERMS = ("bench_rate_minor", "tax_percent", "warranty_months", "parts_minor")
Body = Intake | Finding | RepairDone | Proof | Decision | Closed | Note | Figures | Retraction
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
    """One line of evidence: its number within the job, when, by whom, and what."""

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
        """How the job ended, if it did."""
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
        """The latest day on which parts on order are expected, empty if none were ordered."""
        return max(
            (e.body.parts_due for e in self.standing if isinstance(e.body, Note)), default=""
        )

    @property
    def decision(self) -> Decision | None:
        """The latest standing decision."""
        return next((e.body for e in reversed(self.standing) if isinstance(e.body, Decision)), None)
