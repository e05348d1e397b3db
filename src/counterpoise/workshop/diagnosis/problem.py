"""The money side of a job as an abstract problem: what each check and repair costs, what each ending is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from counterpoise.catalog.family import AssemblyEntry, CheckEntry, Family, RepairEntry
from counterpoise.money import Replacement, Weibull
from counterpoise.money.estimate import needed_parts
from counterpoise.money.order import Part, Task
from counterpoise.money.part_offers import share_of_worth
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats, Hypotheses
from counterpoise.reasoning.model import Access, Ending, Retest
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import fits, within_reach
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NOTHING, Supply, bare_parts, whole_ones

DROPPED = 0.004  # share of belief in sets of faults too rare to plan for
MOST_SETS = 320
WORKING_ENDING = {"workshop": "repair_resell", "customer": "repair_hand_back"}


@dataclass(frozen=True)
class Prices:
    """What time, parts and endings are worth for this job, in minor units. ``supply``: where its parts come from."""

    family: Family
    settings: Settings
    owner: str
    age_years: float
    supply: Supply = NOTHING

    @classmethod
    def of(cls, situation: Situation, settings: Settings, supply: Supply = NOTHING) -> Prices:
        """Return those of a job where it stands."""
        return cls(
            situation.base.family, settings, situation.intake.owner, situation.age_years, supply
        )

    @property
    def minute(self) -> float:
        """A minute at the bench."""
        return self.settings.bench_rate_minor / 60.0

    @property
    def repair_minute(self) -> float:
        """A minute of repair: what it costs the workshop, or what the customer pays for it."""
        if self.owner == "workshop":
            return self.minute
        return self.settings.labour_rate_minor / 60.0 * self.with_tax

    @property
    def with_tax(self) -> float:
        """Gross over net for a customer, 1 for the workshop's own machine."""
        added = self.owner == "customer" and self.settings.tax_mode == "added"
        return 1.0 + self.settings.tax_percent / 100.0 if added else 1.0

    @property
    def parts_factor(self) -> float:
        """What a part costs here over its catalog price."""
        if self.owner == "workshop":
            return 1.0
        return (1.0 + self.settings.parts_markup_percent / 100.0) * self.with_tax

    @cached_property
    def replacement(self) -> Replacement:
        """A comparable new machine."""
        s = self.settings
        return Replacement(
            s.new_machine_minor, Weibull(s.life_shape, s.life_scale_years), s.discount_rate_percent
        )

    @property
    def resale(self) -> float:
        """What the machine would sell for, repaired."""
        kept_a_year = 1.0 - self.settings.resale_fall_percent / 100.0
        return self.settings.resale_new_minor * float(kept_a_year**self.age_years)

    @property
    def working(self) -> float:
        """Value of a machine that runs true."""
        if self.owner == "workshop":
            return self.resale - self.settings.selling_minutes * self.minute
        return self.replacement.worth_minor(self.age_years)

    @property
    def as_is(self) -> float:
        """What somebody gives for it unrepaired."""
        return self.resale * self.settings.as_is_percent / 100.0

    def material_minor(self, entry: RepairEntry) -> int:
        """Parts and consumables of a repair before mark-up and tax: each part the cheapest way this machine allows.

        What is renewed along with a part is among them.
        """
        parts, best = self.family.parts, self.supply.best
        bought = sum(
            best(parts[key], count).total_minor(count) for key, count in self.wanted(entry).items()
        )
        return bought + entry.consumables_minor

    def wanted(self, entry: RepairEntry) -> Mapping[str, int]:
        """How many of each part a repair takes, with those renewed along."""
        return needed_parts([Task(entry.id, entry.title, 0.0, parts=entry.parts)], self._bare)

    @cached_property
    def _bare(self) -> tuple[Part, ...]:
        return bare_parts(self.family)

    def repair_cost(self, entry: RepairEntry) -> float:
        """Labour, parts and consumables of a repair, without opening."""
        labour = entry.minutes * entry.people * self.repair_minute
        return labour + self.material_minor(entry) * self.parts_factor

    def assembly_minor(self, entry: AssemblyEntry) -> float:
        """What taking a good assembly off is expected to bring: as far as parts sell, less bench time.

        With as many on the shelf as are plenty, one more brings nothing; with some, so much less.
        """
        stocked = whole_ones(self.family, entry, self.supply.on_shelf)
        share = (
            share_of_worth(stocked, self.settings.plenty_on_shelf)
            * self.settings.parts_sold_percent
            / 100.0
        )
        return share * entry.value_minor - entry.minutes * self.minute

    def check_cost(self, entry: CheckEntry) -> float:
        """Bench time of a check, without opening."""
        return entry.minutes * entry.people * self.minute

    def panels(self) -> tuple[Access, ...]:
        """The panels and positions with what opening and closing them costs."""
        return tuple(
            Access(
                a.id,
                a.open_min * a.people * self.minute,
                a.close_min * a.people * self.minute,
                a.behind,
            )
            for a in self.family.access.values()
        )


def build_problem(situation: Situation, settings: Settings, supply: Supply = NOTHING) -> Problem:
    """What there is to decide now, over every set of faults of the family."""
    base, family = situation.base, situation.base.family
    prices = Prices.of(situation, settings, supply)
    checks = [
        entry
        for entry in family.checks.values()
        if entry.id not in situation.done
        and fits(entry.needs, situation.intake.features)
        and within_reach(entry, settings.people, settings.tools)
    ]
    repairs = [
        entry
        for entry in family.repairs.values()
        if entry.id not in situation.tried
        and fits(entry.needs, situation.intake.features)
        and within_reach(entry, settings.people, settings.tools)
    ]
    endings, values = ending_values(situation, prices)
    # a machine that comes back has not earned what a sound one does, and costs the way, the bench and the good name
    comeback = max(0.0, prices.working) + settings.comeback_minor
    opened = sum(1 << i for i, name in enumerate(family.access) if name in situation.opened)
    return Problem(
        hypotheses=base.hypotheses,
        prior=situation.probabilities,
        checks=tuple(replace(base.checks[e.id], cost=prices.check_cost(e)) for e in checks),
        repairs=tuple(replace(base.repairs[e.id], cost=prices.repair_cost(e)) for e in repairs),
        access=prices.panels(),
        endings=endings,
        retest=Retest(family.proof_minutes * prices.repair_minute, family.proof_misses, comeback),
        working=prices.working,
        tables=tuple(base.tables[e.id] for e in checks),
        transitions=tuple(base.moves[e.id] for e in repairs),
        ending_values=values,
        opened=opened,
    )


def ending_values(situation: Situation, prices: Prices) -> tuple[tuple[Ending, ...], Floats]:
    """The ways to stop short of a repair, with (E, H) what each is worth under each set of faults."""
    count = len(situation.base.hypotheses.sets)
    if situation.intake.owner == "workshop":
        selling = prices.as_is - prices.settings.selling_minutes * prices.minute
        rows = {
            "sell_as_is": np.full(count, selling),
            "part_out": parting_value(situation, prices, situation.base.hypotheses)
            + prices.settings.scrap_minor,
            "scrap": np.full(count, float(prices.settings.scrap_minor)),
        }
    else:
        # against buying a new machine now: being left with a broken one, or buying, gains nothing
        rows = {"replace": np.zeros(count), "hand_back": np.full(count, -1.0)}
    return tuple(Ending(name) for name in rows), np.array(list(rows.values()))


def parting_value(situation: Situation, prices: Prices, hypotheses: Hypotheses) -> Floats:
    """(H,) what stripping the machine yields: each good assembly that repays its minutes, as far as parts sell."""
    value = np.zeros(len(hypotheses.sets))
    for assembly in prices.family.assemblies.values():
        if not fits(assembly.needs, situation.intake.features):
            continue
        share = 1.0
        for feature, needed in assembly.needs.items():
            if feature not in situation.intake.features:
                share *= prices.family.features[feature].share[needed]
        good = hypotheses.product_over(
            np.array([1.0 - assembly.spoiled_by.get(k, 0.0) for k in hypotheses.fault_ids])
        )
        value += share * max(0.0, prices.assembly_minor(assembly)) * good
    return value


@dataclass(frozen=True)
class Thought:
    """A finished piece of planning over the likeliest sets of faults; ``dropped`` is the share of belief left out."""

    problem: Problem
    look: Lookahead
    dropped: float


def think(problem: Problem, effort: Effort) -> Thought:
    """Plan over the likeliest sets of faults."""
    smaller, dropped = problem.narrowed(DROPPED, MOST_SETS)
    look = Lookahead(smaller, pair=True)
    look.plan(effort)
    return Thought(smaller, look, float(dropped.sum()))


def number_of(problem: Problem, action: Action) -> int:
    """The planner's number of an action: checks first, then repairs, then endings."""
    checks, repairs = [c.id for c in problem.checks], [r.id for r in problem.repairs]
    if action.kind == "check":
        return checks.index(action.id)
    if action.kind == "repair":
        return len(checks) + repairs.index(action.id)
    return len(checks) + len(repairs) + [e.id for e in problem.endings].index(action.id)
