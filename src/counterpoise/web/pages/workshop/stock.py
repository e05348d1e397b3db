"""The shelf: what lies there, what came in, what it was used for; and what a job takes from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import Field

from counterpoise.errors import InputError
from counterpoise.money.order import Quality
from counterpoise.report.paper.pdf import labels_pdf
from counterpoise.report.views.job import JobView, Recorded, job_view, recorded
from counterpoise.report.views.stock import lot_label
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.pages.job.estimate import chosen_kinds
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.fields import Ident, Minor, Short
from counterpoise.workshop.parts.stock import Lot, Move, Receipt
from counterpoise.workshop.services.stock import ItemSheet, StockItem
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["stock"])
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Name = Annotated[str, Path(max_length=80)]
Count = Annotated[int, Field(ge=0, le=100_000)]


@dataclass(frozen=True, slots=True)
class Stock:
    """What lies on the shelf, by title."""

    currency: str
    items: tuple[StockItem, ...]


class ReceiptIn(Sent):
    """Pieces come in. ``cost_minor``: what one cost; ``asked_minor``: what a customer is asked for one, before mark-up.

    ``maker``: whose machines it fits, empty: any.
    """

    kind: Quality = "new"
    count: Annotated[int, Field(ge=1, le=1000)] = 1
    place: Short = ""
    cost_minor: Minor = 0
    asked_minor: Minor | None = None
    maker: Short = ""
    model: Short = ""
    note: Short = ""

    def receipt(self, family: str, item: str) -> Receipt:
        """The same as the shelf takes it."""
        return Receipt(family, item, **self.model_dump(exclude={"by", "expected_last"}))


class MoveIn(Sent):
    """Something that happens to a lot. ``count``: pieces; for ``counted``, how many there are."""

    kind: Literal["counted", "moved", "reserved", "released", "used", "written_off"]
    count: Count = 0
    job: Annotated[int, Field(ge=1, le=2**31 - 1)] | None = None
    place: Short = ""
    note: Short = ""


class ShelveIn(Sent):
    """Pieces off a job's machine are put on the shelf: how many of each, and where."""

    pieces: Annotated[dict[Ident, Annotated[int, Field(ge=1, le=100)]], Field(max_length=60)]
    place: Short = ""


class WorkIn(Sent):
    """Reserve what the estimate of this work takes from the shelf, or let go of all that is reserved for the job."""

    what: Literal["reserve", "release"]
    repairs: Annotated[tuple[Ident, ...], Field(max_length=40)] = ()
    used: bool = False
    parts: Annotated[dict[Ident, Quality], Field(max_length=60)] = Field(default_factory=dict)


class AgreementIn(Sent):
    """The owner agrees to used parts, or no longer does."""

    used_parts: bool


@pages.get("/stock", include_in_schema=False)
def stock_page(
    request: Request, workshop: WorkshopDep, item: Annotated[str, Query(max_length=170)] = ""
) -> Response:
    """Show what lies on the shelf; ``item`` leads on to one."""
    if item:
        return RedirectResponse(f"/stock/{item}", 303)
    return page(
        request,
        "workshop/stock.html",
        settings=workshop.settings(),
        items=workshop.stock.items(),
        families=workshop.families.values(),
    )


@api.get("/stock")
def stock(workshop: WorkshopDep) -> Stock:
    """What lies on the shelf."""
    return Stock(workshop.settings().currency, workshop.stock.items())


@pages.get("/stock/lots/{lot}", include_in_schema=False)
def lot_page(workshop: WorkshopDep, lot: Number) -> Response:
    """Lead to the page of the item a label is stuck on."""
    found = workshop.stock.book().lot(lot)
    return RedirectResponse(f"/stock/{found.family}/{found.item}#lot-{lot}", 303)


@api.get("/stock/lots/{lot}")
def lot(workshop: WorkshopDep, lot: Number) -> Lot:
    """A lot: pieces that came in together, how many are left, where, and for whom."""
    return workshop.stock.book().lot(lot)


@pages.get("/stock/lots/{lot}/label.pdf", include_in_schema=False)
def label_file(request: Request, workshop: WorkshopDep, lot: Number) -> Response:
    """Send the label of a lot; its code leads to it."""
    label = lot_label(workshop, workshop.stock.book().lot(lot))
    named = {"content-disposition": f'inline; filename="lot-{lot}.pdf"'}
    made_up = labels_pdf(label, f"{request.base_url}stock/lots/{lot}")
    return Response(made_up, media_type="application/pdf", headers=named)


@pages.post("/stock/lots/{lot}", include_in_schema=False)
def move_page(workshop: WorkshopDep, lot: Number, form: Posted) -> Response:
    """Put down what happened to a lot."""
    sent = parse(
        MoveIn, kind=form.text("kind"), count=_count(form, "count", 0), job=form.whole("job"), place=form.text("place"),
        note=form.text("note"), **form.sender(),
    )  # fmt: skip
    found = _move(workshop, lot, sent)
    return redirect(f"/stock/{found.family}/{found.item}#lot-{lot}", sent.by)


@api.post("/stock/lots/{lot}", status_code=201)
def move_lot(workshop: WorkshopDep, lot: Number, sent: MoveIn) -> Lot:
    """Put down what happened to a lot: counted, moved, reserved or released for a job, used on one, written off."""
    return _move(workshop, lot, sent)


def _move(workshop: Workshop, lot: int, sent: MoveIn) -> Lot:
    told = Move(lot, sent.kind, sent.count, sent.job, sent.place, sent.note)
    return workshop.stock.move(told, sent.hand, sent.expected_last)


@pages.post("/stock/movements/{number}", include_in_schema=False)
def undo_page(workshop: WorkshopDep, number: Number, form: Posted) -> Response:
    """Undo a movement."""
    found = workshop.stock.undo(number, form.text("by") or "bench")
    return redirect(f"/stock/{found.family}/{found.item}", form.text("by"))


@api.post("/stock/movements/{number}", status_code=201)
def undo_movement(workshop: WorkshopDep, number: Number, sent: Sent) -> Lot:
    """Undo a movement by its opposite."""
    return workshop.stock.undo(number, sent.hand)


@pages.get("/stock/{family}/{item}", include_in_schema=False)
def item_page(request: Request, workshop: WorkshopDep, family: Name, item: Name) -> Response:
    """Show an item: where it lies, its prices, what happened to it."""
    return page(
        request,
        "workshop/item.html",
        settings=workshop.settings(),
        sheet=workshop.stock.item(family, item),
    )


@api.get("/stock/{family}/{item}")
def item(workshop: WorkshopDep, family: Name, item: Name) -> ItemSheet:
    """An item: its lots, what happened to them, its prices."""
    return workshop.stock.item(family, item)


@pages.post("/stock/{family}/{item}", include_in_schema=False)
def receive_page(workshop: WorkshopDep, family: Name, item: Name, form: Posted) -> Response:
    """Put pieces on the shelf."""
    texts = {name: form.text(name) for name in ("kind", "place", "maker", "model", "note", "by")}
    sent = parse(
        ReceiptIn, count=_count(form, "count", 1), cost_minor=form.money("cost") or 0, asked_minor=form.money("asked"),
        **texts,
    )  # fmt: skip
    workshop.stock.receive(sent.receipt(family, item), sent.hand)
    return redirect(f"/stock/{family}/{item}", sent.by)


@api.post("/stock/{family}/{item}", status_code=201)
def receive_item(workshop: WorkshopDep, family: Name, item: Name, sent: ReceiptIn) -> Lot:
    """Put pieces on the shelf."""
    return workshop.stock.receive(sent.receipt(family, item), sent.hand)


def _count(form: Form, name: str, otherwise: int) -> int:
    found = form.whole(name)
    return otherwise if found is None else found


@pages.post("/jobs/{number}/parts", include_in_schema=False)
def shelve_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put pieces off the machine on the shelf."""
    counts = {item: form.whole(f"count.{item}") or 1 for item in form.texts("piece")}
    sent = parse(ShelveIn, pieces=counts, place=form.text("place"), by=form.text("by"))
    workshop.stock.put_on_shelf(number, sent.pieces, sent.place, sent.hand)
    return redirect("/stock", sent.by)


@api.post("/jobs/{number}/parts", status_code=201)
def shelve_pieces(workshop: WorkshopDep, number: JobNumber, sent: ShelveIn) -> list[Lot]:
    """Put pieces off the job's machine on the shelf as used parts."""
    return list(workshop.stock.put_on_shelf(number, sent.pieces, sent.place, sent.hand))


@pages.post("/jobs/{number}/shelf", include_in_schema=False)
def work_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Reserve what the work takes from the shelf, or let go of it."""
    sent = parse(
        WorkIn, what=form.text("what"), repairs=form.texts("repair"), used=form.text("used") == "true",
        parts=chosen_kinds(form.texts("part")), by=form.text("by"),
    )  # fmt: skip
    _work(workshop, job_view(workshop, number), sent)
    return redirect(f"/jobs/{number}/estimate", sent.by)


@api.post("/jobs/{number}/shelf", status_code=201)
def work(workshop: WorkshopDep, number: JobNumber, sent: WorkIn) -> list[Lot]:
    """Reserve what the estimate of the work takes from the shelf, or let go of all that is reserved for the job."""
    _work(workshop, job_view(workshop, number), sent)
    return list(workshop.stock.held_for(number))


def _work(workshop: Workshop, view: JobView, sent: WorkIn) -> None:
    if sent.what == "release":
        workshop.stock.release(view.job.number, sent.hand)
        return
    found = view.snapshot.costing(sent.repairs, Terms(sent.used, kinds=tuple(sent.parts.items())))
    if not workshop.stock.reserve(
        view.job.number, found, sent.hand
    ) and not workshop.stock.held_for(view.job.number):
        raise InputError(
            "nothing of this work lies on the shelf",
            field="parts",
            remedy="Choose a part from the shelf",
        )


@pages.post("/jobs/{number}/agreement", include_in_schema=False)
def agreement_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put down whether the owner agrees to used parts."""
    sent = parse(AgreementIn, used_parts=form.text("used_parts") == "yes", **form.sender())
    _agree(workshop, number, sent)
    return redirect(f"/jobs/{number}/estimate", sent.by)


@api.post("/jobs/{number}/agreement", status_code=201)
def agreement(workshop: WorkshopDep, number: JobNumber, sent: AgreementIn) -> Recorded:
    """Put down whether the owner agrees to used parts."""
    return recorded(workshop, number, _agree(workshop, number, sent))


def _agree(workshop: Workshop, number: int, sent: AgreementIn) -> int:
    intake = replace(workshop.jobs.get(number).intake, used_parts=sent.used_parts)
    return workshop.jobs.record(
        number, intake, by=sent.hand, expected_last=sent.expected_last
    ).number
