"""Assessments of jobs, each computed once for the same evidence, settings and supply."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.diagnosis.job_case import JobCase

    Assessor: TypeAlias = Callable[[JobCase], Assessment]

# A page asks for the same few jobs again and again; an assessment is some tens of kilobytes.
MOST_KEPT = 200


def by_the_planner(case: JobCase) -> Assessment:
    """Assess a job by the planner: suspects, next step, rivals, options. Deterministic."""
    # the planner takes a moment to load; a list of jobs needs none of it
    from counterpoise.workshop.diagnosis.assess import assess

    return assess(case)


class Assessments:
    """Computes assessments with ``assessor`` and keeps the last :data:`MOST_KEPT`; thread-safe."""

    def __init__(self, assessor: Assessor = by_the_planner, most: int = MOST_KEPT) -> None:
        self._assessor = assessor
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, Assessment] = OrderedDict()

    def of(self, case: JobCase, *, careful: bool = False) -> Assessment:
        """The assessment of a job as given; ``careful`` also where the settings are not."""
        # a careful look is kept beside the usual one, under settings of its own
        if careful and not case.settings.careful:
            # settings are part of the key, so careful and plain ones are kept side by side
            case = replace(case, settings=replace(case.settings, careful=True))
        # entries are never edited, so the number of the last one stands for them all
        job = case.job
        key = (job.number, job.entries[-1].number, case.settings, case.supply.fingerprint)
        with self._lock:
            if key in self._kept:
                # least recently asked goes first
                self._kept.move_to_end(key)
                return self._kept[key]
        # computed outside the lock: seconds of planning must not hold up other jobs
        assessment = self._assessor(case)
        with self._lock:
            # two that computed the same at once: they are equal, so the later may stand
            self._kept[key] = assessment
            # the one asked for longest ago goes first
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return assessment
