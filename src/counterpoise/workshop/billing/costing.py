"""What the work on a job costs: repairs of the catalog as tasks, panels and parts, handed to the money room.

What the checks have opened already is not charged again, and a panel that two repairs share is charged once. The spin
that proves the work is labour like any other. What is mended under the guarantee is shown and costs nothing. Faults
that the work does not cover are what may turn out worse; those that end a machine are not: there one stops and asks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

from counterpoise.catalog.family import Family, FaultEntry, RepairEntry
from counterpoise.errors import InputError
from counterpoise.money.amount import Rounding, read
from counterpoise.money.estimate import Estimate, estimate, needed_parts, needed_positions
from counterpoise.money.order import (
    Charges,
    Discount,
    Order,
    Part,
    Position,
    Quality,
    RoundOn,
    Task,
    TaxMode,
    Worse,
)
from counterpoise.money.part_offers import QUALITIES, Offer
from counterpoise.reasoning.belief import marginals
from counterpoise.workshop.diagnosis.family_model import fits, within_reach, works_under
from counterpoise.workshop.diagnosis.part_texts import provenance
from counterpoise.workshop.diagnosis.problem import Prices
from counterpoise.workshop.diagnosis.replay import Situation, panels_for, replay
from counterpoise.workshop.jobs.comeback import guaranteed, since_comeback
from counterpoise.workshop.jobs.entries import CANNOT_REACH, Finding, Job, Proof, RepairDone
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.offers import NOTHING, Choice, Supply, bare_parts

COVERED = 0.5  # work that cures a fault at least this surely is held to deal with it
LIKELY = 0.5  # beside the leading suspect, faults at least this likely are mended too
WORRYING = 0.05  # a fault less likely than this is not reckoned among what may turn out worse
_CLOSE = 0.1  # of two repairs that cure nearly as surely, the cheaper one
_MOST_WORSE = 5


@dataclass(frozen=True)
class Terms:
    """What is agreed for one job: used parts where they can be had, discounts, and whether a guarantee is waived.

    A discount reads "10%" or "12.50" off the whole, "labour:10%" or "replace_belt:5" off a kind of lines or one line.
    ``kinds``: (part, new or pattern or used) for single parts; ``supply``: what the parts can be had for.
    """

    used: bool = False
    discounts: tuple[str, ...] = ()
    charged: bool = False
    kinds: tuple[tuple[str, str], ...] = ()
    supply: Supply = NOTHING

    def choice(self, family: Family) -> Choice:
        """Which parts are chosen. Raises InputError for a part or kind that is not known."""
        return Choice(self.supply, self.used, checked_kinds(family, self.kinds))


AS_USUAL = Terms()


@dataclass(frozen=True)
class Costing:
    """Work on a job and what it costs. ``works``: chance that the machine is right afterwards; ``done``: repair ids.

    ``own``: what the same work costs the workshop: bench time and parts. ``free``: it is done under the guarantee.
    ``needed``: how many of each part, and the offer reckoned with.
    """

    repairs: tuple[RepairEntry, ...]
    done: frozenset[str]
    works: float
    order: Order
    charges: Charges
    estimate: Estimate
    own: Estimate
    free: bool = False
    needed: Mapping[str, tuple[int, Offer]] = field(default_factory=dict)


def estimate_of(
    family: Family, settings: Settings, job: Job, repairs: Sequence[str] | None = None
) -> Estimate:
    """Estimate these repairs; without them, those done so far and those for the leading suspects. Raises InputError."""
    return cost(family, settings, job, repairs).estimate


def cost(
    family: Family,
    settings: Settings,
    job: Job,
    repairs: Sequence[str] | None = None,
    *,
    advised: str = "",
    terms: Terms = AS_USUAL,
    situation: Situation | None = None,
) -> Costing:
    """Cost the repairs named, else those :func:`advised_work` chooses. Raises InputError, also for the terms.

    ``situation``: the job replayed already.
    """
    situation = situation or replay(family, settings, job)
    prices = Prices.of(situation, settings, terms.supply)
    work = _named(situation, repairs) if repairs else advised_work(situation, prices, job, advised)
    done = _done(family, job)
    free = not terms.charged and guaranteed(job, settings)
    order = order_of(situation, prices, job, work)
    needed = chosen_offers(family, order.tasks, terms.choice(family))
    own_order = replace(_sourced(order, needed, own=True), away=False)
    order, own_charges = _sourced(order, needed), charges_of(settings, "workshop")
    charges = with_discounts(charges_of(settings, situation.intake.owner), terms.discounts)
    held = float(
        situation.probabilities @ works_under(situation.base, [e for e in work if e.id not in done])
    )
    asked, own = estimate(replace(order, free=free), charges), estimate(own_order, own_charges)
    return Costing(work, frozenset(done), min(1.0, held), order, charges, asked, own, free, needed)


def charges_of(settings: Settings, owner: str) -> Charges:
    """How the workshop charges a customer; for its own machine, what the work costs it."""
    if owner == "workshop":
        return Charges(settings.bench_rate_minor, settings.currency)
    return Charges(
        settings.labour_rate_minor,
        settings.currency,
        tax_percent=settings.tax_percent,
        markup_percent=settings.parts_markup_percent,
        diagnosis_minor=settings.diagnosis_fee_minor,
        diagnosis_credited=settings.diagnosis_credited,
        callout_minor=settings.callout_minor,
        step_minutes=settings.step_minutes,
        minimum_minutes=settings.minimum_minutes,
        rounding=cast("Rounding", settings.rounding),
        round_on=cast("RoundOn", settings.round_on),
        tax_mode=cast("TaxMode", settings.tax_mode),
        cash_step=settings.cash_step_minor,
        ceiling_chance=settings.ceiling_percent / 100.0,
        ceiling_step=settings.ceiling_step_minor,
    )


def with_discounts(charges: Charges, discounts: Iterable[str]) -> Charges:
    """The charges with discounts as :class:`Terms` writes them. Raises InputError for what cannot be read."""
    whole, lines = Discount(""), []
    for text in discounts:
        on, _, much = text.rpartition(":")
        one = _discount(on.strip(), much.strip(), charges.currency)
        if one.on:
            lines.append(one)
        else:
            whole = Discount("", whole.percent + one.percent, whole.minor + one.minor)
    return replace(
        charges,
        line_discounts=tuple(lines),
        discount_percent=whole.percent,
        discount_minor=whole.minor,
    )


def _discount(on: str, much: str, currency: str) -> Discount:
    if not much.endswith("%"):
        return Discount(on, minor=read(much, currency))
    try:
        return Discount(on, percent=float(much[:-1].replace(",", ".")))
    except ValueError:
        raise InputError(
            f"discount: {much[:20]!r} is no share",
            field="discount",
            remedy="Write it like 10% or 12.50",
        ) from None


def advised_work(
    situation: Situation, prices: Prices, job: Job, advised: str = ""
) -> tuple[RepairEntry, ...]:
    """What was done so far; while the machine is not right, also the plan's repair and those for what is likely.

    ``advised``: id of the repair that the plan has come to, if it has. Raises InputError where nothing can be mended.
    """
    family = situation.base.family
    work = dict.fromkeys(_done(family, job))
    if not work or not (situation.proven or situation.proof_due or job.closed):
        work |= dict.fromkeys(_planned(situation, prices, advised))
    if not work:
        raise InputError(
            "no suspect can be mended here",
            field="repair",
            remedy="Name a repair, or look for the fault first",
        )
    return tuple(family.repairs[key] for key in work)


def order_of(situation: Situation, prices: Prices, job: Job, work: Sequence[RepairEntry]) -> Order:
    """Tasks, the panels still closed, parts at catalog prices, and what may turn out worse."""
    family = situation.base.family
    shop = _Shop(family, _opened_by_checks(family, job), _done(family, job))
    return Order(
        tasks=(*(shop.task(entry) for entry in work), proof_task(family, job)),
        positions=shop.positions(),
        parts=shop.parts(),
        worse=_worse(situation, prices, shop, work),
        away=situation.intake.away,
    )


def checked_kinds(family: Family, kinds: Iterable[tuple[str, str]]) -> dict[str, Quality]:
    """Kinds of parts by id, as they were chosen. Raises InputError for a part or kind that is not known."""
    found: dict[str, Quality] = {}
    for part, kind in kinds:
        if part not in family.parts:
            hint = did_you_mean(part[:60], family.parts)
            raise InputError(f"part: there is no {part[:60]!r}", field="part", remedy=hint)
        known = next((one for one in QUALITIES if one == kind), None)
        if known is None:
            raise InputError(
                f"part: {kind[:40]!r} is no kind", field="part", remedy="Say new, pattern or used"
            )
        found[part] = known
    return found


def chosen_offers(
    family: Family, tasks: Sequence[Task], choice: Choice
) -> dict[str, tuple[int, Offer]]:
    """How many of each part these tasks need, and the offer reckoned with."""
    wanted = needed_parts(tasks, bare_parts(family))
    return {key: (count, choice.offer(family.parts[key], count)) for key, count in wanted.items()}


def _sourced(order: Order, needed: Mapping[str, tuple[int, Offer]], *, own: bool = False) -> Order:
    """The order with its parts at the offers; ``own``: at what they cost the workshop."""
    offers = {key: offer.to_the_workshop if own else offer for key, (_, offer) in needed.items()}
    parts = tuple(
        _priced(part, offers[part.id]) if part.id in offers else part for part in order.parts
    )
    return replace(
        order, parts=parts, quality={key: offer.quality for key, offer in offers.items()}
    )


def _priced(part: Part, offer: Offer) -> Part:
    priced = replace(part, set_of=offer.pack, notes={offer.quality: provenance(offer)})
    if offer.quality == "new":
        return replace(priced, new_minor=offer.each_minor)
    if offer.quality == "used":
        return replace(priced, used_minor=offer.each_minor)
    return replace(priced, pattern_minor=offer.each_minor)


def order_for(family: Family, work: Sequence[RepairEntry]) -> Order:
    """Work on a machine that is shut, with its proof; no job in particular."""
    shop = _Shop(family, frozenset(), {})
    proof = Task("proof", "Spin that proves it", family.proof_minutes)
    return Order((*(shop.task(entry) for entry in work), proof), shop.positions(), shop.parts())


def proof_task(family: Family, job: Job) -> Task:
    """The spin that proves the work: as long as the last one that ran true took, else as long as it should take."""
    took = [
        e.body.minutes for e in since_comeback(job) if isinstance(e.body, Proof) and e.body.passed
    ]
    known = took[-1] if took else None
    minutes = family.proof_minutes if known is None else known
    return Task("proof", "Spin that proves it", minutes, spread=0.0 if took else 0.2)


def done_tasks(family: Family, job: Job) -> tuple[tuple[Task, ...], tuple[Part, ...]]:
    """The repairs done as tasks, and the parts of the catalog."""
    shop = _Shop(family, frozenset(), _done(family, job))
    return tuple(shop.task(family.repairs[key]) for key in shop.done), shop.parts()


@dataclass(frozen=True)
class _Shop:
    """The catalog as the money room takes it. ``open``: panels opened already; ``done``: minutes of repairs done."""

    family: Family
    open: frozenset[str]
    done: dict[str, float | None]

    def task(self, entry: RepairEntry) -> Task:
        took = self.done.get(entry.id)
        return Task(
            entry.id,
            entry.title,
            entry.minutes if took is None else took,
            self._closed(entry.access),
            entry.people,
            entry.parts,
            entry.consumables_minor,
            **({"spread": 0.0} if entry.id in self.done else {}),
        )

    def positions(self) -> tuple[Position, ...]:
        return tuple(
            Position(a.id, a.title, a.open_min, a.close_min, self._closed(a.behind), a.people)
            for a in self.family.access.values()
        )

    def parts(self) -> tuple[Part, ...]:
        return tuple(
            Part(p.id, p.title, p.price_minor, used_minor=p.used_minor, once=not p.each, with_parts=p.with_parts,
                 rule=p.rule)
            for p in self.family.parts.values()
        )  # fmt: skip

    def _closed(self, access: str | None) -> str | None:
        return None if access in self.open else access


def best_repair(situation: Situation, prices: Prices, fault: FaultEntry) -> RepairEntry | None:
    """The repair that cures a fault most surely, as far as it has gone; of those nearly as sure, the cheapest."""
    chances, settings = _grade_shares(situation, fault), prices.settings
    rated = [
        (sure, prices.repair_cost(entry) + _opening_cost(prices, entry), entry)
        for entry in situation.base.family.repairs.values()
        if (sure := _cures(entry, fault, chances)) > 0.0
        and entry.id not in situation.tried
        and fits(entry.needs, situation.intake.features)
        and within_reach(entry, settings.people, settings.tools)
    ]
    if not rated:
        return None
    best = max(sure for sure, _, _ in rated)
    return min((one for one in rated if one[0] >= best - _CLOSE), key=lambda one: one[1])[2]


def fault_chances(situation: Situation) -> dict[str, float]:
    """Chance of each fault by its id, the grades together, the likeliest first."""
    base = situation.base
    by_key = dict(
        zip(
            base.hypotheses.fault_ids,
            marginals(situation.probabilities, base.hypotheses).tolist(),
            strict=True,
        )
    )
    totals = {
        fault.id: sum(by_key[key] for key in fault.keys) for fault in base.family.faults.values()
    }
    return dict(sorted(totals.items(), key=lambda pair: -pair[1]))


def _named(situation: Situation, repairs: Sequence[str]) -> tuple[RepairEntry, ...]:
    family = situation.base.family
    for key in repairs:
        if key not in family.repairs:
            titles = {name: entry.title for name, entry in family.repairs.items()}
            raise InputError(
                f"repair: there is no {key[:60]!r}",
                field="repair",
                remedy=did_you_mean(key[:60], titles),
            )
        if not fits(family.repairs[key].needs, situation.intake.features):
            raise InputError(
                f"repair: {family.repairs[key].title!r} does not fit this machine",
                field="repair",
                remedy="Choose another, or correct the intake",
            )
    return tuple(family.repairs[key] for key in dict.fromkeys(repairs))


def _planned(situation: Situation, prices: Prices, advised: str) -> list[str]:
    family = situation.base.family
    work = [advised] if advised in family.repairs else []
    for key, chance in fault_chances(situation).items():
        if work and chance < LIKELY:
            break
        entry = best_repair(situation, prices, family.faults[key])
        if entry and not _covers(
            situation, [family.repairs[one] for one in work], family.faults[key]
        ):
            work.append(entry.id)
    return work


def _covers(situation: Situation, work: Iterable[RepairEntry], fault: FaultEntry) -> bool:
    shares = _grade_shares(situation, fault)
    return any(_cures(entry, fault, shares) >= COVERED for entry in work)


def _cures(entry: RepairEntry, fault: FaultEntry, shares: dict[str, float]) -> float:
    """How surely a repair cures a fault that has gone so far."""
    whole = entry.cures.get(fault.id, 0.0)
    return sum(entry.cures.get(key, whole) * share for key, share in shares.items())


def _grade_shares(situation: Situation, fault: FaultEntry) -> dict[str, float]:
    """How far a fault has gone, if it is there: share by fault key."""
    base = situation.base
    chance = marginals(situation.probabilities, base.hypotheses)
    found = {key: float(chance[base.hypotheses.fault_ids.index(key)]) for key in fault.keys}
    total = sum(found.values())
    return (
        {key: value / total for key, value in found.items()}
        if total > 0
        else dict.fromkeys(found, 1 / len(found))
    )


def _opening_cost(prices: Prices, entry: RepairEntry) -> float:
    known = {panel.id: panel for panel in prices.panels()}
    return sum(
        known[key].open + known[key].close for key in panels_for(prices.family, entry.access)
    )


def _worse(
    situation: Situation, prices: Prices, shop: _Shop, work: Sequence[RepairEntry]
) -> tuple[Worse, ...]:
    found: list[Worse] = []
    for key, chance in fault_chances(situation).items():
        fault = shop.family.faults[key]
        if chance < WORRYING or len(found) == _MOST_WORSE:
            break
        entry = best_repair(situation, prices, fault)
        if (
            entry
            and entry not in work
            and not fault.write_off
            and not _covers(situation, work, fault)
        ):
            found.append(
                Worse(fault.title, min(1.0, chance), *_adds(shop, prices.supply, work, entry))
            )
    return tuple(found)


def _adds(
    shop: _Shop, supply: Supply, work: Sequence[RepairEntry], more: RepairEntry
) -> tuple[float, int]:
    """Minutes of hands and parts, in minor units, that one more repair adds to the work."""
    before, after = (
        [shop.task(entry) for entry in work],
        [shop.task(entry) for entry in (*work, more)],
    )
    known, parts_of = shop.parts(), shop.family.parts

    def minutes(tasks: Sequence[Task]) -> float:
        ways = needed_positions(tasks, shop.positions())
        return sum((p.open_min + p.close_min) * p.people for p in ways) + sum(
            t.minutes * t.people for t in tasks
        )

    def parts(tasks: Sequence[Task]) -> int:
        small = sum(task.consumables_minor for task in tasks)
        wanted = needed_parts(tasks, known).items()
        return small + sum(
            supply.best(parts_of[key], count).total_minor(count) for key, count in wanted
        )

    # a dearer piece reserved for the job may no longer do where two are needed
    return minutes(after) - minutes(before), max(0, parts(after) - parts(before))


def _done(family: Family, job: Job) -> dict[str, float | None]:
    """The repairs done (since it came back), with the minutes they took where somebody put them down."""
    bodies = [entry.body for entry in since_comeback(job)]
    return {
        b.repair: b.minutes
        for b in bodies
        if isinstance(b, RepairDone) and b.repair in family.repairs
    }


def _opened_by_checks(family: Family, job: Job) -> frozenset[str]:
    """Panels that a check was the first to open: finding the fault has paid for them."""
    by_checks: set[str] = set()
    by_repairs: set[str] = set()
    for body in (entry.body for entry in since_comeback(job)):
        if (
            isinstance(body, Finding)
            and body.check in family.checks
            and body.outcome != CANNOT_REACH
        ):
            by_checks |= set(panels_for(family, family.checks[body.check].access)) - by_repairs
        elif isinstance(body, RepairDone) and body.repair in family.repairs:
            by_repairs |= set(panels_for(family, family.repairs[body.repair].access)) - by_checks
    return frozenset(by_checks)
