"""Assessments of jobs, each computed once for the same evidence, settings and supply.

What the answers of the advised check lead to is computed as it will be once the answer is there: as
the assessment of the job with that answer. It is kept, so that the page after the answer is there
at once, and shows the step that was promised.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import replace
from operator import attrgetter
from threading import Event, Lock
from typing import TYPE_CHECKING, TypeAlias

from counterpoise.workshop.jobs.entries import Entry, Finding, Job
from counterpoise.workshop.services.background.worker import Worker

if TYPE_CHECKING:
    from counterpoise.workshop.diagnosis.assessment import Answer, Assessment
    from counterpoise.workshop.diagnosis.job_case import JobCase

    Assessor: TypeAlias = Callable[[JobCase], Assessment]

# A page asks for the same few jobs again and again; an assessment is some tens of kilobytes.
MOST_KEPT = 200
_SAID = attrgetter("check", "outcome", "reading", "reading_sd", "weights", "minutes")
LEAST_ANSWER = 0.02  # an answer less likely than this is not looked ahead of


def by_the_planner(case: JobCase) -> Assessment:
    """Assess a job by the planner: suspects, next step, rivals, options. Deterministic."""
    # the planner takes a moment to load; a list of jobs needs none of it
    from counterpoise.workshop.diagnosis.assess import assess

    return assess(case)


class Assessments:
    """Computes assessments with ``assessor`` and keeps the last :data:`MOST_KEPT`; thread-safe.

    ``ahead``: the answers of a job that was looked at are looked ahead of in the background.
    """

    def __init__(
        self, assessor: Assessor = by_the_planner, most: int = MOST_KEPT, *, ahead: bool = False
    ) -> None:
        self.ahead = ahead
        self._assessor = assessor
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, Assessment] = OrderedDict()
        # what is being computed, and when that is done: nothing is computed twice at once
        self._computing: dict[Hashable, Event] = {}
        self.worker = Worker()

    def of(self, case: JobCase, *, careful: bool = False) -> Assessment:
        """The assessment of a job as given; ``careful`` also where the settings are not."""
        return self._known_or_computed(_careful(case) if careful else case)

    def promising(
        self, assessment: Assessment, case: JobCase, *, careful: bool = False, ahead: bool = True
    ) -> Assessment:
        """An assessment of the job, with what each likely answer of its check leads to.

        That takes as long again for each answer; without ``ahead`` it is said only where it is
        known already.
        """
        case = _careful(case) if careful else case
        return _promising(assessment, case, self._known_or_computed if ahead else self._known)

    def look_ahead(self, case: JobCase, *, careful: bool = False) -> None:
        """Look ahead of a job's answers in the background, where that is wanted at all.

        The job asked for last goes first; one that was left is not finished.
        """
        if not self.ahead:
            return
        wanted = _careful(case) if careful else case
        self.worker.soon(case.job.number, lambda: self.plan_answers(wanted))

    def plan_answers(self, case: JobCase) -> None:
        """Assess a job and what its likely answers lead to, unless another job is asked for."""
        assessment = self._known_or_computed(case)
        check = assessment.next.id if assessment.next else ""
        for answer in _likely(assessment):
            # somebody looks at another job now: theirs goes first
            if self.worker.interrupted:
                break
            self._known_or_computed(_answered(case, answer.outcome, check))

    def _known(self, case: JobCase) -> Assessment | None:
        with self._lock:
            return self._kept.get(key_of(case))

    def _known_or_computed(self, case: JobCase) -> Assessment:
        key = key_of(case)
        while True:
            with self._lock:
                if key in self._kept:
                    # least recently asked goes first
                    self._kept.move_to_end(key)
                    return self._kept[key]
                done = self._computing.get(key)
                if done is None:
                    done = self._computing[key] = Event()
                    break
            # somebody computes the very same: it is there when that is done, unless that failed
            done.wait()
        try:
            # computed outside the lock: seconds of planning must not hold up other jobs
            assessment = self._assessor(case)
            with self._lock:
                self._kept[key] = assessment
                # the one asked for longest ago goes first
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        finally:
            with self._lock:
                del self._computing[key]
            done.set()
        return assessment


def _careful(case: JobCase) -> JobCase:
    """The case under careful settings, which are part of its key."""
    if case.settings.careful:
        return case
    return replace(case, settings=replace(case.settings, careful=True))


def key_of(case: JobCase) -> Hashable:
    """What an assessment hangs on: the family, the evidence, the settings, the supply."""
    # entries are never edited, so the number of the last one stands for all before it; an answer
    # that was looked ahead of has the number that the real one will have, and what it says is told
    # apart; remarks and photos change nothing that is computed
    job = case.job
    said = _SAID(job.entries[-1].body) if isinstance(job.entries[-1].body, Finding) else ()
    last = (job.entries[-1].number, job.entries[-1].at[:10])
    # a family whose file changed is another one, though it has the same name
    family = case.family.id, case.family.digest
    return job.number, *last, said, *family, case.settings, case.supply.fingerprint


def _likely(assessment: Assessment) -> list[Answer]:
    step = assessment.next
    # a prescribed step has no chances of its own: nothing is promised
    if step is None or step.kind != "check":
        return []
    return [answer for answer in step.answers if answer.probability >= LEAST_ANSWER]


def _answered(case: JobCase, outcome: str, check: str) -> JobCase:
    """The case once a check has been answered so, on the same day."""
    job = case.job
    last = job.entries[-1]
    entry = Entry(last.number + 1, last.at, last.by, Finding(check, outcome))
    return replace(case, job=Job(job.number, (*job.entries, entry)))


def _promising(
    assessment: Assessment, case: JobCase, assess: Callable[[JobCase], Assessment | None]
) -> Assessment:
    """The assessment with the step that each likely answer leads to, where ``assess`` says it.

    All or none: a list with gaps would read as if nothing followed.
    """
    step, likely = assessment.next, _likely(assessment)
    # an assessor may have promised itself
    if step is None or not likely or any(answer.leads_to for answer in step.answers):
        return assessment
    promised = {}
    for answer in likely:
        after = assess(_answered(case, answer.outcome, step.id))
        if after is None:
            return assessment
        promised[answer.outcome] = after.next.title if after.next else ""
    answers = tuple(replace(a, leads_to=promised.get(a.outcome, "")) for a in step.answers)
    return replace(assessment, next=replace(step, answers=answers))
