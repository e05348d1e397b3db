"""What is known of a family of machines, as frozen records read from its file.

Probabilities are 0..1, times minutes, money integer minor units of ``Family.currency``. A *fault
key* is a fault's id or ``id:grade``. ``source`` is one source, or ``field: source; field: source``
where they differ by field.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from counterpoise.catalog.body import Body
from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.check_parts import Reading, SameThing
from counterpoise.catalog.drawing import Drawing
from counterpoise.catalog.family_money import MoneyEntry
from counterpoise.catalog.figure_entry import FigureEntry
from counterpoise.catalog.repair_entries import AssemblyEntry, PartEntry, PartSet, RepairEntry

if TYPE_CHECKING:
    from collections.abc import Mapping

CheckKind = Literal["ask", "look", "feel", "measure", "spin"]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure is from: a published source, or one of the general kinds."""

    id: str
    title: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """Stands before any step that can hurt someone."""

    id: str
    text: str
    source: str
    # can maim or kill: said first, and demanded on every way behind it
    grave: bool = False
    # words that must not stand in a step, title or tool without this caution on the way to it
    words: tuple[str, ...] = ()
    # the small drawing beside it; empty: none
    sketch: str = ""
    # a few words that remind of it, once it was worked under; empty: its id in words
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the owner says; ``leak``: probability of hearing it without any fault of the file.

    Complaints of one ``kin`` are said of one thing (a noise): who names one is silent on the others
    without meaning that they are not there.
    """

    id: str
    title: str
    leak: float
    source: str
    kin: str = ""
    # where it can be tapped on the drawing when a machine comes in; empty: only in the list
    place: str = ""


@dataclass(frozen=True, slots=True)
class Feature:
    """A way in which machines differ (drive, tub); ``share``: probability of each value.

    Only machines with what it ``needs`` differ in it, and ``share`` is among them; of all others
    the value is ``others``.
    """

    id: str
    title: str
    # value -> words for it
    values: Mapping[str, str]
    # sums to 1 over the values, among machines that come in
    share: Mapping[str, float]
    source: str
    needs: Mapping[str, str] = field(default_factory=dict)
    others: str = ""


@dataclass(frozen=True, slots=True)
class Grade:
    """How far a fault has gone; grades of a fault exclude each other."""

    id: str
    title: str
    # of the machines that have the fault; shares of a fault sum to 1
    share: float


@dataclass(frozen=True, slots=True)
class FaultEntry:
    """A fault: how often, at what age, with what complaint.

    ``age`` holds (years, factor) pairs, linear between, that multiply the prior odds.
    ``complaints`` gives, by fault key, the chance of hearing each complaint. ``twin`` names the
    change it makes to the machine as physics, KEY[:SEVERITY[:PART]], and ``twins`` that of a grade.
    """

    id: str
    title: str
    means: str
    assembly: str
    # share of the machines brought in that have it, before the complaint is heard
    prior: float
    source: str
    grades: tuple[Grade, ...] = ()
    age: tuple[tuple[float, float], ...] = ()
    complaints: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    # features without which the fault cannot be there
    needs: Mapping[str, str] = field(default_factory=dict)
    # stands for 'nothing is wrong': never beside another fault
    alone: bool = False
    # makes the machine hardly worth saving; warned of before money is spent
    write_off: bool = False
    twin: str | None = None
    twins: Mapping[str, str] = field(default_factory=dict)
    # which of the groups of causes of a recording it belongs to
    spin_group: str | None = None
    # fault -> factor on the odds of that fault beside this one: what one does to another
    brings: Mapping[str, float] = field(default_factory=dict)
    # why a machine with it is not switched on; empty where it may be
    must_not_run: str = ""
    # why a machine with it is not handed on unrepaired; empty where it may be
    must_not_leave: str = ""
    # where it sits in the drawing; empty: where its assembly does
    place: str = ""

    @property
    def keys(self) -> tuple[str, ...]:
        """The fault keys: one a grade, or the id itself."""
        return tuple(f"{self.id}:{grade.id}" for grade in self.grades) or (self.id,)

    def twin_of(self, key: str) -> str | None:
        """The change that a fault key, with its grade, makes to the machine as physics."""
        return self.twins.get(key.partition(":")[2], self.twin)


@dataclass(frozen=True, slots=True)
class AccessEntry:
    """A panel or position, what it takes to open and close it, and what lies before it."""

    id: str
    title: str
    # minutes; closing is paid once at the end, or when a proof spin shuts the machine
    open_min: float
    close_min: float
    source: str
    # what must be open before; None: reached from outside
    behind: str | None = None
    # hands needed for the position itself, such as leaning the machine back
    people: int = 1
    steps: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    needs: Mapping[str, str] = field(default_factory=dict)
    # the machine is leaned or laid down for it
    tips: bool = False
    place: str = ""
    sketch: str = ""


@dataclass(frozen=True, slots=True)
class CheckEntry:
    """A check in plain steps: outcomes mildest first, and their probabilities by fault key."""

    id: str
    title: str
    kind: CheckKind
    # at the bench, without opening
    minutes: float
    steps: tuple[str, ...]
    question: str
    # outcome -> label; the order carries meaning: noisy-MAX takes the worst
    outcomes: Mapping[str, str]
    # fault key -> outcome -> probability; what a row leaves over is the first outcome
    under: Mapping[str, Mapping[str, float]]
    # the leak: one more independent cause of each worse outcome
    otherwise: Mapping[str, float]
    source: str
    access: str | None = None
    # answers without an order: the row of a fault holds as it stands
    exclusive: bool = False
    # no answer is worse than another: with two faults it speaks of one of them, of each as often
    unordered: bool = False
    people: int = 1
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    needs: Mapping[str, str] = field(default_factory=dict)
    reading: Reading | None = None
    # asked when the machine comes in, while the owner is there
    intake: bool = False
    # the feature of the machine that it tells, whose values are then the outcomes
    tells: str | None = None
    # chance that another value of that feature is reported than the machine has
    error: float = 0.0
    # chance that a finding is read or tapped wrong; None: as usual
    slip: float | None = None
    # share of what it shows that is shown again where it is repeated; None: as its kind has
    same_again: float | None = None
    # the machine is switched on for it and turns; of every spin
    runs: bool = False
    # it is planned only once this check was done: a second, closer look
    after: str | None = None
    # the measurement by hand that it is, KIND or KIND.NUMBER; empty for none
    measures: str = ""
    place: str = ""
    sketch: str = ""
    # how closed jobs set the reader of its recordings: its temperature, and by outcome the weight
    # of its words; empty: as it came
    reader: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Family:
    """All known of one family; ``twin_needs``: only with these features is it the physics' kind."""

    id: str
    title: str
    currency: str
    typical_mass_kg: float
    proof_minutes: float
    # probability that a proof passes although a fault is left
    proof_misses: float
    proof_steps: tuple[str, ...]
    proof_cautions: tuple[str, ...]
    sources: Mapping[str, Source]
    cautions: Mapping[str, Caution]
    complaints: Mapping[str, Complaint]
    features: Mapping[str, Feature]
    faults: Mapping[str, FaultEntry]
    access: Mapping[str, AccessEntry]
    checks: Mapping[str, CheckEntry]
    repairs: Mapping[str, RepairEntry]
    parts: Mapping[str, PartEntry]
    assemblies: Mapping[str, AssemblyEntry]
    proof_source: str = ""
    # what the proving run is called
    proof_title: str = "Proof spin"
    body: Body = field(default_factory=Body)
    # what tables of repair records of others call it, in small letters; empty: by its title
    called: tuple[str, ...] = ()
    figures: Mapping[str, FigureEntry] = field(default_factory=dict)
    same_thing: Mapping[str, SameThing] = field(default_factory=dict)
    twin_needs: Mapping[str, str] = field(default_factory=dict)
    # None: the file says nothing of what its machines are worth
    money: MoneyEntry | None = None
    # parts that live in a set: what condemns it whole, and what allows one piece alone
    sets: Mapping[str, PartSet] = field(default_factory=dict)
    # figures that the workshop changed, and what the whole was read from: the same text, the same
    changes: tuple[ChangedFigure, ...] = ()
    digest: str = ""
    # the machine cut open; None: the file brings no drawing
    drawing: Drawing | None = None

    def features_against(self, has: Mapping[str, str], needs: Mapping[str, str]) -> tuple[str, ...]:
        """Features needed that a machine is known not to have; one not looked at may fit."""
        return tuple(name for name, wanted in needs.items() if has.get(name, wanted) != wanted)

    @property
    def proof_word(self) -> str:
        """What proves a repair, in a sentence: the last word of the proof's title (spin, run)."""
        return self.proof_title.split()[-1].lower()

    @property
    def fault_keys(self) -> tuple[str, ...]:
        """All fault keys in file order: the index order of every array over faults."""
        return tuple(key for fault in self.faults.values() for key in fault.keys)


# the entries of a family are asked for here, wherever they are kept
__all__ = [
    "AccessEntry",
    "AssemblyEntry",
    "Body",
    "Caution",
    "CheckEntry",
    "CheckKind",
    "Complaint",
    "Family",
    "FaultEntry",
    "Feature",
    "FigureEntry",
    "Grade",
    "MoneyEntry",
    "PartEntry",
    "PartSet",
    "Reading",
    "RepairEntry",
    "SameThing",
    "Source",
]
