"""Plays the case book: each story as a job, its answer against what a seasoned hand would do."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from counterpoise.catalog.cases import Case
from counterpoise.catalog.family import Family
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.settings import Settings

Assess = Callable[[JobCase], Assessment]
# A case has no day of its own: nothing in it may hang on the calendar.
LONG_AGO = "2000-01-01T00:00:00Z"


@dataclass(frozen=True, slots=True)
class CaseVerdict:
    """What the program said to a case, by id; a step or decision not there is empty.

    ``suspects``: (fault id, probability), likeliest first. ``objections``: in words, what a
    seasoned hand would object to; empty where nothing.
    """

    case: Case
    suspects: tuple[tuple[str, float], ...]
    next_step: str
    decision: str
    objections: tuple[str, ...]
    assessment: Assessment


def job_of(case: Case, family: Family) -> Job:
    """The case as a job: intake and findings, each checked as if it came from the bench.

    Raises InputError for what the family does not know.
    """
    intake = Intake(
        family=family.id,
        owner=case.owner,
        title=case.title,
        complaints=case.complaints,
        age_years=case.age_years,
        features=dict(case.features),
        story=case.story,
        nobody_to_ask=case.nobody,
    )
    # checked like any entry: a case that the bench could not put down proves nothing
    job = Job(1, (Entry(1, LONG_AGO, "", check_body(family, None, intake)),))
    for check, shown in case.findings:
        # a case writes a reading as a number, an answer as its id
        finding = (
            Finding(check, shown) if isinstance(shown, str) else Finding(check, "", reading=shown)
        )
        entry = Entry(len(job.entries) + 1, LONG_AGO, "", check_body(family, job, finding))
        job = Job(1, (*job.entries, entry))
    return job


def play_case(case: Case, family: Family, assess: Assess, settings: Settings) -> CaseVerdict:
    """Have a case assessed, and hold the answer against the case's own. Raises InputError."""
    assessment = assess(JobCase(job_of(case, family), family, settings))
    suspects = tuple((suspect.fault, suspect.probability) for suspect in assessment.suspects)
    step = assessment.next.id if assessment.next is not None else ""
    # while a check is advised nobody decides yet: then it is what going on most likely comes to
    decision = assessment.likely_end
    objections = tuple(_objections(case, suspects, step, decision))
    return CaseVerdict(case, suspects, step, decision, objections, assessment)


def _objections(
    case: Case, suspects: tuple[tuple[str, float], ...], step: str, decision: str
) -> Iterable[str]:
    # a case may accept several answers, as seasoned hands do
    first = suspects[0][0] if suspects else "nothing"
    if first not in case.suspect_first:
        yield f"suspects {first} first, not {' or '.join(case.suspect_first)}"
    if step in case.blunder:
        yield f"goes on with {step}, a blunder"
    # a blunder is said as such; a step that is merely not the best is named with the better ones
    elif step not in case.do_next:
        yield f"goes on with {step or 'nothing'}, not with one of {', '.join(case.do_next)}"
    if case.decision is not None and decision != case.decision:
        yield f"would decide for {decision or 'nothing'}, not {case.decision}"
