"""The list of jobs, and taking in a machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from counterpoise.catalog.family import CheckEntry, Complaint, Family, Feature
from counterpoise.report.lines import option_title
from counterpoise.web.bodies import Answered, IntakeIn
from counterpoise.web.forms import Posted, made, onward
from counterpoise.web.render import page
from counterpoise.web.view import AtDesk, Taken, taken
from counterpoise.workshop.desk import Desk
from counterpoise.workshop.evidence import Entry, Finding, Job
from counterpoise.workshop.record import check_body
from counterpoise.workshop.store import JobLine

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["jobs"])


@dataclass(frozen=True, slots=True)
class ListedJob:
    """A line of the list of jobs."""

    number: int
    title: str
    state: str
    open: bool


@dataclass(frozen=True, slots=True)
class Question:
    """Something to ask the owner."""

    check: str
    question: str
    outcomes: dict[str, str]


@dataclass(frozen=True, slots=True)
class IntakeSheet:
    """What can be put down of a machine of one family when it comes in."""

    family: str
    title: str
    complaints: tuple[Complaint, ...]
    features: tuple[Feature, ...]
    questions: tuple[Question, ...]


def listed(lines: Sequence[JobLine]) -> list[ListedJob]:
    """The jobs in words, newest first."""
    return [ListedJob(line.number, line.title, _state(line), line.open) for line in lines]


def _state(line: JobLine) -> str:
    if not line.open:
        return f"closed: {option_title(line.ending)}"
    if line.decision:
        return f"decided: {option_title(line.decision)}"
    entries = line.entries - 1
    return "nothing put down yet" if not entries else f"{entries} {'entry' if entries == 1 else 'entries'} put down"


def questions(family: Family) -> list[CheckEntry]:
    """The checks that can be asked when the machine comes in."""
    return [check for check in family.checks.values() if check.intake]


@pages.get("/", include_in_schema=False)
def home() -> Response:
    """Lead to the list of jobs."""
    return RedirectResponse("/jobs", 307)


@pages.get("/jobs", include_in_schema=False)
def jobs_page(request: Request, desk: AtDesk) -> Response:
    """Show the list of jobs."""
    lines = listed(desk.lines())
    open_jobs = [line for line in lines if line.open]
    closed = [line for line in lines if not line.open]
    return page(request, "jobs.html", settings=desk.settings(), open=open_jobs, closed=closed)


@api.get("/jobs")
def jobs(desk: AtDesk) -> list[ListedJob]:
    """The list of jobs, newest first."""
    return listed(desk.lines())


@pages.get("/jobs/new", include_in_schema=False)
def intake_page(request: Request, desk: AtDesk, family: str = "") -> Response:
    """Ask what comes in, then what is wrong with it."""
    known = list(desk.families.values())
    if not family and len(known) > 1:
        return page(request, "families.html", settings=desk.settings(), families=known)
    one = desk.family(family or known[0].id)
    return page(request, "intake.html", settings=desk.settings(), family=one, questions=questions(one))


@api.get("/jobs/new")
def intake_sheets(desk: AtDesk, family: str = "") -> list[IntakeSheet]:
    """What can be put down of a machine that comes in, by family."""
    wanted = [desk.family(family)] if family else list(desk.families.values())
    return [_intake_sheet(one) for one in wanted]


def _intake_sheet(family: Family) -> IntakeSheet:
    asked = (Question(check.id, check.question, dict(check.outcomes)) for check in questions(family))
    complaints, features = tuple(family.complaints.values()), tuple(family.features.values())
    return IntakeSheet(family.id, family.title, complaints, features, tuple(asked))


def take_in(desk: Desk, told: IntakeIn) -> int:
    """Open a job and put down what was answered; returns its number."""
    family = desk.family(told.family)
    intake = told.body()
    if not intake.title:
        heard = [family.complaints[key].title for key in told.complaints if key in family.complaints]
        intake = replace(intake, title=", ".join([family.title, *heard[:2]]))
    findings = [Finding(answer.check, answer.outcome, answer.reading) for answer in told.answers]
    probe = Job(0, (Entry(1, "", told.hand, check_body(family, None, intake)),))
    for finding in findings:  # all is checked before anything is stored
        check_body(family, probe, finding)
    number = desk.open_job(intake, by=told.hand).number
    for finding in findings:
        desk.record(number, finding, by=told.hand)
    return number


@pages.post("/jobs", include_in_schema=False)
def open_page(desk: AtDesk, form: Posted) -> Response:
    """Open a job from the intake form."""
    told = made(
        IntakeIn,
        **{name: form.text(name) for name in ("family", "owner", "title", "maker", "model", "serial", "contact")},
        story=form.text("story"),
        complaints=form.texts("complaints"),
        age_years=form.number("age_years", 0, 80),
        features=form.starting("feature."),
        paid_minor=form.money("paid") or 0,
        answers=[Answered(check=check, outcome=outcome) for check, outcome in form.starting("check.").items()],
        by=form.text("by"),
    )
    return onward(f"/jobs/{take_in(desk, told)}", told.by)


@api.post("/jobs", status_code=201)
def open_job(desk: AtDesk, told: IntakeIn) -> Taken:
    """Take in a machine."""
    number = take_in(desk, told)
    return taken(desk, number, desk.job(number).entries[-1].number)
