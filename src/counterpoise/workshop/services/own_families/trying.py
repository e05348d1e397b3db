"""A family tried before it is in any folder: its stories played, and what it would do first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.errors import CatalogError
from counterpoise.workshop.jobs.entries import Entry, Intake, Job
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.own_families.files import LookedOver, look_over
from counterpoise.workshop.studies.casebook import LONG_AGO, CaseVerdict, play_case

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.catalog.loader import Catalog
    from counterpoise.workshop.diagnosis.assessment import Assessment

# faults named beside a first step: who wants more takes a machine in
_MOST_SUSPECTS = 4


@dataclass(frozen=True, slots=True)
class FirstStep:
    """What is proposed for a machine of which only complaint and age are known.

    ``suspects``: (fault id, title, probability), likeliest first. ``minutes`` with opening;
    ``age_years`` None where it is not known. ``step`` is empty where nothing is to be done.
    """

    complaints: tuple[str, ...]
    age_years: float | None
    suspects: tuple[tuple[str, str, float], ...]
    kind: str
    step: str
    title: str
    minutes: float
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    question: str
    why: str


@dataclass(frozen=True, slots=True)
class Tried:
    """A file tried: stories as they went, and the first step.

    ``shipped``: the first step without the changes, for a file of changes.
    """

    looked: LookedOver
    stories: tuple[CaseVerdict, ...]
    first: FirstStep
    shipped: FirstStep | None = None

    @property
    def off(self) -> int:
        """How many stories do not go as a seasoned hand would have it."""
        return sum(bool(verdict.objections) for verdict in self.stories)


def try_file(
    path: Path, known: Catalog, complaints: Sequence[str] = (), age_years: float | None = None
) -> Tried:
    """Play the stories beside a file and propose a first step; stores and copies nothing.

    Without ``complaints`` it is the first of the family. Raises CatalogError with every mistake,
    NotFoundError, InputError for a complaint that the family does not have.
    """
    looked = look_over(path, known)
    if looked.family is None or looked.problems:
        raise CatalogError(list(looked.problems))
    from counterpoise.workshop.diagnosis.assess import assess

    family, settings = looked.family, Settings()
    heard = tuple(complaints) or (next(iter(family.complaints)),)
    first = _first_step(family, heard, age_years)
    shipped = None
    if looked.kind == "changes":
        from counterpoise.catalog.loader import load_family

        shipped = _first_step(load_family(family.id), heard, age_years)
    # each story alone: what one brings to light must not move the next
    stories = tuple(play_case(story, family, assess, settings) for story in looked.stories)
    return Tried(looked, stories, first, shipped)


def _first_step(family: Family, complaints: tuple[str, ...], age_years: float | None) -> FirstStep:
    from counterpoise.workshop.diagnosis.assess import assess
    from counterpoise.workshop.diagnosis.job_case import JobCase

    intake = Intake(family.id, "customer", family.title, complaints, age_years)
    # checked like any other: a complaint that is not there is told with the nearest
    entry = Entry(1, LONG_AGO, "", check_body(family, None, intake))
    assessment = assess(JobCase(Job(1, (entry,)), family, Settings()))
    return _as_step(intake, assessment)


def _as_step(intake: Intake, assessment: Assessment) -> FirstStep:
    step = assessment.next
    suspects = tuple(
        (one.fault, one.title, one.probability) for one in assessment.suspects[:_MOST_SUSPECTS]
    )
    heard = (intake.complaints, intake.age_years, suspects)
    if step is None:
        return FirstStep(*heard, "", "", "", 0.0, (), (), "", assessment.why)
    # every caution on the way, those of the panels too, before the first hand is laid on
    cautions = dict.fromkeys([*(c for at in step.openings for c in at.cautions), *step.cautions])
    steps = (*(text for at in step.openings for text in at.steps), *step.steps)
    return FirstStep(
        *heard, step.kind, step.id, step.title, step.minutes, tuple(cautions), steps,
        step.question, assessment.why,
    )  # fmt: skip
