"""The pages of measurements by hand: type readings, see what was understood, then put it down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from counterpoise.report.views.job import JobView, Recorded, job_view, recorded
from counterpoise.report.views.measures.fields import MeasurementForm, ReadingField
from counterpoise.report.views.measures.forms import form_for, kinds_for, values_to_confirm
from counterpoise.report.views.measures.interpretation import (
    Interpretation,
    entry_bodies,
    evaluate,
    figure_address,
    interpret,
)
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import Ident, Short
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["measure"])
Kind = Annotated[str, Path(max_length=40)]
_MARK = "m."  # before the name of every box, so that no box is taken for another field


class ReadingsIn(BaseModel):
    """What was read, by the name of its box: ``{"gaps.0": 9.1, "way.0": "turned"}``."""

    model_config = ConfigDict(extra="forbid")

    typed: dict[Ident, Short] = Field(default_factory=dict, max_length=60)


class MeasuredIn(Sent):
    """The same, to be put down.

    ``checks`` names the findings wanted of those that it would put down; empty where it answers no
    check.
    """

    typed: dict[Ident, Short] = Field(default_factory=dict, max_length=60)
    checks: Annotated[tuple[Ident, ...], Field(max_length=20)] = ()


@dataclass(frozen=True, slots=True)
class Box:
    """A box of the form: its name in ``typed``, and what it asks.

    ``unit`` is empty for a choice, ``choices`` for a number; ``usual`` is what stands in it first.
    """

    name: str
    label: str
    unit: str
    choices: tuple[str, ...]
    usual: str


@dataclass(frozen=True, slots=True)
class SheetAnswer:
    """A measurement: what it asks and which checks of this machine it answers, empty for none."""

    kind: str
    title: str
    lead: str
    cautions: tuple[str, ...]
    checks: tuple[str, ...]
    boxes: tuple[Box, ...]


def _sheet_answer(sheet: MeasurementForm) -> SheetAnswer:
    boxes = tuple(box for blank in sheet.fields for box in _boxes(blank))
    return SheetAnswer(sheet.kind, sheet.title, sheet.lead, sheet.cautions, sheet.checks, boxes)


def _boxes(blank: ReadingField) -> list[Box]:
    labels = [
        ", ".join((blank.label, *blank.boxes[place : place + 1])) for place in range(blank.count)
    ]
    values = tuple(value for value, _ in blank.choices)
    return [
        Box(name, label, blank.unit, values, blank.default)
        for name, label in zip(blank.names, labels, strict=True)
    ]


def _sheet(view: JobView, kind: str) -> MeasurementForm:
    return form_for(kind, view.family, view.situation.known)


def _sheets(view: JobView) -> list[MeasurementForm]:
    """Those that answer a check of this machine first."""
    # sorted keeps the order of the forms among equals.
    return sorted(
        (_sheet(view, kind) for kind in kinds_for(view.family)), key=lambda sheet: not sheet.checks
    )


def put_all(workshop: Workshop, number: int, sheet: MeasurementForm, sent: MeasuredIn) -> int:
    """Put down what was measured; returns the number of the last entry.

    Raises ReadingError where a reading cannot be, ConflictError where another entry was written
    since.
    """
    meaning = interpret(sheet, evaluate(sheet, sent.typed), job_view(workshop, number).family)
    # Each entry follows the one before: somebody else's in between stops the rest, and says so.
    last = sent.expected_last
    for body in entry_bodies(meaning, sent.checks):
        last = workshop.jobs.record(number, body, by=sent.hand, expected_last=last).number
    assert last is not None  # noqa: S101  there is at least one entry
    return last


@pages.get("/jobs/{number}/measure", include_in_schema=False)
def measure_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show the measurements. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(request, "job/measures.html", view=view, sheets=_sheets(view))


@api.get("/jobs/{number}/measure")
def measures(workshop: WorkshopDep, number: JobNumber) -> list[SheetAnswer]:
    """The measurements by hand, with what each asks; those that answer a check come first.

    Not found (404) where there is no such job.
    """
    return [_sheet_answer(sheet) for sheet in _sheets(job_view(workshop, number))]


@pages.get("/jobs/{number}/measure/{kind}", include_in_schema=False)
def kind_page(request: Request, workshop: WorkshopDep, number: JobNumber, kind: Kind) -> Response:
    """Show the form of a measurement. Raises NotFoundError where job or kind is unknown."""
    view = job_view(workshop, number)
    return _form(request, view, _sheet(view, kind), {})


@api.get("/jobs/{number}/measure/{kind}")
def measure(workshop: WorkshopDep, number: JobNumber, kind: Kind) -> SheetAnswer:
    """A measurement and what it asks; not found (404) where job or kind is unknown."""
    return _sheet_answer(_sheet(job_view(workshop, number), kind))


@pages.post("/jobs/{number}/measure/{kind}", include_in_schema=False)
def understood_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, kind: Kind, form: Posted
) -> Response:
    """Show what was understood; puts nothing down.

    ``edit`` leads back to the form with what was typed. Raises NotFoundError, ReadingError with
    what was probably meant.
    """
    view = job_view(workshop, number)
    sheet = _sheet(view, kind)
    typed = form.starting(_MARK)
    # Which of its two buttons sent the form.
    if form.text("edit"):
        return _form(request, view, sheet, typed)
    # The same bounds as for JSON, and then the reading itself.
    result = evaluate(sheet, parse(ReadingsIn, typed=typed).typed)
    meaning = interpret(sheet, result, view.family)
    # Hidden fields of the page that asks "understood?": the form is not kept here in between.
    again = values_to_confirm(sheet, typed)
    return page(
        request,
        "job/understood.html",
        view=view,
        sheet=sheet,
        found=meaning,
        typed=typed,
        again=again,
        figure=figure_address(result),
    )


@api.post("/jobs/{number}/measure/{kind}")
def understand(
    workshop: WorkshopDep, number: JobNumber, kind: Kind, sent: ReadingsIn
) -> Interpretation:
    """What the readings say and which findings they would put down. Puts nothing down.

    A fault (422) names the reading that cannot be.
    """
    view = job_view(workshop, number)
    sheet = _sheet(view, kind)
    return interpret(sheet, evaluate(sheet, sent.typed), view.family)


@pages.post("/jobs/{number}/measure/{kind}/findings", include_in_schema=False)
def put_page(workshop: WorkshopDep, number: JobNumber, kind: Kind, form: Posted) -> Response:
    """Put down what was understood. Raises NotFoundError, InputError, ConflictError."""
    sent = parse(
        MeasuredIn, typed=form.starting(_MARK), checks=tuple(form.texts("checks")), **form.sender()
    )
    put_all(workshop, number, _sheet(job_view(workshop, number), kind), sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/measure/{kind}/findings", status_code=201)
def put(workshop: WorkshopDep, number: JobNumber, kind: Kind, sent: MeasuredIn) -> Recorded:
    """Put the findings named in ``checks`` down; a measurement that answers none becomes a note.

    A fault (422) names the reading that cannot be; conflict (409) where the job has moved on.
    """
    return recorded(
        workshop, number, put_all(workshop, number, _sheet(job_view(workshop, number), kind), sent)
    )


def _form(
    request: Request, view: JobView, sheet: MeasurementForm, typed: dict[str, str]
) -> Response:
    """The form with what was typed kept."""
    return page(request, "job/measure.html", view=view, sheet=sheet, typed=typed)
