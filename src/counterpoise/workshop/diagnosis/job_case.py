"""A job with all that its answers are computed from, so that two answers of one request agree."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.diagnosis.prices import Prices
    from counterpoise.workshop.diagnosis.replay import Situation
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.parts.offers import Supply


def _catalog_prices() -> Supply:
    from counterpoise.workshop.parts.offers import NO_SUPPLY

    return NO_SUPPLY


@dataclass(frozen=True)
class JobCase:
    """A job, its family, the settings and what its parts can be had for, as they stood together.

    What is computed of it is computed when first asked for, and then kept: replaying the evidence
    is the dear part. Without ``supply`` its parts come at catalog prices.
    """

    job: Job
    family: Family
    settings: Settings
    supply: Supply = field(default_factory=_catalog_prices)

    @cached_property
    def situation(self) -> Situation:
        """The job replayed: (H,) belief, open panels, minutes so far."""
        # scipy takes a moment to load; a list of jobs needs none of it
        from counterpoise.workshop.diagnosis.replay import replay

        return replay(self.family, self.settings, self.job)

    @cached_property
    def prices(self) -> Prices:
        """What time, parts and endings are worth for this job, in minor units."""
        from counterpoise.workshop.diagnosis.prices import Prices

        return Prices.of(self.situation, self.settings, self.supply)
