"""What an estimate is made of: tasks behind panels, parts as they are sold, charges.

Money is integer minor units before tax, times minutes, spreads one standard deviation as a share of
the mean.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Literal, get_args

from counterpoise.errors import InputError
from counterpoise.money.amount import ROUNDINGS, Rounding, exponent

if TYPE_CHECKING:
    from collections.abc import Mapping

# pattern: new, made by others to the maker's measure
Quality = Literal["new", "pattern", "used"]
TaxMode = Literal["added", "included"]
RoundOn = Literal["total", "line"]
TAX_MODES: tuple[TaxMode, ...] = get_args(TaxMode)
ROUND_ON: tuple[RoundOn, ...] = get_args(RoundOn)


@dataclass(frozen=True, slots=True)
class Position:
    """A panel or a way of lying: opened once and closed once, whatever is done behind it."""

    id: str
    title: str
    # minutes by the clock; opening and closing apart, as a plan may stop in between
    open_min: float
    close_min: float
    behind: str | None = None
    people: int = 1


@dataclass(frozen=True, slots=True)
class Task:
    """A piece of work in minutes, behind a position ``access``; ``parts``: pieces by part id."""

    id: str
    title: str
    minutes: float
    access: str | None = None
    people: int = 1
    parts: Mapping[str, int] = field(default_factory=dict)
    consumables_minor: int = 0
    # a third more or less is usual at the bench (from memory)
    spread: float = 0.3


@dataclass(frozen=True, slots=True)
class Part:
    """A part and its prices in minor units: by the maker, to pattern, used (None: not to be had).

    ``set_of``: sold and renewed in this number; ``once``: one serves the whole machine, however
    many tasks want it; ``with_parts``: renewed along with it; ``includes``: parts that come inside
    it and are not bought again. A price may be a fraction: a share of a pack. ``notes`` say of each
    quality where it comes from.
    """

    id: str
    title: str
    # a fraction where one piece of a pack is charged; rounded only on the line
    new_minor: int | Fraction | None = None
    pattern_minor: int | Fraction | None = None
    used_minor: int | Fraction | None = None
    set_of: int = 1
    once: bool = False
    with_parts: tuple[str, ...] = ()
    includes: tuple[str, ...] = ()
    rule: str = ""
    spread: float = 0.1
    notes: Mapping[Quality, str] = field(default_factory=dict)

    def price(self, quality: Quality) -> int | Fraction | None:
        """Price of one in minor units, None where it is not to be had in this quality."""
        return {"new": self.new_minor, "pattern": self.pattern_minor, "used": self.used_minor}[
            quality
        ]


@dataclass(frozen=True, slots=True)
class Discount:
    """A share or an amount off; ``on``: the id of a line, or a kind of lines ("labour", "part")."""

    on: str
    percent: float = 0.0
    minor: int = 0

    def __post_init__(self) -> None:
        if not (0.0 <= self.percent <= 100.0 and self.minor >= 0):
            raise InputError(f"a discount of {self.percent:g} % and {self.minor}", field="discount",
                             remedy="Give 0 to 100 %, or an amount of 0 or more")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Charges:
    """How the workshop charges.

    ``tax_percent`` is the workshop's own setting; nothing here knows tax law.

    ``tax_mode``: tax is ``added`` to rates and prices, or they have it ``included``. ``round_on``:
    the ``total`` is rounded and its lines are made to add up to it, or each ``line`` is, and their
    sum is the total. ``line_discounts`` come off their lines, ``discount_percent`` and
    ``discount_minor`` off what is left of the whole. ``step_minutes``: labour is charged in steps
    of this, rounded up over the whole job; ``minimum_minutes`` at least. ``diagnosis_credited``:
    the fee for the diagnosis is waived where the repair is done. ``cash_step``: smallest coin, in
    minor units. The ceiling is kept with ``ceiling_chance``, but lies no more than
    ``ceiling_over_percent`` above the price (None: as far as it must), and is a multiple of
    ``ceiling_step``.
    """

    hourly_minor: int
    currency: str = "EUR"
    tax_percent: float = 0.0
    markup_percent: float = 0.0
    diagnosis_minor: int = 0
    diagnosis_credited: bool = True
    callout_minor: int = 0
    discount_percent: float = 0.0
    discount_minor: int = 0
    step_minutes: int = 1
    minimum_minutes: int = 0
    rounding: Rounding = "half_up"
    round_on: RoundOn = "total"
    tax_mode: TaxMode = "added"
    line_discounts: tuple[Discount, ...] = ()
    cash_step: int = 1
    ceiling_over_percent: float | None = None
    ceiling_chance: float = 0.95
    ceiling_step: int = 500

    def __post_init__(self) -> None:
        # looked up for its refusal alone: an unknown currency must not reach a bill
        exponent(self.currency)
        if self.rounding not in ROUNDINGS:
            raise InputError(
                f"no rounding {self.rounding!r}", field="rounding", remedy=f"Use one of {ROUNDINGS}"
            )
        if self.round_on not in ROUND_ON or self.tax_mode not in TAX_MODES:
            raise InputError(
                f"no way to round or tax: {self.round_on!r}, {self.tax_mode!r}",
                field="tax_mode",
                remedy=f"Use one of {ROUND_ON} and one of {TAX_MODES}",
            )
        for name in (
            "hourly_minor", "tax_percent", "markup_percent", "diagnosis_minor", "callout_minor",
            "discount_percent", "discount_minor", "minimum_minutes",
        ):  # fmt: skip
            _at_least(self, name, 0)
        for name in ("step_minutes", "cash_step", "ceiling_step"):
            _at_least(self, name, 1)
        if self.discount_percent > 100:
            raise InputError(
                "a discount above 100 %", field="discount_percent", remedy="Give 0 to 100"
            )
        # below a half it would lie under the estimate, at 1 it would be infinite
        if not 0.5 <= self.ceiling_chance < 1.0:
            raise InputError("a ceiling needs a chance from 0.5 to below 1", field="ceiling_chance")


@dataclass(frozen=True, slots=True)
class Worse:
    """Something that may turn up during the work: its chance, and what it adds before tax."""

    title: str
    chance: float
    minutes: float = 0.0
    parts_minor: int = 0


@dataclass(frozen=True, slots=True)
class Order:
    """The work to be estimated.

    ``quality`` by part id; where it is not to be had, the next of new, pattern, used is.

    ``away``: at the customer's, so the call-out is charged. ``free``: done under a guarantee, so
    nothing is charged.
    """

    tasks: tuple[Task, ...]
    positions: tuple[Position, ...] = ()
    parts: tuple[Part, ...] = ()
    quality: Mapping[str, Quality] = field(default_factory=dict)
    worse: tuple[Worse, ...] = ()
    away: bool = False
    free: bool = False

    def __post_init__(self) -> None:
        for kind in ("tasks", "positions", "parts"):
            ids = [item.id for item in getattr(self, kind)]
            # the later of two would silently win in every lookup
            if len(set(ids)) < len(ids):
                raise InputError(
                    f"the same id twice among the {kind}", field=kind, remedy="Give each its own id"
                )
        for task in self.tasks:
            _check_task(task)
        for worse in self.worse:
            if not 0.0 <= worse.chance <= 1.0 or worse.minutes < 0 or worse.parts_minor < 0:
                raise InputError(
                    f"{worse.title!r} is not possible as given",
                    field="worse",
                    remedy="Chance from 0 to 1",
                )
        for part in self.parts:
            # None is 'not to be had'; 0 is honest for what lies on the shelf
            prices = (part.new_minor, part.pattern_minor, part.used_minor)
            if min((price for price in prices if price is not None), default=0) < 0:
                raise InputError(
                    f"{part.title!r} has a negative price", field=part.id, remedy="Give 0 or more"
                )
            _at_least(part, "set_of", 1)


def _check_task(task: Task) -> None:
    for name in ("minutes", "consumables_minor", "spread"):
        _at_least(task, name, 0)
    _at_least(task, "people", 1)
    if any(count < 1 for count in task.parts.values()):
        raise InputError(
            f"{task.title!r} uses fewer than one of a part", field=task.id, remedy="Give 1 or more"
        )


def _at_least(item: object, name: str, least: float) -> None:
    value = getattr(item, name)
    # nan fails both comparisons and is refused as well
    if not least <= value < float("inf"):
        raise InputError(
            f"{name} is {value}", field=name, remedy=f"Give a number of {least} or more"
        )
