"""A job with all that its answers are computed from, read once for a request."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from counterpoise.workshop.diagnosis.job_case import JobCase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counterpoise.workshop.billing.costing import Costing
    from counterpoise.workshop.billing.terms import Terms
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.services.assessments import Assessments


@dataclass(frozen=True)
class JobSnapshot(JobCase):
    """A job case as it was read from the store, with the assessments kept there.

    ``careful``: the assessment is the careful one, also where the settings are not. What is
    computed of it is computed when first asked for, and then kept.
    """

    # left out of comparisons: two snapshots of the same job are equal whoever computes
    assessments: Assessments = field(kw_only=True, repr=False, compare=False)
    careful: bool = field(default=False, kw_only=True)

    @cached_property
    def assessment(self) -> Assessment:
        """Suspects, next step, rivals and worth of each way to end the job."""
        return self.assessments.of(self, careful=self.careful)

    def promising(self, *, ahead: bool) -> Assessment:
        """The same, with what each likely answer leads to: where that is known, or ``ahead``."""
        return self.assessments.promising(self.assessment, self, careful=self.careful, ahead=ahead)

    def look_ahead(self) -> None:
        """Look ahead of the answers in the background, where the program runs on."""
        self.assessments.look_ahead(self, careful=self.careful)

    def costing(self, repairs: Sequence[str] = (), terms: Terms | None = None) -> Costing:
        """Cost the repairs named, else what was done and what is advised. Raises InputError."""
        from counterpoise.workshop.billing.costing import cost
        from counterpoise.workshop.billing.terms import AS_USUAL

        # only a repair is costed: an advised check has minutes of its own in the plan
        step = self.assessment.next
        advised = step.id if step and step.kind == "repair" else ""
        return cost(self, repairs, advised=advised, terms=terms or AS_USUAL)
