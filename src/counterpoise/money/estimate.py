"""An estimate: lines that add up to the minor unit, tax, a range, and a ceiling.

Either the total is rounded once and its lines are settled so that they add up to it, or each line
is rounded and the total is their sum: the lines add up to the total in every rounding mode, and so
does the tax of the lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from counterpoise.money.amount import exact, round_lines, round_minor, settle, to_step
from counterpoise.money.estimate_lines import (
    DraftLine,
    Kind,
    discount_lines,
    labour_lines,
    lump_line,
    needed_parts,
    needed_positions,
    part_lines,
    sundry_lines,
    with_line_discounts,
)
from counterpoise.money.gross_range import GrossRange, surprise_cost
from counterpoise.money.order import Charges, Order


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


def estimate(order: Order, charges: Charges) -> Estimate:
    """Estimate the work. Raises InputError for an unknown part or place, or one nobody sells."""
    labour = labour_lines(order, charges)
    # in the order in which a customer reads them: work, parts, small things
    drafts = [*labour, *part_lines(order, charges), *sundry_lines(order, charges)]
    # a diagnosis fee that is credited disappears into the repair
    if charges.diagnosis_minor and not charges.diagnosis_credited:
        drafts.append(lump_line("diagnosis", "Finding the fault", charges.diagnosis_minor))
    if order.free:
        return _free(drafts, order, charges)
    # discounts of lines before that of the whole, which is taken off what is left
    drafts = with_line_discounts(drafts, charges)
    drafts += discount_lines(drafts, charges)
    return _total(drafts, order, charges)


def _free(drafts: list[DraftLine], order: Order, charges: Charges) -> Estimate:
    """The same lines and one that takes all of it off again: under guarantee nothing is charged."""
    whole = sum((draft.net for draft in drafts), Fraction(0))
    lines = [
        # nothing is charged whatever it takes, so nothing spreads
        replace(draft, sd=0.0)
        for draft in (*drafts, lump_line("guarantee", "Under our guarantee", -whole))
    ]
    return _total(
        # an empty estimate needs no line that takes nothing off
        lines if whole else [],
        replace(order, worse=()),
        replace(charges, round_on="total"),
    )


def diagnosis_alone(order: Order, charges: Charges) -> Estimate:
    """Estimate what is owed for the diagnosis alone: the fee, and the call-out if away."""
    away = (
        [lump_line("callout", "Call-out", charges.callout_minor)]
        if order.away and charges.callout_minor
        else []
    )
    drafts = [*away, lump_line("diagnosis", "Finding the fault", charges.diagnosis_minor)]
    # no tasks, so no surprises: the fee is fixed
    return _total(drafts, Order(()), charges)


def _total(drafts: list[DraftLine], order: Order, charges: Charges) -> Estimate:
    nets, taxes = _amounts([draft.net for draft in drafts], charges)
    # sums of the printed lines: a customer who adds them up comes to the same
    net, tax = sum(nets), sum(taxes)
    lines = tuple(
        Line(d.kind, d.id, d.title, d.detail, d.quantity, d.unit, one, its_tax)
        for d, one, its_tax in zip(drafts, nets, taxes, strict=True)
    )
    gross = net + tax
    spread = GrossRange.of(gross, drafts, order, charges)
    # never promise a ceiling below the estimate itself
    ceiling = to_step(max(_most(gross, spread, charges), gross), charges.ceiling_step, "up")
    return Estimate(
        currency=charges.currency,
        lines=lines,
        # lines of labour and access; steps and minimum are charged but not worked
        minutes=sum(draft.quantity for draft in drafts if draft.unit == "min"),
        net_minor=net,
        tax_minor=tax,
        gross_minor=gross,
        payable_minor=to_step(gross, charges.cash_step),
        expected_minor=round(spread.mean()),
        # eight times in ten: the range a person can picture
        low_minor=round(spread.quantile(0.1)),
        high_minor=round(spread.quantile(0.9)),
        ceiling_minor=ceiling,
        over_ceiling=spread.above(ceiling),
        tax_percent=charges.tax_percent,
        extras=_extras(order, charges),
    )


def _most(gross: int, spread: GrossRange, charges: Charges) -> int:
    """The most that is promised, before rounding: often enough, and not far above the price."""
    enough = math.ceil(spread.quantile(charges.ceiling_chance))
    # "20.16, at most 180.00" is no promise: what may turn out worse is asked about when it does
    if charges.ceiling_over_percent is None:
        return enough
    return min(enough, math.ceil(gross * (1.0 + charges.ceiling_over_percent / 100.0)))


def _amounts(lines: list[Fraction], charges: Charges) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Net and tax of each line, whole minor units: rounded as the workshop rounds."""
    included = charges.tax_mode == "included"
    rate = exact(charges.tax_percent)
    # tax within an amount of 100 + rate, or on top of 100
    share = rate / (100 + rate) if included else rate / 100
    # by line: each line a till would print; on the total: lines are settled to add up to it
    if charges.round_on == "line":
        whole = tuple(round_minor(line, charges.rounding) for line in lines)
        taxes = tuple(round_minor(one * share, charges.rounding) for one in whole)
    else:
        whole, total = round_lines(lines, charges.rounding)
        # tax of the total is what is owed; the lines' taxes are made to add up to it
        taxes = settle([one * share for one in whole], round_minor(total * share, charges.rounding))
    # included: the gross is what was agreed, so the net takes up the rounding
    nets = tuple(one - tax for one, tax in zip(whole, taxes, strict=True)) if included else whole
    return nets, taxes


def _extras(order: Order, charges: Charges) -> tuple[Extra, ...]:
    return tuple(
        Extra(w.title, w.chance, round(sum(surprise_cost(w, charges)))) for w in order.worse
    )


__all__ = [
    "Estimate",
    "Extra",
    "Line",
    "diagnosis_alone",
    "estimate",
    "needed_parts",
    "needed_positions",
]
