"""What the machines of a family are worth and how long they live: the one place that says so.

A figure is what the workshop set for the family, else what the family's file says, else the general
setting. Whatever reckons with one asks here, never the settings: what a machine costs and lasts is
another for each kind. Money is integer minor units.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.money import Weibull

# set for the family by the workshop; said by the family's file; assumed: the general setting
Origin = Literal["workshop", "family", "general"]


@dataclass(frozen=True, slots=True)
class MoneyFigure:
    """A figure of a family and where it is from.

    ``source`` is that of the family's file, empty for others; ``of_family`` what the file says,
    None where it says nothing.
    """

    name: str
    value: int | float
    origin: Origin
    source: str = ""
    of_family: int | float | None = None


@dataclass(frozen=True, slots=True)
class FamilyMoney:
    """The figures that hold for the machines of a family in this workshop.

    ``resale_fall_percent`` is by the year, ``as_is_percent`` of the repaired price.
    """

    # a comparable new machine, delivered and connected
    new_machine_minor: int
    # what a repaired machine of age 0 would sell for
    resale_new_minor: int
    resale_fall_percent: float
    as_is_percent: float
    # below zero where being rid of it costs more than the metal brings
    scrap_minor: int
    # the way, the bench and the good name
    comeback_minor: int
    selling_minutes: float
    days_to_sell: float
    life_shape: float
    life_scale_years: float

    @property
    def life(self) -> Weibull:
        """The law of lives."""
        # who only shows the figures needs none of it, and it takes a moment to load
        from counterpoise.money import Weibull

        return Weibull(self.life_shape, self.life_scale_years)


def money_of(family: Family, settings: Settings) -> FamilyMoney:
    """The figures that hold for the machines of a family."""
    # Any: each value is as its field asks, checked where it was set or read
    values: dict[str, Any] = {each.name: each.value for each in figures_of(family, settings)}
    return FamilyMoney(**values)


def figures_of(family: Family, settings: Settings) -> tuple[MoneyFigure, ...]:
    """The same figures one by one, in the order of ``BY_FAMILY``, each with where it is from."""
    return tuple(_figure(family, settings, name) for name in BY_FAMILY)


def _figure(family: Family, settings: Settings, name: str) -> MoneyFigure:
    of_family = None if family.money is None else getattr(family.money, name)
    source = "" if family.money is None else family.money.source_of(name)
    set_here = settings.set_for(family.id, name)
    if set_here is not None:
        return MoneyFigure(name, set_here, "workshop", source, of_family)
    if of_family is not None:
        return MoneyFigure(name, of_family, "family", source, of_family)
    return MoneyFigure(name, getattr(settings, name), "general")
