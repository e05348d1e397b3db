"""What a family says its machines are worth and how long they live, as a record of the catalog."""

from __future__ import annotations

from dataclasses import dataclass

# in the order in which they are told; a workshop sets its own under the same names
FIGURES = (
    "new_machine_minor",
    "resale_new_minor",
    "resale_fall_percent",
    "as_is_percent",
    "scrap_minor",
    "comeback_minor",
    "selling_minutes",
    "days_to_sell",
    "life_shape",
    "life_scale_years",
)


@dataclass(frozen=True, slots=True)
class MoneyEntry:
    """Figures of the machines of a family; None where the file does not say.

    Money is integer minor units; percents are of the price of a repaired machine. The names are
    those of the settings that a workshop can set in their place.
    """

    source: str
    # a comparable new machine, delivered and connected
    new_machine_minor: int | None = None
    # a repaired machine of age 0; falls with age, by the year
    resale_new_minor: int | None = None
    resale_fall_percent: float | None = None
    # what somebody gives for it unrepaired
    as_is_percent: float | None = None
    # metal less the way to the yard: may be below zero
    scrap_minor: int | None = None
    comeback_minor: int | None = None
    # cleaning, photos, handing over
    selling_minutes: float | None = None
    days_to_sell: float | None = None
    # Weibull law of lives
    life_shape: float | None = None
    life_scale_years: float | None = None

    def source_of(self, name: str) -> str:
        """Where a figure is from: a key of the sources or a general kind; empty where not said."""
        # one source for all, or "field: source; otherwise: source"
        by_field = dict(part.rpartition(": ")[::2] for part in self.source.split("; "))
        return by_field.get(name) or by_field.get("otherwise") or by_field.get("", "")
