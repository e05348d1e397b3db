"""Shares of jobs: how often a repair comes back, a fault is there, a check shows what is there.

A learned share starts from the figure the catalog gives, worth as many jobs as one trusts it for,
and moves with what is counted: Beta for yes or no, Dirichlet for one of several.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scipy.stats import beta

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Share:
    """A share of jobs as a Beta law: ``yes`` and ``no`` are counts, the prior's own included."""

    # not whole numbers: the prior is worth a fraction of a job where one trusts it little
    yes: float
    no: float

    def __post_init__(self) -> None:
        for name in ("yes", "no"):
            # 0 would be certainty, which no count could ever move again
            if not 0.0 < getattr(self, name) < math.inf:
                raise InputError(
                    f"{name} is {getattr(self, name)}", field=name, remedy="Give a number above 0"
                )

    @classmethod
    def believed(cls, mean: float, jobs: float) -> Share:
        """Start from a figure that is worth ``jobs`` jobs."""
        # the two parameters of the Beta law, by its mean and its weight in jobs
        return cls(mean * jobs, (1.0 - mean) * jobs)

    def updated(self, yes: float, no: float) -> Share:
        """The posterior after ``yes`` and ``no`` more counts. Raises InputError below 0.

        A job that is not sure counts by its belief, so counts need not be whole.
        """
        if yes < 0 or no < 0:
            raise InputError("counts below 0", field="yes", remedy="Give counts of 0 or more")
        # conjugate: counts simply add to the prior's
        return Share(self.yes + yes, self.no + no)

    @property
    def mean(self) -> float:
        """Expected share."""
        return self.yes / (self.yes + self.no)

    @property
    def sd(self) -> float:
        """Standard deviation of the share."""
        # variance of the Beta law: m (1 - m) / (n + 1)
        return math.sqrt(self.mean * (1.0 - self.mean) / (self.yes + self.no + 1.0))

    def range(self, chance: float = 0.8) -> tuple[float, float]:
        """Central range that holds the share with this chance."""
        # equal tails: for a share near 0 the shortest range would begin at 0
        ends = (0.5 - chance / 2.0, 0.5 + chance / 2.0)
        low, high = (float(beta.ppf(end, self.yes, self.no)) for end in ends)
        return low, high


def mixed(prior: Mapping[str, float], counts: Mapping[str, float]) -> dict[str, float]:
    """Expected shares of several outcomes: prior counts (> 0) and what was seen, by name.

    >>> {k: round(v, 2) for k, v in mixed({"bearing": 2.0, "damper": 2.0}, {"damper": 4}).items()}
    {'bearing': 0.25, 'damper': 0.75}
    """
    if not prior or min(prior.values()) <= 0 or min(counts.values(), default=0) < 0:
        raise InputError("prior counts must be above 0, counts 0 or more", field="prior")
    # an outcome without a prior count had chance 0 and could not have happened
    if unknown := set(counts) - set(prior):
        raise InputError(
            f"{min(unknown)!r} was not among the outcomes",
            field="counts",
            remedy="Give it a prior count",
        )
    # posterior mean of the Dirichlet law: prior and counts alike
    total = sum(prior.values()) + sum(counts.values())
    return {name: (start + counts.get(name, 0)) / total for name, start in prior.items()}
