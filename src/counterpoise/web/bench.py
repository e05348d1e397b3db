"""The bench page: what now, why, what else it could be, what it is worth; and what was found and done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response

from counterpoise.catalog.family import CheckEntry, RepairEntry
from counterpoise.report.lines import outcome_words
from counterpoise.report.steps import opened, step_of
from counterpoise.web.bodies import EntryIn, FindingIn, ProofIn, RepairIn, StepName
from counterpoise.web.forms import Posted, made, onward
from counterpoise.web.render import page
from counterpoise.web.view import AtDesk, JobAnswer, JobView, Taken, taken, told, view
from counterpoise.workshop.desk import Desk
from counterpoise.workshop.evidence import Finding, RepairDone

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["bench"])
JobNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]
StepId = Annotated[str, Path(max_length=80)]


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step that can be picked: ``behind`` the panel it lies behind, ``done`` what it showed already."""

    kind: str
    id: str
    title: str
    minutes: float
    behind: str = ""
    done: str = ""


@dataclass(frozen=True, slots=True)
class StepGroup:
    """Steps of one sort."""

    title: str
    lines: tuple[StepLine, ...]


_GROUPS = {
    "ask": "Ask",
    "look": "Look",
    "feel": "Feel",
    "measure": "Measure",
    "spin": "Spin",
}


def put_down(desk: Desk, number: int, sent: EntryIn) -> int:
    """Add an entry to the job and return its number."""
    return desk.record(number, sent.body(), by=sent.hand, expected_last=sent.expected_last).number


def step_groups(seen: JobView) -> list[StepGroup]:
    """Every check and repair that fits this machine, by sort."""
    done = _done(seen)
    family, features = seen.family, seen.job.intake.features
    fits = [check for check in family.checks.values() if _fits(check, features)]
    groups = [
        StepGroup(title, tuple(_line("check", check, seen, done) for check in fits if check.kind == kind))
        for kind, title in _GROUPS.items()
    ]
    repairs = tuple(_line("repair", r, seen, done) for r in family.repairs.values() if _fits(r, features))
    proof = StepLine("proof", "proof", "Proof spin", family.proof_minutes)
    return [group for group in [*groups, StepGroup("Repair", repairs), StepGroup("Prove", (proof,))] if group.lines]


def _done(seen: JobView) -> dict[str, str]:
    bodies = [entry.body for entry in seen.job.standing]
    found = {body.check: outcome_words(body, seen.family) for body in bodies if isinstance(body, Finding)}
    return found | {body.repair: "done" for body in bodies if isinstance(body, RepairDone)}


def _fits(entry: CheckEntry | RepairEntry, features: object) -> bool:
    known = features if isinstance(features, dict) else {}
    return all(known.get(feature, value) == value for feature, value in entry.needs.items())


def _line(kind: str, entry: CheckEntry | RepairEntry, seen: JobView, done: dict[str, str]) -> StepLine:
    behind = seen.family.access[entry.access].title if entry.access else ""
    return StepLine(kind, entry.id, entry.title, entry.minutes, behind, done.get(entry.id, ""))


@pages.get("/jobs/{number}", include_in_schema=False)
def bench_page(request: Request, desk: AtDesk, number: JobNumber) -> Response:
    """Show what to do now, why, what else it could be, what it is worth."""
    return page(request, "bench.html", view=view(desk, number), picked=None)


@api.get("/jobs/{number}")
def job(desk: AtDesk, number: JobNumber) -> JobAnswer:
    """What to do now, why, what else it could be, what it is worth."""
    return told(view(desk, number))


@pages.get("/jobs/{number}/steps", include_in_schema=False)
def steps_page(request: Request, desk: AtDesk, number: JobNumber) -> Response:
    """Show every other check and repair."""
    seen = view(desk, number)
    return page(request, "steps.html", view=seen, groups=step_groups(seen))


@api.get("/jobs/{number}/steps")
def steps(desk: AtDesk, number: JobNumber) -> list[StepGroup]:
    """Every check and repair that fits this machine."""
    return step_groups(view(desk, number))


@pages.get("/jobs/{number}/steps/{kind}/{step_id}", include_in_schema=False)
def step_page(request: Request, desk: AtDesk, number: JobNumber, kind: StepName, step_id: StepId) -> Response:
    """Show the bench page with a step picked by hand."""
    seen = view(desk, number)
    picked = step_of(seen.family, kind, step_id, opened(seen.job, seen.family))
    return page(request, "bench.html", view=seen, picked=picked)


@api.get("/jobs/{number}/steps/{kind}/{step_id}")
def step(desk: AtDesk, number: JobNumber, kind: StepName, step_id: StepId) -> JobAnswer:
    """The job with a step picked by hand."""
    seen = view(desk, number)
    return told(seen, step_of(seen.family, kind, step_id, opened(seen.job, seen.family)))


@pages.post("/jobs/{number}/findings", include_in_schema=False)
def finding_page(desk: AtDesk, number: JobNumber, form: Posted) -> Response:
    """Put a finding down."""
    outcome = form.text("outcome")
    sent = made(
        FindingIn,
        check=form.text("check"),
        outcome=outcome,
        reading=None if outcome else form.number("reading", -1e9, 1e9),
        minutes=form.number("minutes", 0, 1440),
        note=form.text("note"),
        **form.sender(),
    )
    put_down(desk, number, sent)
    return onward(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/findings", status_code=201)
def finding(desk: AtDesk, number: JobNumber, sent: FindingIn) -> Taken:
    """Put a finding down: an outcome of the check, could_not_tell, cannot_reach, or a reading."""
    return taken(desk, number, put_down(desk, number, sent))


@pages.post("/jobs/{number}/repairs", include_in_schema=False)
def repair_page(desk: AtDesk, number: JobNumber, form: Posted) -> Response:
    """Put a repair down as done."""
    minutes = form.number("minutes", 0, 1440)
    sent = made(RepairIn, repair=form.text("repair"), minutes=minutes, note=form.text("note"), **form.sender())
    put_down(desk, number, sent)
    return onward(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/repairs", status_code=201)
def repair(desk: AtDesk, number: JobNumber, sent: RepairIn) -> Taken:
    """Put a repair down as done."""
    return taken(desk, number, put_down(desk, number, sent))


@pages.post("/jobs/{number}/proofs", include_in_schema=False)
def proof_page(desk: AtDesk, number: JobNumber, form: Posted) -> Response:
    """Put down how the proof spin went."""
    passed = {"yes": True, "no": False}.get(form.text("passed"))
    minutes = form.number("minutes", 0, 1440)
    sent = made(ProofIn, passed=passed, minutes=minutes, note=form.text("note"), **form.sender())
    put_down(desk, number, sent)
    return onward(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/proofs", status_code=201)
def proof(desk: AtDesk, number: JobNumber, sent: ProofIn) -> Taken:
    """Put down how the proof spin went."""
    return taken(desk, number, put_down(desk, number, sent))
