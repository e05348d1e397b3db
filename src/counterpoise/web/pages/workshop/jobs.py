"""The list of jobs, and taking in a machine."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.report.views.job import ListedJob, Recorded, job_list, recorded
from counterpoise.report.views.machine_figures import read_figures
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import IntakeIn
from counterpoise.workshop.jobs.entries import Figures, Intake
from counterpoise.workshop.services.intake import take_in
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["jobs"])


@dataclass(frozen=True, slots=True)
class Named:
    """Something that can be ticked: its id and its words."""

    id: str
    title: str


@dataclass(frozen=True, slots=True)
class Question:
    """Something to be asked, and what can be answered, by id."""

    id: str
    question: str
    answers: dict[str, str]


@dataclass(frozen=True, slots=True)
class Asked:
    """A figure of the machine that can be put down at once."""

    id: str
    title: str
    unit: str
    low: float
    high: float
    where: str


@dataclass(frozen=True, slots=True)
class IntakeSheet:
    """What can be put down of a machine of one family when it comes in."""

    family: str
    title: str
    complaints: tuple[Named, ...]
    features: tuple[Question, ...]
    questions: tuple[Question, ...]
    figures: tuple[Asked, ...] = ()


def questions(family: Family) -> list[CheckEntry]:
    """The checks that can be asked when the machine comes in."""
    return [check for check in family.checks.values() if check.intake]


@pages.get("/", include_in_schema=False)
def home() -> Response:
    """Lead to the list of jobs."""
    return RedirectResponse("/jobs", 307)


@pages.get("/jobs", include_in_schema=False)
def jobs_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the list of jobs."""
    lines = job_list(workshop.jobs.lines())
    open_jobs = [line for line in lines if line.open]
    closed = [line for line in lines if not line.open]
    return page(
        request, "workshop/jobs.html", settings=workshop.settings(), open=open_jobs, closed=closed
    )


@api.get("/jobs")
def jobs(workshop: WorkshopDep) -> list[ListedJob]:
    """The list of jobs, newest first."""
    return job_list(workshop.jobs.lines())


@pages.get("/jobs/new", include_in_schema=False)
def intake_page(request: Request, workshop: WorkshopDep, family: str = "") -> Response:
    """Ask what comes in, then what is wrong with it."""
    known = list(workshop.families.values())
    if not family and len(known) > 1:
        return page(request, "workshop/families.html", settings=workshop.settings(), families=known)
    one = workshop.family(family or known[0].id)
    return page(
        request,
        "workshop/intake.html",
        settings=workshop.settings(),
        family=one,
        questions=questions(one),
    )


@api.get("/jobs/new")
def intake_sheets(workshop: WorkshopDep, family: str = "") -> list[IntakeSheet]:
    """What can be put down of a machine that comes in, by family."""
    wanted = [workshop.family(family)] if family else list(workshop.families.values())
    return [_intake_sheet(one) for one in wanted]


def _intake_sheet(family: Family) -> IntakeSheet:
    return IntakeSheet(
        family=family.id,
        title=family.title,
        complaints=tuple(Named(one.id, one.title) for one in family.complaints.values()),
        features=tuple(
            Question(one.id, one.title, dict(one.values)) for one in family.features.values()
        ),
        questions=tuple(
            Question(one.id, one.question, dict(one.outcomes)) for one in questions(family)
        ),
        figures=tuple(
            Asked(one.id, one.title, one.unit, one.low, one.high, one.where)
            for one in family.figures.values()
            if one.intake
        ),
    )


def _take_in(workshop: Workshop, told: IntakeIn) -> int:
    answers = [answer.finding() for answer in told.answers]
    return take_in(workshop, told.intake(), answers, told.hand, Figures(told.figures, "plate"))


def _figures(workshop: Workshop, form: Form) -> dict[str, float]:
    family = workshop.family(form.text("family") or next(iter(workshop.families)))
    return dict(read_figures(form.starting("figure."), family, "plate").values)


@pages.post("/jobs", include_in_schema=False)
def open_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Open a job from the intake form."""
    told = parse(
        IntakeIn,
        **form.entry(
            Intake,
            answers=[
                {"check": check, "outcome": outcome}
                for check, outcome in form.starting("check.").items()
            ],
            figures=_figures(workshop, form),
        ),
    )
    return redirect(f"/jobs/{_take_in(workshop, told)}", told.by)


@api.post("/jobs", status_code=201)
def open_job(workshop: WorkshopDep, told: IntakeIn) -> Recorded:
    """Take in a machine."""
    number = _take_in(workshop, told)
    return recorded(workshop, number, workshop.jobs.get(number).entries[-1].number)
