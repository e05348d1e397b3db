"""The lines of an estimate before tax and rounding: labour, parts, sundries, discounts.

Net amounts are exact fractions of a minor unit here; they become whole minor units only once, in
:mod:`counterpoise.money.estimate`, so that no line is rounded twice.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from counterpoise.errors import InputError
from counterpoise.money.amount import exact, percent
from counterpoise.money.order import Charges, Order, Part, Position, Quality, Task

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

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
# in the order in which they stand in for each other where the wanted quality is not to be had
_QUALITIES: tuple[Quality, ...] = ("new", "pattern", "used")
_QUALITY_WORDS = {"new": "new", "pattern": "new, to pattern", "used": "used, tested"}


@dataclass(frozen=True, slots=True)
class DraftLine:
    """A line before tax and rounding; ``net`` and its standard deviation ``sd`` in minor units."""

    kind: Kind
    id: str
    title: str
    detail: str
    quantity: float
    unit: str
    net: Fraction
    sd: float = 0.0  # of the net, minor units


def needed_positions(tasks: Iterable[Task], positions: Iterable[Position]) -> tuple[Position, ...]:
    """Everything to be opened for these tasks, each once, the outermost first."""
    known = {position.id: position for position in positions}
    needed: dict[str, Position] = {}
    for task in tasks:
        # from the task outwards; turned round below
        chain: list[Position] = []
        at = task.access
        while at is not None and at not in needed:
            # unknown, or a ring of panels behind each other
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
    # an order may list parts that no task uses; only those needed become lines
    known = {part.id: part for part in parts}
    counts: Counter[str] = Counter()
    for task in tasks:
        for key, count in task.parts.items():
            # one set of bearings serves every task that wants it; screws add up
            counts[key] = max(counts[key], count) if _part(known, key).once else counts[key] + count
    queue = list(counts)
    while queue:
        for companion in _part(known, queue.pop()).with_parts:
            # one of each companion, unless a task asks for more of it itself
            if not counts[companion]:
                counts[companion] = 1
                queue.append(companion)
    # a bearing kit holds its seal: not bought a second time
    inside = {key for bought in counts for key in known[bought].includes}
    return {
        # sold in sets: three dampers of a pair are four
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


def labour_lines(order: Order, charges: Charges) -> list[DraftLine]:
    """Labour by the minute: positions opened once, tasks, then what steps and minimum add."""

    def draft(
        kind: Kind, item: tuple[str, str], minutes: float, people: int, spread: float
    ) -> DraftLine:
        # minutes by the clock, paid for every pair of hands
        net = exact(minutes) * people * charges.hourly_minor / 60
        detail = f"{people} people" if people > 1 else ""
        return DraftLine(kind, *item, detail, minutes, "min", net, float(net) * spread)

    drafts = [
        draft(
            # panels are the same every time: a fifth, where tasks have their own (from memory)
            "access",
            (p.id, f"Open and close: {p.title}"),
            p.open_min + p.close_min,
            p.people,
            0.2,
        )
        for p in needed_positions(order.tasks, order.positions)
    ]
    drafts += [draft("labour", (t.id, t.title), t.minutes, t.people, t.spread) for t in order.tasks]
    return [*drafts, *_rounded_up_lines(sum((draft.net for draft in drafts), Fraction(0)), charges)]


def _rounded_up_lines(labour: Fraction, charges: Charges) -> list[DraftLine]:
    """Make the labour up to full steps and to the least that is charged."""
    # in money, exactly: people differ by line, so minutes alone would not do
    step, least = (
        Fraction(minutes * charges.hourly_minor, 60)
        for minutes in (charges.step_minutes, charges.minimum_minutes)
    )
    if not labour:
        return []
    # a step of a minute means 'by the minute', and no rounding up at all
    full = labour if charges.step_minutes == 1 else step * math.ceil(labour / step)
    # a line of its own: the customer sees what was worked and what was made up
    more = max(full, least) - labour
    reasons = (f"in steps of {charges.step_minutes} min",) * (full > labour) + (
        f"at least {charges.minimum_minutes} min",
    ) * (least > full)
    return (
        [DraftLine("steps", "steps", "Made up to what is charged", "; ".join(reasons), 1, "", more)]
        if more
        else []
    )


def part_lines(order: Order, charges: Charges) -> list[DraftLine]:
    """A line per part, at the wanted quality or the next that is to be had. Raises InputError."""
    known = {part.id: part for part in order.parts}
    drafts = []
    for key, count in needed_parts(order.tasks, order.parts).items():
        part = known[key]
        quality, price = _best_offer(part, order.quality.get(key, "new"))
        # mark-up by the piece, unrounded: packs may leave a fraction of a unit
        net = count * (price + percent(price, charges.markup_percent))
        detail = "; ".join(
            text
            for text in (_QUALITY_WORDS[quality], part.notes.get(quality, ""), part.rule)
            if text
        )
        drafts.append(
            DraftLine("part", key, part.title, detail, count, "pc", net, float(net) * part.spread)
        )
    return drafts


def _best_offer(part: Part, wanted: Quality) -> tuple[Quality, int | Fraction]:
    # the wanted one is tried twice, which costs nothing
    for quality in (wanted, *_QUALITIES):
        price = part.price(quality)
        if price is not None:
            return quality, price
    raise InputError(
        f"{part.title!r} has no price", field=part.id, remedy="Give a price, or choose another part"
    )


def lump_line(kind: Kind, title: str, minor: Fraction | int, detail: str = "") -> DraftLine:
    """A line of one amount in minor units, without quantity."""
    return DraftLine(kind, kind, title, detail, 1, "", Fraction(minor))


def sundry_lines(order: Order, charges: Charges) -> list[DraftLine]:
    """Consumables of the tasks, and the call-out where the machine is away."""
    # one line: nobody reads grease by the gram
    small = sum(task.consumables_minor for task in order.tasks)
    drafts = [lump_line("consumables", "Grease, sealant, small material", small)] if small else []
    if order.away and charges.callout_minor:
        drafts.append(lump_line("callout", "Call-out", charges.callout_minor))
    return drafts


def with_line_discounts(drafts: list[DraftLine], charges: Charges) -> list[DraftLine]:
    """The lines, each followed by what comes off it.

    Raises InputError where there is no such line, or too little.
    """
    discounted = list(drafts)
    for discount in charges.line_discounts:
        # a discount is never taken off another discount
        at = [d for d in discounted if d.kind != "discount" and discount.on in {d.id, d.kind}]
        if not at:
            raise InputError(f"discount: there is no line {discount.on!r}", field="discount",
                             remedy=f"Name one of {', '.join(d.id for d in drafts)}")  # fmt: skip
        left = sum((d.net for d in at), Fraction(0))
        less = percent(left, discount.percent) + discount.minor
        # a line below zero would be money given away by a slip
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
        line = DraftLine(
            "discount",
            f"discount:{discount.on}",
            f"Discount on {_small(title)}",
            detail,
            1,
            "",
            -less,
        )
        discounted.insert(discounted.index(at[-1]) + 1, line)
    # the discount stands right below what it is taken off, so that the customer sees it there
    return discounted


def _small(title: str) -> str:
    # 'ABS ring' keeps its capitals within a sentence
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def discount_lines(drafts: list[DraftLine], charges: Charges) -> list[DraftLine]:
    """Lines that take a share and an amount off the total. Raises InputError if it is too much."""
    total = sum((draft.net for draft in drafts), Fraction(0))
    share = percent(total, charges.discount_percent)
    if share + charges.discount_minor > total:
        raise InputError(
            "the discount is more than the work costs", field="discount_minor", remedy="Give less"
        )
    lines = (
        [lump_line("discount", "Discount", -share, f"{charges.discount_percent:g} %")]
        if share
        else []
    )
    if charges.discount_minor:
        lines.append(lump_line("discount", "Discount", -charges.discount_minor, "fixed"))
    return lines
