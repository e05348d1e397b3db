"""What is computed from a job: suspects, next step, rivals, worth. Shown by page, terminal and sheet alike.

Money is integer minor units, times minutes. Nothing here is stored.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

StepKind = Literal["check", "repair", "proof", "ending"]


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault with its probability and the word for it ("likely", "possible", ...)."""

    fault: str
    title: str
    means: str
    probability: float
    word: str
    grades: tuple[tuple[str, float], ...] = ()  # (grade title, probability)
    write_off: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """A panel still shut, or a position still to be taken up, on the way to a step."""

    access: str
    title: str
    minutes: float  # opening and closing
    people: int
    tools: tuple[str, ...]
    cautions: tuple[
        str, ...
    ]  # texts; before the steps here too, so that whoever reads the JSON meets them first
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer that can be tapped: the outcome's id and label, how likely it is, and what it would lead to."""

    outcome: str
    label: str
    probability: float
    leads_to: str


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do now: a check, a repair, a proof spin, or an ending."""

    kind: StepKind
    id: str
    title: str
    minutes: float  # with opening and closing
    people: int
    tools: tuple[str, ...]
    cautions: tuple[str, ...]  # texts; shown before the panels are opened
    openings: tuple[Opening, ...]
    steps: tuple[str, ...]
    question: str = ""
    answers: tuple[Answer, ...] = ()
    unit: str = ""  # set when the check asks for a number
    quantity: str = ""
    gain_minor: int = 0  # what doing it is worth over the best way without it, after its cost


@dataclass(frozen=True, slots=True)
class Rival:
    """A runner-up and what choosing it would cost."""

    kind: StepKind
    id: str
    title: str
    minutes: float
    loss_minor: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class Turning:
    """A figure at which the choice between the step and the runner-up turns, all else as it is.

    ``kind`` is "chance" (of the fault ``id``), "minutes" (of the step ``id``), "price" (of the part ``id``, minor
    units) or "worth" (of a running machine, minor units). The runner-up is better beyond ``at``, above it if ``more``.
    """

    kind: str
    id: str
    now: float
    at: float
    more: bool
    text: str  # completes "it would be better if ..."


@dataclass(frozen=True, slots=True)
class Contest:
    """What would have to be true for the runner-up to be the better step, both ways held as they are planned now."""

    kind: StepKind
    id: str
    title: str
    turnings: tuple[Turning, ...]


@dataclass(frozen=True, slots=True)
class Insurance:
    """What the careful mode made of the step: what the plan itself would do, and what the difference costs and brings.

    ``cost_minor`` is what the careful step earns less if the catalog is right, ``mean_minor`` what it earns more on
    average over the range of figures, ``worst_minor`` by how much the worst quarter of that range is better.
    """

    kind: str  # of the step without the careful mode
    id: str
    title: str
    cost_minor: int
    mean_minor: int
    worst_minor: int
    text: str


@dataclass(frozen=True, slots=True)
class OptionView:
    """A way to end the job, with its expected value, range, and what it hinges on."""

    id: str
    title: str
    value_minor: int
    low_minor: int
    high_minor: int
    hinges_on: str
    best: bool = False
    available: bool = True
    hinges: tuple[
        str, ...
    ] = ()  # up to three sentences, nearest first: what would flip the choice, and at what value
    days: float = 0.0  # until the money is there, or the machine handed over
    per_hour_minor: int | None = None  # value for an hour at the bench; None where none is needed
    chance_best: float = 0.0
    chance_loss: float = 0.0


@dataclass(frozen=True, slots=True)
class Assessment:
    """All that the bench page shows."""

    job: int
    value_minor: int  # expected net value from here on, of the recommended way
    lower_minor: int
    upper_minor: int
    minutes_so_far: float
    minutes_expected: float
    next: Step | None  # None when the job is closed
    why: str
    stop_reason: str  # filled when no further check could change the decision
    rivals: tuple[Rival, ...]
    suspects: tuple[Suspect, ...]
    options: tuple[OptionView, ...]
    careful: Insurance | None = None  # where the careful mode is on
    contest: Contest | None = None  # what would make the first rival the better step
    warnings: tuple[str, ...] = ()  # findings that contradict each other, what could not be used
