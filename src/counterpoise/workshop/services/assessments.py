"""Assessments of jobs, each computed once for the same evidence, settings and supply."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.parts.offers import Supply

    Assessor: TypeAlias = Callable[[Family, Settings, Job, Supply], Assessment]

# A page asks for the same few jobs again and again; an assessment is some tens of kilobytes.
MOST_KEPT = 200


def by_the_planner(family: Family, settings: Settings, job: Job, supply: Supply) -> Assessment:
    """Assess a job by the planner: suspects, next step, rivals, options. Deterministic."""
    # the planner takes a moment to load; a list of jobs needs none of it
    from counterpoise.workshop.diagnosis.assess import assess

    return assess(family, settings, job, supply=supply)


class Assessments:
    """Computes assessments with ``assessor`` and keeps the last :data:`MOST_KEPT`; thread-safe."""

    def __init__(self, assessor: Assessor = by_the_planner, most: int = MOST_KEPT) -> None:
        self._assessor = assessor
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, Assessment] = OrderedDict()

    def of(
        self, family: Family, settings: Settings, job: Job, supply: Supply, *, careful: bool = False
    ) -> Assessment:
        """The assessment of a job as given; ``careful`` also where the settings are not."""
        settings = replace(settings, careful=settings.careful or careful)
        # entries are never edited, so the number of the last one stands for them all
        key = (job.number, job.entries[-1].number, settings, supply.told)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        # computed outside the lock: seconds of planning must not hold up other jobs
        assessment = self._assessor(family, settings, job, supply)
        with self._lock:
            self._kept[key] = assessment
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return assessment
