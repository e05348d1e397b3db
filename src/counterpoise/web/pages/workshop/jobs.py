"""The list of jobs, and taking in a machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.report.views.job import Recorded, recorded
from counterpoise.report.views.lists.jobs import GROUPS, ListedJob, jobs_asked_for, jobs_page
from counterpoise.report.views.machine_figures import read_figures
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.presence import place_of
from counterpoise.web.render import page
from counterpoise.web.schemas import IntakeIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.entries import Figures, Intake
from counterpoise.workshop.services.intake import take_in
from counterpoise.workshop.services.own_families.listing import known_families
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["jobs"])

Search = Annotated[str, Query(max_length=200)]
Group = Literal["", "now", "proof", "customer", "parts", "sell", "closed", "mistake"]
PageNumber = Annotated[int, Query(ge=1, le=10**6)]


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
    """A figure of the machine that can be put down at once; its bounds are in its ``unit``."""

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
    """The checks that can be asked when the machine comes in; empty where there are none."""
    return [check for check in family.checks.values() if check.intake]


@pages.get("/", include_in_schema=False)
def home() -> Response:
    """Lead to the list of jobs."""
    # Temporary, so that no browser keeps it: another page may be the first one day.
    return RedirectResponse("/jobs", 307)


@pages.get("/jobs", include_in_schema=False)
def list_page(
    request: Request, workshop: WorkshopDep, q: Search = "",
    page_number: Annotated[int, Query(alias="page", ge=1, le=10**6)] = 1, mistakes: bool = False,
) -> Response:  # fmt: skip
    """Show the list of jobs by what blocks them; ``q`` searches. Raises StoreError."""
    listed = jobs_page(workshop, q, page_number)
    return page(
        request,
        "workshop/jobs.html",
        settings=workshop.settings(),
        listed=listed,
        titles=GROUPS,
        here=workshop.presence.everywhere(place_of(request)),
        mistakes=jobs_asked_for(workshop, q, "mistake", 1) if mistakes else [],
    )


@api.get("/jobs")
def jobs(
    workshop: WorkshopDep, q: Search = "", group: Group = "", page: PageNumber = 1
) -> list[ListedJob]:
    """The list of jobs, newest first; empty where none came in yet.

    ``q``: those with these words in number, name, maker, model or serial; ``group``: one of them;
    ``page``: they come by fifties.
    """
    return jobs_asked_for(workshop, q, group, page)


@pages.get("/jobs/new", include_in_schema=False)
def intake_page(request: Request, workshop: WorkshopDep, family: str = "") -> Response:
    """Ask what comes in, then what is wrong with it.

    Raises InputError where the family is unknown.
    """
    known = known_families(workshop.families)
    sound = [one for one in known if not one.problems]
    # With one family there is nothing to ask.
    if not family and len(sound) > 1:
        broken = [one for one in known if one.problems]
        return page(
            request,
            "workshop/families.html",
            settings=workshop.settings(),
            families=sound,
            broken=broken,
        )
    chosen = workshop.family(family or sound[0].id)
    return page(
        request,
        "workshop/intake.html",
        settings=workshop.settings(),
        family=chosen,
        questions=questions(chosen),
    )


@api.get("/jobs/new")
def intake_sheets(workshop: WorkshopDep, family: str = "") -> list[IntakeSheet]:
    """What can be put down of a machine that comes in, by family; ``family`` asks for one.

    A fault (422) where the family is unknown.
    """
    wanted = [workshop.family(family)] if family else list(workshop.families.values())
    return [_intake_sheet(each) for each in wanted]


def _intake_sheet(family: Family) -> IntakeSheet:
    return IntakeSheet(
        family=family.id,
        title=family.title,
        complaints=tuple(Named(each.id, each.title) for each in family.complaints.values()),
        features=tuple(
            Question(feature.id, feature.title, dict(feature.values))
            for feature in family.features.values()
        ),
        questions=tuple(
            Question(check.id, check.question, dict(check.outcomes)) for check in questions(family)
        ),
        figures=tuple(
            Asked(each.id, each.title, each.unit, each.low, each.high, each.where)
            for each in family.figures.values()
            if each.intake
        ),
    )


def _take_in(workshop: Workshop, sent: IntakeIn) -> int:
    answers = [answer.finding() for answer in sent.answers]
    # "plate": figures asked for at the counter are those the type plate shows.
    return take_in(workshop, sent.intake(), answers, sent.hand, Figures(sent.figures, "plate"))


def _figures(workshop: Workshop, form: Form) -> dict[str, float]:
    # The limits of a figure are its family's, so the family is looked up before the form is read.
    family = workshop.family(form.text("family") or next(iter(workshop.families)))
    return dict(read_figures(form.starting("figure."), family, "plate").values)


@pages.post("/jobs", include_in_schema=False)
def open_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Open a job from the intake form. Raises InputError naming the field."""
    sent = parse(
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
    return redirect(f"/jobs/{_take_in(workshop, sent)}", sent.by)


@api.post("/jobs", status_code=201)
def open_job(workshop: WorkshopDep, sent: IntakeIn) -> Recorded:
    """Take in a machine: intake, answers and figures, all of them or none.

    A fault (422) names the field.
    """
    number = _take_in(workshop, sent)
    # The intake may have brought answers and figures along: the last entry of them all is what
    # the next form must name.
    return recorded(workshop, number, workshop.jobs.get(number).entries[-1].number)
