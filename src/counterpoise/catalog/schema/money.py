"""The border of a family file for money: what its machines are worth and how long they live.

The limits are those of the settings that can be set in place of a figure; a test holds them equal.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from counterpoise.catalog.schema.references import Sourced

# minor units: dearer than any household machine
_MOST_MINOR = 100_000_00
Price = Annotated[int, Field(ge=0, le=_MOST_MINOR)]
Percent = Annotated[float, Field(ge=0, le=100)]


class MoneyModel(Sourced):
    """The money of a family; a figure left out is the general setting of whoever reckons."""

    # a new machine for nothing would make every repair a loss
    new_machine_minor: Annotated[int, Field(ge=10_00, le=_MOST_MINOR)] | None = None
    resale_new_minor: Price | None = None
    resale_fall_percent: Percent | None = None
    as_is_percent: Percent | None = None
    # being rid of it may cost more than the metal brings
    scrap_minor: Annotated[int, Field(ge=-_MOST_MINOR, le=_MOST_MINOR)] | None = None
    comeback_minor: Price | None = None
    selling_minutes: Annotated[float, Field(ge=0, le=24 * 60)] | None = None
    days_to_sell: Annotated[float, Field(ge=0, le=1000)] | None = None
    # Weibull shape (no unit) and scale in years
    life_shape: Annotated[float, Field(ge=0.2, le=20)] | None = None
    life_scale_years: Annotated[float, Field(ge=0.5, le=100)] | None = None
