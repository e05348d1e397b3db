"""An estimate: lines that add up to the minor unit, tax, a range, and a ceiling.

Either the total is rounded once and its lines are settled so that they add up to it, or each line
is rounded and the total is their sum: the lines add up to the total in every rounding mode, and so
does the tax of the lines.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from scipy.stats import norm

from counterpoise.errors import InputError
from counterpoise.money.amount import exact, percent, round_lines, round_minor, settle, to_step
from counterpoise.money.order import Charges, Order, Part, Position, Quality, Task, Worse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

Kind = Literal[
    "access",
    "labour",
    "steps",
    "part",
    "consumables",
    "callout",
    "diagnosis",
    "discount",
    "guarantee",
]
_QUALITIES: tuple[Quality, ...] = ("new", "pattern", "used")
_QUALITY_WORDS = {"new": "new", "pattern": "new, to pattern", "used": "used, tested"}
_MOST_WORSE = 10
_LABOUR_SPREAD, _PRICE_SPREAD = 0.3, 0.1  # of what turns up on the way (from memory)


@dataclass(frozen=True, slots=True)
class Line:
    """A line: ``quantity`` in ``unit`` ("min", "pc", ""); net, tax and gross in minor units."""

    kind: Kind
    id: str
    title: str
    detail: str
    quantity: float
    unit: str
    net_minor: int
    tax_minor: int

    @property
    def gross_minor(self) -> int:
        """Net and tax."""
        return self.net_minor + self.tax_minor


@dataclass(frozen=True, slots=True)
class Extra:
    """What may turn out worse: its chance, and what it adds to the gross."""

    title: str
    chance: float
    gross_minor: int


@dataclass(frozen=True, slots=True)
class Estimate:
    """Lines and totals in minor units; ``payable_minor`` is the gross rounded to the smallest coin.

    ``minutes`` are by the clock.

    Eight times in ten the gross lies from ``low_minor`` to ``high_minor``: minutes and prices that
    err, and what may turn out worse. ``expected_minor`` is its mean. ``over_ceiling`` is the chance
    of more than ``ceiling_minor``.
    """

    currency: str
    lines: tuple[Line, ...]
    minutes: float
    net_minor: int
    tax_minor: int
    gross_minor: int
    payable_minor: int
    expected_minor: int
    low_minor: int
    high_minor: int
    ceiling_minor: int
    over_ceiling: float
    tax_percent: float
    extras: tuple[Extra, ...] = ()


@dataclass(frozen=True, slots=True)
class _Draft:
    kind: Kind
    id: str
    title: str
    detail: str
    quantity: float
    unit: str
    net: Fraction
    sd: float = 0.0  # of the net, minor units


def estimate(order: Order, charges: Charges) -> Estimate:
    """Estimate the work. Raises InputError for an unknown part or place, or one nobody sells."""
    labour = _labour(order, charges)
    drafts = [*labour, *_parts(order, charges), *_sundries(order, charges)]
    if charges.diagnosis_minor and not charges.diagnosis_credited:
        drafts.append(_lump("diagnosis", "Finding the fault", charges.diagnosis_minor))
    if order.free:
        return _free(drafts, order, charges)
    drafts = _line_discounts(drafts, charges)
    drafts += _discounts(drafts, charges)
    return _total(drafts, order, charges)


def _free(drafts: list[_Draft], order: Order, charges: Charges) -> Estimate:
    """The same lines and one that takes all of it off again: under guarantee nothing is charged."""
    whole = sum((draft.net for draft in drafts), Fraction(0))
    lines = [
        replace(draft, sd=0.0)
        for draft in (*drafts, _lump("guarantee", "Under our guarantee", -whole))
    ]
    return _total(
        lines if whole else [], replace(order, worse=()), replace(charges, round_on="total")
    )


def diagnosis_alone(order: Order, charges: Charges) -> Estimate:
    """Estimate what is owed for the diagnosis alone: the fee, and the call-out if away."""
    away = (
        [_lump("callout", "Call-out", charges.callout_minor)]
        if order.away and charges.callout_minor
        else []
    )
    drafts = [*away, _lump("diagnosis", "Finding the fault", charges.diagnosis_minor)]
    return _total(drafts, Order(()), charges)


def needed_positions(tasks: Iterable[Task], positions: Iterable[Position]) -> tuple[Position, ...]:
    """Everything to be opened for these tasks, each once, the outermost first."""
    known = {position.id: position for position in positions}
    needed: dict[str, Position] = {}
    for task in tasks:
        chain: list[Position] = []
        at = task.access
        while at is not None and at not in needed:
            if at not in known or known[at] in chain:
                raise InputError(
                    f"{task.title!r} lies behind {at!r}, which cannot be reached", field="access"
                )
            chain.append(known[at])
            at = known[at].behind
        needed.update({position.id: position for position in reversed(chain)})
    return tuple(needed.values())


def needed_parts(tasks: Iterable[Task], parts: Iterable[Part]) -> dict[str, int]:
    """Pieces of each part to buy: sets completed, parts renewed along, those inside left out."""
    known = {part.id: part for part in parts}
    counts: Counter[str] = Counter()
    for task in tasks:
        for key, count in task.parts.items():
            counts[key] = max(counts[key], count) if _part(known, key).once else counts[key] + count
    queue = list(counts)
    while queue:
        for companion in _part(known, queue.pop()).with_parts:
            if not counts[companion]:
                counts[companion] = 1
                queue.append(companion)
    inside = {key for bought in counts for key in known[bought].includes}
    return {
        k: known[k].set_of * math.ceil(n / known[k].set_of)
        for k, n in counts.items()
        if k not in inside
    }


def _part(known: Mapping[str, Part], key: str) -> Part:
    if key not in known:
        raise InputError(
            f"no part {key!r}", field="parts", remedy="Add it to the parts, with a price"
        )
    return known[key]


def _labour(order: Order, charges: Charges) -> list[_Draft]:
    def draft(
        kind: Kind, item: tuple[str, str], minutes: float, people: int, spread: float
    ) -> _Draft:
        net = exact(minutes) * people * charges.hourly_minor / 60
        detail = f"{people} people" if people > 1 else ""
        return _Draft(kind, *item, detail, minutes, "min", net, float(net) * spread)

    drafts = [
        draft(
            "access", (p.id, f"Open and close: {p.title}"), p.open_min + p.close_min, p.people, 0.2
        )
        for p in needed_positions(order.tasks, order.positions)
    ]
    drafts += [draft("labour", (t.id, t.title), t.minutes, t.people, t.spread) for t in order.tasks]
    return [*drafts, *_made_up(sum((draft.net for draft in drafts), Fraction(0)), charges)]


def _made_up(labour: Fraction, charges: Charges) -> list[_Draft]:
    """Make the labour up to full steps and to the least that is charged."""
    step, least = (
        Fraction(minutes * charges.hourly_minor, 60)
        for minutes in (charges.step_minutes, charges.minimum_minutes)
    )
    if not labour:
        return []
    full = labour if charges.step_minutes == 1 else step * math.ceil(labour / step)
    more = max(full, least) - labour
    reasons = (f"in steps of {charges.step_minutes} min",) * (full > labour) + (
        f"at least {charges.minimum_minutes} min",
    ) * (least > full)
    return (
        [_Draft("steps", "steps", "Made up to what is charged", "; ".join(reasons), 1, "", more)]
        if more
        else []
    )


def _parts(order: Order, charges: Charges) -> list[_Draft]:
    known = {part.id: part for part in order.parts}
    drafts = []
    for key, count in needed_parts(order.tasks, order.parts).items():
        part = known[key]
        quality, price = _offer(part, order.quality.get(key, "new"))
        net = count * (price + percent(price, charges.markup_percent))
        detail = "; ".join(
            text
            for text in (_QUALITY_WORDS[quality], part.notes.get(quality, ""), part.rule)
            if text
        )
        drafts.append(
            _Draft("part", key, part.title, detail, count, "pc", net, float(net) * part.spread)
        )
    return drafts


def _offer(part: Part, wanted: Quality) -> tuple[Quality, int | Fraction]:
    for quality in (wanted, *_QUALITIES):
        price = part.price(quality)
        if price is not None:
            return quality, price
    raise InputError(
        f"{part.title!r} has no price", field=part.id, remedy="Give a price, or choose another part"
    )


def _lump(kind: Kind, title: str, minor: Fraction | int, detail: str = "") -> _Draft:
    return _Draft(kind, kind, title, detail, 1, "", Fraction(minor))


def _sundries(order: Order, charges: Charges) -> list[_Draft]:
    small = sum(task.consumables_minor for task in order.tasks)
    drafts = [_lump("consumables", "Grease, sealant, small material", small)] if small else []
    if order.away and charges.callout_minor:
        drafts.append(_lump("callout", "Call-out", charges.callout_minor))
    return drafts


def _line_discounts(drafts: list[_Draft], charges: Charges) -> list[_Draft]:
    """The lines, each followed by what comes off it.

    Raises InputError where there is no such line, or too little.
    """
    found = list(drafts)
    for discount in charges.line_discounts:
        at = [d for d in found if d.kind != "discount" and discount.on in {d.id, d.kind}]
        if not at:
            raise InputError(f"discount: there is no line {discount.on!r}", field="discount",
                             remedy=f"Name one of {', '.join(d.id for d in drafts)}")  # fmt: skip
        left = sum((d.net for d in at), Fraction(0))
        less = percent(left, discount.percent) + discount.minor
        if less > left:
            raise InputError(
                "the discount is more than the line costs", field="discount", remedy="Give less"
            )
        title = (
            at[0].title
            if len(at) == 1
            else {"labour": "labour", "part": "parts"}.get(discount.on, discount.on)
        )
        detail = f"{discount.percent:g} %" if discount.percent else "fixed"
        line = _Draft(
            "discount",
            f"discount:{discount.on}",
            f"Discount on {_small(title)}",
            detail,
            1,
            "",
            -less,
        )
        found.insert(found.index(at[-1]) + 1, line)
    return found


def _small(title: str) -> str:
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def _discounts(drafts: list[_Draft], charges: Charges) -> list[_Draft]:
    total = sum((draft.net for draft in drafts), Fraction(0))
    share = percent(total, charges.discount_percent)
    if share + charges.discount_minor > total:
        raise InputError(
            "the discount is more than the work costs", field="discount_minor", remedy="Give less"
        )
    found = (
        [_lump("discount", "Discount", -share, f"{charges.discount_percent:g} %")] if share else []
    )
    if charges.discount_minor:
        found.append(_lump("discount", "Discount", -charges.discount_minor, "fixed"))
    return found


def _total(drafts: list[_Draft], order: Order, charges: Charges) -> Estimate:
    nets, taxes = _amounts([draft.net for draft in drafts], charges)
    net, tax = sum(nets), sum(taxes)
    lines = tuple(
        Line(d.kind, d.id, d.title, d.detail, d.quantity, d.unit, one, its_tax)
        for d, one, its_tax in zip(drafts, nets, taxes, strict=True)
    )
    gross = net + tax
    spread = _Spread.of(gross, drafts, order, charges)
    top = max(math.ceil(spread.quantile(charges.ceiling_chance)), gross)
    ceiling = to_step(top, charges.ceiling_step, "up")
    return Estimate(
        charges.currency, lines, sum(d.quantity for d in drafts if d.unit == "min"), net, tax, gross,
        to_step(gross, charges.cash_step), round(spread.mean()), round(spread.quantile(0.1)),
        round(spread.quantile(0.9)), ceiling, spread.above(ceiling), charges.tax_percent, _extras(order, charges),
    )  # fmt: skip


def _amounts(lines: list[Fraction], charges: Charges) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Net and tax of each line, whole minor units: rounded as the workshop rounds."""
    included = charges.tax_mode == "included"
    rate = exact(charges.tax_percent)
    share = rate / (100 + rate) if included else rate / 100
    if charges.round_on == "line":
        whole = tuple(round_minor(line, charges.rounding) for line in lines)
        taxes = tuple(round_minor(one * share, charges.rounding) for one in whole)
    else:
        whole, total = round_lines(lines, charges.rounding)
        taxes = settle([one * share for one in whole], round_minor(total * share, charges.rounding))
    nets = tuple(one - tax for one, tax in zip(whole, taxes, strict=True)) if included else whole
    return nets, taxes


def _factor(charges: Charges) -> float:
    """Turn a charge before the discount in per cent into a gross."""
    tax = charges.tax_percent if charges.tax_mode == "added" else 0.0
    return (1.0 - charges.discount_percent / 100.0) * (1.0 + tax / 100.0)


def _more(worse: Worse, charges: Charges) -> tuple[float, float]:
    """Gross labour and parts that it adds if it turns up."""
    markup = 1.0 + charges.markup_percent / 100.0
    factor = _factor(charges)
    return factor * charges.hourly_minor / 60.0 * worse.minutes, factor * markup * worse.parts_minor


def _extras(order: Order, charges: Charges) -> tuple[Extra, ...]:
    return tuple(Extra(w.title, w.chance, round(sum(_more(w, charges)))) for w in order.worse)


@dataclass(frozen=True, slots=True)
class _Spread:
    """The gross as a mixture of normal laws (weight, mean, sd), one per set of surprises."""

    parts: tuple[tuple[float, float, float], ...]

    @classmethod
    def of(cls, gross: int, drafts: list[_Draft], order: Order, charges: Charges) -> _Spread:
        if len(order.worse) > _MOST_WORSE:
            raise InputError(
                f"more than {_MOST_WORSE} things that may turn out worse",
                field="worse",
                remedy="Name the likeliest",
            )
        base = sum((_factor(charges) * draft.sd) ** 2 for draft in drafts)
        amounts = [_more(worse, charges) for worse in order.worse]
        parts = []
        for happened in itertools.product((False, True), repeat=len(order.worse)):
            weight, mean, variance = 1.0, float(gross), base
            for worse, (labour, price), is_so in zip(order.worse, amounts, happened, strict=True):
                weight *= worse.chance if is_so else 1.0 - worse.chance
                mean += is_so * (labour + price)
                variance += is_so * ((_LABOUR_SPREAD * labour) ** 2 + (_PRICE_SPREAD * price) ** 2)
            if weight > 0.0:
                parts.append((weight, mean, math.sqrt(variance)))
        return cls(tuple(parts))

    def mean(self) -> float:
        return sum(weight * mean for weight, mean, _ in self.parts)

    def above(self, value: float) -> float:
        """Chance of more than ``value``."""
        return float(
            sum(
                w * (norm.sf((value - m) / sd) if sd else float(m > value))
                for w, m, sd in self.parts
            )
        )

    def quantile(self, chance: float) -> float:
        low = min(mean - 9.0 * sd for _, mean, sd in self.parts)
        high = max(mean + 9.0 * sd for _, mean, sd in self.parts)
        return _bisect(lambda value: self.above(value) <= 1.0 - chance, low, high)


def _bisect(reached: Callable[[float], bool], low: float, high: float) -> float:
    """Find the least value that is ``reached``, to a thousandth of a minor unit."""
    if reached(low):
        return low
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high
