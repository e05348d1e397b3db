"""A figure of a family that the workshop changed, by hand or by its closed jobs."""

from __future__ import annotations

import math
from dataclasses import dataclass

# fields that hold a chance, said in per cent
_CHANCES = ("prior", "under", "otherwise", "cures", "misses")


@dataclass(frozen=True, slots=True)
class ChangedFigure:
    """A figure by its ``place`` (``faults.belt_worn.prior``), as shipped and as it is here.

    ``shipped`` is None where the shipped file leaves the figure out; ``source``: where the new one
    is from; ``why`` is empty where nothing more was written. ``jobs``: the closed jobs it was
    learned from, 0 where somebody wrote it. ``pool`` is what it is by other
    ``workshops`` and ``records``, None where none said anything.
    """

    place: str
    shipped: float | None
    here: float
    source: str
    why: str = ""
    jobs: int = 0
    pool: float | None = None
    workshops: int = 0
    records: int = 0

    @property
    def moved(self) -> float:
        """How far it moved, as a log of its size now to that as shipped; never below 0."""
        least = 1e-9
        return abs(math.log(max(self.here, least) / max(self.shipped or 0.0, least)))

    @property
    def text(self) -> str:
        """As it is said wherever a figure shows where it is from."""
        if (self.jobs or self.pool is not None) and self.shipped is not None:
            levels = [f"{self.said(self.shipped)} by the catalog"]
            if self.pool is not None:
                levels.append(f"{self.said(self.pool)} by {self._others}")
            if self.jobs:
                jobs = "job" if self.jobs == 1 else "jobs"
                levels.append(f"{self.said(self.here)} after your {self.jobs} {jobs}")
            return ", ".join(levels)
        was = "" if self.shipped is None else f"from {_number(self.shipped)} "
        why = f" ({self.why})" if self.why else ""
        return f"changed by this workshop {was}to {_number(self.here)}, {self.source}{why}"

    @property
    def _others(self) -> str:
        """Who else has a part in it."""
        shops = "workshop" if self.workshops == 1 else "workshops"
        records = "record" if self.records == 1 else "records"
        counts = ((self.workshops, shops), (self.records, f"{records} of others"))
        return " and ".join(f"{count} {name}" for count, name in counts if count)

    def said(self, value: float) -> str:
        """A value of this figure as people say it."""
        fields = self.place.split(".")
        if any(field in _CHANCES for field in fields):
            # below one in ten a digit more: 0.4 % and 0.8 % are not both 1 %
            return f"{100.0 * value:.0f} %" if value >= 0.1 else f"{100.0 * value:.1f} %"
        if fields[-1] == "minutes":
            return f"{value:.3g} min"
        if fields[-1].endswith("_minor"):
            return f"{value / 100.0:.2f}"
        return f"{value:.3g} days" if fields[-1].startswith("days") else f"{value:.3g}"


def _number(value: float) -> str:
    # ten digits: amounts in minor units are long, and no figure of a catalog is longer
    return f"{value:.10g}"
