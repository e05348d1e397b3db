"""The usual options for the workshop's own machine and for a customer's, from plain figures.

Workshop: what it earns from here on. Customer: what the owner of the machine gains against having
to buy a new one now, so that "replace" stands at nothing but what is owed already, and a repaired
machine at the years it has left. Money already spent belongs to neither. Arrays hold one figure a
hypothesis (H,).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.errors import InputError
from counterpoise.money.option_model import Floats, Option, OptionCase, Risk, Unknown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

COMES_BACK = "the machine comes back"
FAILS = "the repair does not succeed"


@dataclass(frozen=True, slots=True)
class Repairing:
    """The repair as it would go under each hypothesis, checks on the way included.

    ``minutes`` and ``parts_minor`` (H,) from here on; ``works`` (H,): chance that the machine is
    sound at the end; ``returns`` (H,): chance that it comes back within the guarantee. Spreads are
    shares of the mean. ``lost_minutes`` and ``lost_parts_minor`` (H,): what is spent where it does
    not succeed, if that is not the same (None: it is).
    """

    minutes: Floats
    parts_minor: Floats
    works: Floats
    returns: Floats
    minutes_spread: float = 0.3
    parts_spread: float = 0.1
    days: float = 3.0
    lost_minutes: Floats | None = None
    lost_parts_minor: Floats | None = None

    def spent(self, per_minute: float) -> tuple[Floats, Floats]:
        """Bench time and parts in money, (H,): where it succeeds, and where it does not."""
        # minutes and parts of a repair that succeeds and of one that fails average to those given
        whole = per_minute * self.minutes + self.parts_minor
        if self.lost_minutes is None or self.lost_parts_minor is None:
            return whole, whole
        lost = per_minute * self.lost_minutes + self.lost_parts_minor
        rest = whole - (1.0 - self.works) * lost
        return np.divide(rest, self.works, out=whole.copy(), where=self.works > 0.0), lost

    def __post_init__(self) -> None:
        for name in ("minutes", "parts_minor", "works", "returns"):
            values = getattr(self, name)
            # chances end at 1, amounts nowhere
            top = 1.0 if name in {"works", "returns"} else np.inf
            if not np.all((values >= 0) & (values <= top)):
                raise InputError(
                    f"{name} of the repair is out of range", field=name, remedy="Give 0 or more"
                )


@dataclass(frozen=True, slots=True)
class OwnMachine:
    """A machine that belongs to the workshop; ``rate_minor`` is what an hour at the bench costs."""

    belief: Floats
    repairing: Repairing
    rate_minor: float
    resale_minor: float  # what it sells for, repaired
    as_is_minor: float  # what somebody gives for it unrepaired
    parts_minor: Floats  # what parting out yields (H,)
    parting_minutes: float
    scrap_minor: float
    comeback_minor: float
    selling_minutes: float = 25.0
    resale_spread: float = 0.15
    parts_spread: float = 0.25
    as_is_spread: float = 0.3
    days_to_sell: float = 10.0
    days_to_sell_parts: float = 60.0
    suspects: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    currency: str = "EUR"


@dataclass(frozen=True, slots=True)
class Referral:
    """Somebody else who could do it: ``price_minor`` (H,) to the customer, ``works`` (H,)."""

    price_minor: Floats
    works: Floats
    spread: float = 0.25
    days: float = 10.0


@dataclass(frozen=True, slots=True)
class CustomerMachine:
    """A customer's machine.

    ``price_minor`` (H,) is what the repair would cost the customer, tax included.

    ``worth_minor``: of the working machine (see :mod:`counterpoise.money.worth`); ``owed_minor``:
    the fee for the diagnosis, owed whatever is chosen unless the repair takes it in;
    ``unsuccessful_minor``: what is charged where the repair does not succeed, one number or (H,)
    (None: the whole price). ``as_is_minor``: what the machine is worth to its owner unrepaired (0:
    of no use); ``removal_minor``: what it costs to be rid of it; ``comeback_minor``: what a
    comeback costs it.
    """

    belief: Floats
    repairing: Repairing
    price_minor: Floats
    worth_minor: float
    owed_minor: float
    unsuccessful_minor: float | Floats | None = None
    as_is_minor: float = 0.0
    removal_minor: float = 0.0
    comeback_minor: float = 0.0
    worth_spread: float = 0.2
    price_spread: float = 0.1
    referral: Referral | None = None
    suspects: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    currency: str = "EUR"


def workshop_case(own: OwnMachine) -> OptionCase:
    """Repair and resell, sell as is, part out, scrap."""
    rate, repair = own.rate_minor / 60.0, own.repairing
    # selling takes bench time too: cleaning, photos, showing it
    selling = rate * own.selling_minutes
    parting = own.parts_minor - rate * own.parting_minutes
    # a repair that fails leaves parts or metal: decided once, not by a fact nobody sees
    part_it = float(own.belief @ parting) > own.scrap_minor
    left = parting if part_it else np.full_like(parting, own.scrap_minor)
    spent, lost = repair.spent(rate)
    # a failed repair earns what is left of the machine instead of its price
    sold = own.resale_minor - selling
    fails = Risk(FAILS, 1.0 - repair.works, sold - spent - (left - lost))
    minutes = float(own.belief @ (repair.minutes + repair.works * own.selling_minutes))
    # only a machine that was handed over can come back
    back = Risk(COMES_BACK, repair.works * repair.returns, own.comeback_minor)
    flat = np.ones_like(own.belief)
    options = (
        Option(
            "repair_resell",
            "Repair and resell",
            sold - spent,
            (fails, back),
            repair.days + own.days_to_sell,
            minutes,
        ),
        Option(
            "sell_as_is",
            "Sell as is",
            flat * (own.as_is_minor - selling),
            (),
            5.0,
            own.selling_minutes,
        ),
        Option("part_out", "Part out", parting, (), own.days_to_sell_parts, own.parting_minutes),
        Option("scrap", "Scrap", flat * own.scrap_minor, (), 1.0),
    )
    prices = _workshop_prices(own, part_it=part_it)
    work = _repair_unknowns(own.belief, repair, "repair_resell", -rate)
    unknowns = tuple(item for item in (*prices, *work) if item is not None)
    return OptionCase(own.belief, options, unknowns, own.suspects, own.currency)


def _workshop_prices(own: OwnMachine, *, part_it: bool) -> tuple[Unknown | None, ...]:
    """The prices that nobody knows exactly; ``part_it``: a failed repair is parted out."""
    works, as_is = own.repairing.works, {"sell_as_is": 1.0}
    return (
        _price(
            "resale",
            "the price it sells for",
            own.resale_minor,
            own.resale_spread,
            {"repair_resell": works},
        ),
        _price(
            "as_is", "the price it fetches unrepaired", own.as_is_minor, own.as_is_spread, as_is
        ),
        _shared(
            ("parts_out", "the price its parts fetch", own.belief, own.parts_spread),
            {
                "part_out": own.parts_minor,
                "repair_resell": (1.0 - works) * own.parts_minor * part_it,
            },
            own.parts_minor,
        ),
    )


def customer_case(customer: CustomerMachine) -> OptionCase:
    """Repair and hand back, hand back unrepaired, replace, refer on: from the customer's side."""
    repair, flat, owed = customer.repairing, np.ones_like(customer.belief), customer.owed_minor
    failed = (
        customer.price_minor
        # None: the customer pays whether it works or not
        if customer.unsuccessful_minor is None
        else flat * customer.unsuccessful_minor
    )
    # the years it has left, less what they cost: replacing it stands at zero
    gain = customer.worth_minor - customer.price_minor
    fails = Risk(FAILS, 1.0 - repair.works, gain + failed)
    back = Risk(COMES_BACK, repair.works * repair.returns, customer.comeback_minor)
    minutes = float(customer.belief @ repair.minutes)
    options = [
        Option(
            "repair_hand_back",
            "Repair and hand back",
            gain,
            (fails, back),
            repair.days,
            minutes,
        ),
        Option(
            "replace", "Replace with a new one", flat * -(owed + customer.removal_minor), (), 3.0
        ),
        Option("hand_back", "Hand back unrepaired", flat * (customer.as_is_minor - owed)),
    ]
    # an error in the worth of a running machine moves every way that ends with one
    worth_acts: dict[str, float | Floats] = {"repair_hand_back": repair.works}
    prices: list[Unknown | None] = []
    if customer.referral is not None:
        other = customer.referral
        value = other.works * customer.worth_minor - other.price_minor - owed
        options.append(Option("refer_on", "Refer to another workshop", value, (), other.days))
        worth_acts["refer_on"] = other.works
        about = ("other_price", "the other workshop's price", customer.belief, other.spread)
        prices.append(_shared(about, {"refer_on": -other.price_minor}, other.price_minor))
    # where a failed repair costs something else, only the success is priced by the estimate
    certain = 0.0 if customer.unsuccessful_minor is None else 1.0
    charged = -customer.price_minor * (repair.works * certain + (1.0 - certain))
    about = ("price", "the price of the repair", customer.belief, customer.price_spread)
    prices += [
        _shared(about, {"repair_hand_back": charged}, customer.price_minor),
        _price(
            "worth",
            "the worth of the years it has left",
            customer.worth_minor,
            customer.worth_spread,
            worth_acts,
        ),
    ]
    unknowns = tuple(item for item in prices if item is not None)
    return OptionCase(
        customer.belief, tuple(options), unknowns, customer.suspects, customer.currency
    )


def _price(
    key: str, words: str, mean: float, spread: float, effect: Mapping[str, float | Floats]
) -> Unknown | None:
    # an amount that is nothing, or certain, can flip no choice
    if mean <= 0.0 or spread <= 0.0:
        return None
    return Unknown(key, words, mean, mean * spread, effect, "positive")


def _shared(
    about: tuple[str, str, Floats, float], amounts: Mapping[str, Floats], base: Floats
) -> Unknown | None:
    """An unknown that scales amounts (H,) as a whole; ``amounts``: effect of 100 %, by option."""
    key, words, belief, spread = about
    mean = float(belief @ base)
    return _price(
        key,
        words,
        mean,
        spread,
        {option: value / mean for option, value in amounts.items()} if mean else {},
    )


def _repair_unknowns(
    belief: Floats, repair: Repairing, option: str, per_minute: float
) -> tuple[Unknown | None, ...]:
    mean = float(belief @ repair.minutes)
    minutes = None
    if mean > 0.0 and repair.minutes_spread > 0.0:
        effect = {option: per_minute * repair.minutes / mean}
        minutes = Unknown(
            "minutes",
            "the bench time",
            mean,
            mean * repair.minutes_spread,
            effect,
            "positive",
            "minutes",
        )
    about = ("parts", "the price of the parts", belief, repair.parts_spread)
    return minutes, _shared(about, {option: -repair.parts_minor}, repair.parts_minor)
