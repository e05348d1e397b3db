"""What a customer's quote is written from, and what it says: figures in, sentences out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from counterpoise.money.estimate import Estimate
    from counterpoise.money.guarantee import Cover
    from counterpoise.money.worth import Rule


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A fault, what it means in a sentence, and its chance."""

    title: str
    means: str
    chance: float


@dataclass(frozen=True, slots=True)
class Doubts:
    """Why a machine may not be right after the work; the chances sum to that of it.

    ``cause``: it is another than the work is for. ``repair``: it does not hold. ``beside``: another
    fault is there as well.
    """

    cause: float = 0.0
    repair: float = 0.0
    beside: float = 0.0


class WayOut(Protocol):
    """A way to end the job as it was weighed: value in minor units, best or not, open or not."""

    @property
    def id(self) -> str:
        """Which way, as the money room names it."""

    @property
    def title(self) -> str:
        """The way in words."""

    @property
    def value_minor(self) -> int:
        """What it is expected to be worth."""

    @property
    def best(self) -> bool:
        """Whether it is the best of those open."""

    @property
    def available(self) -> bool:
        """Whether it is open for this job."""


@dataclass(frozen=True, slots=True)
class Guarantee:
    """What the workshop gives: ``months`` within the price, ``longer`` ones offered on top."""

    cover: Cover
    months: int
    longer: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class QuoteCase:
    """All that goes into a quote; ``works``: chance that the repair makes the machine right.

    ``fee_minor`` (gross) is owed where the customer says no. ``options`` are those of the
    customer's side, ``rules`` those of :func:`counterpoise.money.worth.rules`; both may be left
    out. ``free``: done under the guarantee. ``still_to_do``: the check that goes before a price
    can be promised, empty where none does. ``forbidden``: why the machine must not be used as it
    is. ``doubts``: what the rest of ``works`` is about.
    """

    suspicions: tuple[Suspicion, ...]
    work: tuple[str, ...]
    estimate: Estimate
    works: float
    fee_minor: int = 0
    options: tuple[WayOut, ...] = ()
    rules: tuple[Rule, ...] = ()
    guarantee: Guarantee | None = None
    valid_days: int = 14
    free: bool = False
    still_to_do: str = ""
    forbidden: tuple[str, ...] = ()
    doubts: Doubts = field(default_factory=Doubts)
    # what the run that proves it is called, in a sentence
    proof: str = "proof spin"


@dataclass(frozen=True, slots=True)
class Quote:
    """Sentences by heading, and the two amounts that count, in minor units of ``currency``.

    ``first`` says that it is a first estimate, and until when; empty where it is a quote.
    ``leaving``: why and how a machine that must not be used leaves unrepaired.
    """

    first: tuple[str, ...]
    wrong: tuple[str, ...]
    sure: str
    work: tuple[str, ...]
    cost: tuple[str, ...]
    at_most: tuple[str, ...]
    worse: tuple[str, ...]
    worth: tuple[str, ...]
    alternatives: tuple[str, ...]
    guarantee: tuple[str, ...]
    leaving: tuple[str, ...]
    valid: str
    price_minor: int
    ceiling_minor: int
    currency: str
