"""What time, parts and endings are worth for one job: catalog minutes at the workshop's rates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from counterpoise.catalog.family import AssemblyEntry, CheckEntry, Family, RepairEntry
from counterpoise.money import Replacement
from counterpoise.money.estimate import needed_parts
from counterpoise.money.order import Part, Task
from counterpoise.money.part_offers import share_of_worth
from counterpoise.reasoning.model import Access
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.family_money import FamilyMoney, money_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NO_SUPPLY, Supply, bare_parts, complete_assemblies


@dataclass(frozen=True)
class Prices:
    """What time, parts and endings are worth for one job, in minor units.

    ``owner`` "workshop" or "customer"; ``supply``: where its parts come from; ``new_minor``: a new
    machine to compare with, None for the usual one of its
    family; ``free``: mended under the
    guarantee.
    """

    family: Family
    settings: Settings
    owner: str
    age_years: float
    supply: Supply = NO_SUPPLY
    new_minor: int | None = None
    free: bool = False

    @classmethod
    def of(cls, situation: Situation, settings: Settings, supply: Supply = NO_SUPPLY) -> Prices:
        """The prices of a job where it stands."""
        intake = situation.intake
        return cls(
            situation.family,
            settings,
            intake.owner,
            situation.age_years,
            supply,
            intake.new_machine_minor,
            situation.free,
        )

    @property
    def minute(self) -> float:
        """What a minute at the bench costs the workshop, in minor units."""
        return self.settings.bench_rate_minor / 60.0

    @property
    def repair_minute(self) -> float:
        """Minor units for a minute of repair: its cost to the workshop, or the customer's price."""
        # a customer pays labour with tax; what finding the fault takes is the workshop's own time.
        # Under the guarantee the workshop bears it all, at its own cost
        if self.owner == "workshop" or self.free:
            return self.minute
        return self.settings.labour_rate_minor / 60.0 * self.with_tax

    @property
    def with_tax(self) -> float:
        """Gross over net for a customer, 1 for the workshop's own machine."""
        # where tax is included in prices, they are gross already
        added = self.owner == "customer" and self.settings.tax_mode == "added"
        return 1.0 + self.settings.tax_percent / 100.0 if added else 1.0

    @property
    def parts_factor(self) -> float:
        """Ratio of what a part costs here to its catalog price: a customer's mark-up and tax."""
        if self.owner == "workshop" or self.free:
            return 1.0
        return (1.0 + self.settings.parts_markup_percent / 100.0) * self.with_tax

    @cached_property
    def money(self) -> FamilyMoney:
        """What machines of its family are worth, cost anew and live, in this workshop."""
        return money_of(self.family, self.settings)

    @property
    def comes_back(self) -> float:
        """Minor units that are lost where it is handed over repaired and comes back."""
        # a machine that comes back has not earned what a sound one does, and costs the way, the
        # bench and the good name
        return max(0.0, self.working) + self.money.comeback_minor

    @cached_property
    def replacement(self) -> Replacement:
        """A comparable new machine: price in minor units, law of lives, discount rate."""
        # a large or a built-in machine costs more than the usual one: then the job says how much
        new_minor = self.money.new_machine_minor if self.new_minor is None else self.new_minor
        return Replacement(new_minor, self.money.life, self.settings.discount_rate_percent)

    @property
    def resale(self) -> float:
        """Minor units that the machine would sell for, repaired; each year takes the same share."""
        # geometric, so that a machine of any age is worth something and none is worth less than 0
        kept_a_year = 1.0 - self.money.resale_fall_percent / 100.0
        return self.money.resale_new_minor * float(kept_a_year**self.age_years)

    @property
    def working(self) -> float:
        """Minor units that a machine running true is worth: its sale, or what its owner saves."""
        # its own machine is worth what it sells for, less the bench time of selling it
        if self.owner == "workshop":
            return self.resale - self.selling
        # its owner would have to buy another: the years left, at what a new one costs a year
        return self.replacement.worth_minor(self.age_years)

    @property
    def owed(self) -> float:
        """Minor units that a customer owes for finding the fault, unless it is repaired here."""
        # a fee that is charged beside the repair as well is owed in any case, and weighs nothing
        # between the ways; nor does the call-out
        if self.owner == "workshop" or self.free or not self.settings.diagnosis_credited:
            return 0.0
        return self.settings.diagnosis_fee_minor * self.with_tax

    @property
    def as_is(self) -> float:
        """What somebody gives for it unrepaired, in minor units."""
        return self.resale * self.money.as_is_percent / 100.0

    @property
    def selling(self) -> float:
        """Bench time of selling the machine, repaired or not, in minor units."""
        return self.money.selling_minutes * self.minute

    def material_minor(self, entry: RepairEntry) -> int:
        """Parts and consumables of a repair in minor units, before mark-up and tax.

        Each part the cheapest way this machine allows; what is renewed along with it is among them.
        """
        parts, best = self.family.parts, self.supply.best
        # a part that many repairs share is counted in full by each: a plan takes one at a time
        bought = sum(
            best(parts[key], count).total_minor(count) for key, count in self.wanted(entry).items()
        )
        return bought + entry.consumables_minor

    def wanted(self, entry: RepairEntry) -> Mapping[str, int]:
        """Count of each part that a repair takes, with those renewed along."""
        # without minutes: only which parts bring others matters here
        return needed_parts([Task(entry.id, entry.title, 0.0, parts=entry.parts)], self._bare_parts)

    # asked for with every repair of every plan, and always the same
    @cached_property
    def _bare_parts(self) -> tuple[Part, ...]:
        return bare_parts(self.family)

    def repair_cost(self, entry: RepairEntry) -> float:
        """Labour, parts and consumables of a repair in minor units, without opening."""
        # opening is costed by the panel, since several steps may share it
        labour = entry.minutes * entry.people * self.repair_minute
        return labour + self.material_minor(entry) * self.parts_factor

    def assembly_minor(self, entry: AssemblyEntry) -> float:
        """What taking a good assembly off is expected to bring, in minor units, less bench time.

        Parts sell only so far. With as many on the shelf as are plenty, one more brings nothing;
        with some, so much less.
        """
        stocked = complete_assemblies(self.family, entry, self.supply.on_shelf)
        # one of two parts on the shelf sells first: a further one waits, so it is worth less
        share = (
            share_of_worth(stocked, self.settings.plenty_on_shelf)
            * self.settings.parts_sold_percent
            / 100.0
        )
        return share * entry.value_minor - entry.minutes * self.minute

    def check_cost(self, entry: CheckEntry) -> float:
        """Bench time of a check in minor units, without opening; a customer does not pay for it."""
        return entry.minutes * entry.people * self.minute

    def panels(self) -> tuple[Access, ...]:
        """The panels and positions with what opening and closing them costs, in minor units."""
        return tuple(
            Access(
                panel.id,
                # at the bench rate also for a customer: the planner cannot know who is charged for
                # a panel, which depends on whether a check or a repair opens it first
                panel.open_min * panel.people * self.minute,
                panel.close_min * panel.people * self.minute,
                panel.behind,
            )
            for panel in self.family.access.values()
        )
