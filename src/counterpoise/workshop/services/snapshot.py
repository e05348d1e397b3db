"""A job with all that its answers are computed from, read once for a request."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.billing.costing import Costing, Terms
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.diagnosis.replay import Situation
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.parts.offers import Supply
    from counterpoise.workshop.services.assessments import Assessments


@dataclass(frozen=True)
class JobSnapshot:
    """A job, its family, the settings and what its parts can be had for, as they stood together.

    ``careful``: the assessment is the careful one, also where the settings are not. What is
    computed of it is computed when first asked for, and then kept.
    """

    job: Job
    family: Family
    settings: Settings
    supply: Supply
    assessments: Assessments = field(repr=False, compare=False)
    careful: bool = False

    @cached_property
    def situation(self) -> Situation:
        """The job replayed: the belief its findings leave, the panels that are open."""
        # the bench's answers need the planner's catalog side, a list of jobs does not
        from counterpoise.workshop.diagnosis.replay import replay

        return replay(self.family, self.settings, self.job)

    @cached_property
    def assessment(self) -> Assessment:
        """Suspects, next step, rivals and worth of each way to end the job."""
        return self.assessments.of(
            self.family, self.settings, self.job, self.supply, careful=self.careful
        )

    def costing(self, repairs: Sequence[str] = (), terms: Terms | None = None) -> Costing:
        """Cost the repairs named, else what was done and what the plan advises. Raises InputError."""
        from counterpoise.workshop.billing.costing import AS_USUAL, cost

        step = self.assessment.next
        advised = step.id if step and step.kind == "repair" else ""
        return cost(
            self.family,
            self.settings,
            self.job,
            repairs,
            advised=advised,
            terms=replace(terms or AS_USUAL, supply=self.supply),
            situation=self.situation,
        )
