"""What is computed from a job: suspects, next step, rivals, worth; for page, terminal, sheet, JSON.

Money is integer minor units, times minutes. Nothing here is stored, but field names are those of
the JSON that is sent: they stay as they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

StepKind = Literal["check", "repair", "proof", "ending"]


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault with its probability and the word for it ("likely", "possible", ...).

    ``grades``: (title, probability) of how far it has gone.
    """

    fault: str
    title: str
    means: str
    probability: float
    word: str
    grades: tuple[tuple[str, float], ...] = ()
    write_off: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """A panel still shut, or a position still to be taken up, on the way to a step.

    ``minutes`` for opening and closing. The cautions stand before the steps, in the JSON too, so
    that whoever reads it meets them first.
    """

    access: str
    title: str
    minutes: float
    people: int
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer that can be tapped: the outcome's id and label, its probability, what it leads to.

    ``leads_to`` is the step that is advised after it, planned as it will be then; empty where it
    was not looked ahead, or the answer is hardly possible. Probability 0 where the step is not the
    plan's own.
    """

    outcome: str
    label: str
    probability: float
    leads_to: str


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do now: a check, a repair, a proof spin, or an ending.

    ``minutes`` with opening and closing. The texts of ``cautions`` stand before the panels and
    steps. ``unit`` and ``quantity`` are set where a check asks for a number. ``gain_minor``: what
    doing it is worth over the best way without it, after its cost. ``forbidden``: why the machine
    must not be run for it; while that is not acknowledged, what is to be done is ``withheld``.
    """

    kind: StepKind
    id: str
    title: str
    minutes: float
    people: int
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    openings: tuple[Opening, ...]
    steps: tuple[str, ...]
    question: str = ""
    answers: tuple[Answer, ...] = ()
    unit: str = ""
    quantity: str = ""
    gain_minor: int = 0
    forbidden: tuple[str, ...] = ()
    withheld: bool = False


@dataclass(frozen=True, slots=True)
class Rival:
    """A runner-up, its minutes with opening and closing, and what choosing it costs on average.

    ``loss_minor`` comes from the same machines worked through to the end under both first steps;
    ``error_minor`` is the standard error of that difference, and within it the two are
    ``about_as_good``. A loss below 0 is a gain.
    """

    kind: StepKind
    id: str
    title: str
    minutes: float
    loss_minor: int
    note: str = ""
    error_minor: int = 0
    about_as_good: bool = False


@dataclass(frozen=True, slots=True)
class Threshold:
    """A figure at which the choice between the step and the runner-up turns, all else as it is.

    ``kind`` is "chance" (of the fault ``id``), "minutes" (of the step ``id``), "price" (of the part
    ``id``, minor units) or "worth" (of a running machine, minor units). The runner-up is better
    beyond ``at``, above it if ``more``. ``text`` completes "it would be better if ...".
    """

    kind: str
    id: str
    now: float
    at: float
    more: bool
    text: str


@dataclass(frozen=True, slots=True)
class Contest:
    """What would have to be true for the runner-up to be the better step.

    Both ways are held as they are planned now; any one of ``turnings`` alone turns the choice.
    """

    kind: StepKind
    id: str
    title: str
    turnings: tuple[Threshold, ...]


@dataclass(frozen=True, slots=True)
class CarefulComparison:
    """The careful mode's step beside the plan's own (``kind``, ``id``, ``title``).

    ``cost_minor`` is what the careful step earns less if the catalog is right, ``mean_minor`` what
    it earns more on average over the range of figures, ``worst_minor`` by how much the worst
    quarter of that range is better.
    """

    kind: str
    id: str
    title: str
    cost_minor: int
    mean_minor: int
    worst_minor: int
    text: str


@dataclass(frozen=True, slots=True)
class OptionView:
    """A way to end the job, with its expected value, range, and what it hinges on.

    ``hinges``: up to three sentences, nearest first: what would flip the choice, and at what value.
    ``days`` until the money is there or the machine handed over; ``per_hour_minor``: value for an
    hour at the bench, None where none is needed.
    """

    id: str
    title: str
    value_minor: int
    low_minor: int
    high_minor: int
    hinges_on: str
    best: bool = False
    available: bool = True
    hinges: tuple[str, ...] = ()
    days: float = 0.0
    per_hour_minor: int | None = None
    chance_best: float = 0.0
    chance_loss: float = 0.0


@dataclass(frozen=True, slots=True)
class StrangePair:
    """Two findings that hardly go together, by their checks, and what they say.

    ``chance``: of a finding as strange as the first beside all others. ``against`` is empty where
    no single finding speaks against it. ``repeat`` is the check to be done again, empty for none,
    and ``minutes`` what that takes with opening.
    """

    check: str
    title: str
    outcome: str
    against: str
    against_title: str
    against_outcome: str
    chance: float
    repeat: str
    minutes: float
    text: str


@dataclass(frozen=True, slots=True)
class Assessment:
    """All that the bench page shows.

    ``value_minor`` is the expected net value of going on as advised, all that is still to come
    counted, with its standard error ``error_minor``, surely between ``lower_minor`` and
    ``upper_minor``; ``ahead`` says in words what going on comes to, ``likely_end`` is the ending it
    most likely comes to. ``options`` are the ways as they stand now, each begun without a further
    check. ``next`` is None when the job is closed. ``stop_reason`` is
    filled when no further check could change the decision. ``careful`` is there where the careful
    mode is on, ``contest`` where something near by would make the first rival the better step.
    ``warnings``: findings that contradict each other, what could not be used. ``contradictions``:
    the same findings one by one. ``changed``: figures behind all this that the workshop changed.
    ``forbidden``: of the warnings, what must not be run or handed on.
    """

    job: int
    value_minor: int
    lower_minor: int
    upper_minor: int
    minutes_so_far: float
    minutes_expected: float
    next: Step | None
    why: str
    stop_reason: str
    rivals: tuple[Rival, ...]
    suspects: tuple[Suspect, ...]
    options: tuple[OptionView, ...]
    careful: CarefulComparison | None = None
    contest: Contest | None = None
    warnings: tuple[str, ...] = ()
    contradictions: tuple[StrangePair, ...] = ()
    error_minor: int = 0
    forbidden: tuple[str, ...] = ()
    likely_end: str = ""
    ahead: str = ""
    changed: tuple[str, ...] = ()

    @property
    def checking(self) -> bool:
        """Whether a check is advised: then nothing is decided yet."""
        return self.next is not None and self.next.kind == "check"

    @property
    def ways_title(self) -> str:
        """What stands over the options: while a check is advised they do without it."""
        now = "The ways as they stand now"
        return f"{now}, without a further check" if self.checking else now

    @property
    def best_mark(self) -> str:
        """What the best of the options is marked with."""
        return "best without it" if self.checking else "best today"
