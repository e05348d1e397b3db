"""The shelf: what lies there, what came in, what it was used for; and what a job takes from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import Field

from counterpoise.money.order import Quality
from counterpoise.report.paper.pdf import labels_pdf
from counterpoise.report.views.stock import lot_label
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import Minor, Short
from counterpoise.workshop.parts.stock import Lot, Move, Receipt
from counterpoise.workshop.services.stock import ItemSheet, StockItem
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["stock"])
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Name = Annotated[str, Path(max_length=80)]
# Enough for a shelf of screws; a slip of the finger is still noticed.
Count = Annotated[int, Field(ge=0, le=100_000)]


@dataclass(frozen=True, slots=True)
class Stock:
    """What lies on the shelf, by title; empty where nothing does."""

    currency: str
    items: tuple[StockItem, ...]


class ReceiptIn(Sent):
    """Pieces come in; ``cost_minor`` is what one cost (minor units).

    ``asked_minor``: what a customer is asked for one, before mark-up; None: the catalog's price of
    a used one, else the cost. ``maker``: whose machines it fits, empty: any.
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
        """The same as the shelf takes it, for an item of a family. Raises InputError."""
        return Receipt(family, item, **self.model_dump(exclude={"by", "expected_last"}))


class MoveIn(Sent):
    """Something that happens to a lot.

    ``count``: pieces; for ``counted``, how many there are. ``job`` is None where it is for none.
    """

    kind: Literal["counted", "moved", "reserved", "released", "used", "written_off"]
    count: Count = 0
    job: Annotated[int, Field(ge=1, le=2**31 - 1)] | None = None
    place: Short = ""
    note: Short = ""


@pages.get("/stock", include_in_schema=False)
def stock_page(
    request: Request, workshop: WorkshopDep, item: Annotated[str, Query(max_length=170)] = ""
) -> Response:
    """Show what lies on the shelf; ``item`` leads on to one. Raises StoreError."""
    # The picker of the page is a form without a script: it can only ask this page for another.
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
    """What lies on the shelf; empty where nothing does."""
    return Stock(workshop.settings().currency, workshop.stock.items())


@pages.get("/stock/lots/{lot}", include_in_schema=False)
def lot_page(workshop: WorkshopDep, lot: Number) -> Response:
    """Lead to the page of the item a label is stuck on. Raises NotFoundError."""
    pieces = workshop.stock.book().lot(lot)
    return RedirectResponse(f"/stock/{pieces.family}/{pieces.item}#lot-{lot}", 303)


@api.get("/stock/lots/{lot}")
def lot(workshop: WorkshopDep, lot: Number) -> Lot:
    """A lot: pieces that came in together, how many are left, where, and for whom.

    Not found (404) where there is no such lot.
    """
    return workshop.stock.book().lot(lot)


@pages.get("/stock/lots/{lot}/label.pdf", include_in_schema=False)
def label_file(request: Request, workshop: WorkshopDep, lot: Number) -> Response:
    """Send the label (PDF) of a lot; its code leads to it. Raises NotFoundError."""
    label = lot_label(workshop, workshop.stock.book().lot(lot))
    named = {"content-disposition": f'inline; filename="lot-{lot}.pdf"'}
    document = labels_pdf(label, f"{request.base_url}stock/lots/{lot}")
    return Response(document, media_type="application/pdf", headers=named)


@pages.post("/stock/lots/{lot}", include_in_schema=False)
def move_page(workshop: WorkshopDep, lot: Number, form: Posted) -> Response:
    """Put down what happened to a lot.

    Raises NotFoundError, InputError where there are not so many pieces, ConflictError.
    """
    sent = parse(
        MoveIn,
        kind=form.text("kind"),
        count=_count(form, "count", 0),
        job=form.whole("job"),
        place=form.text("place"),
        note=form.text("note"),
        **form.sender(),
    )
    moved = _move(workshop, lot, sent)
    return redirect(f"/stock/{moved.family}/{moved.item}#lot-{lot}", sent.by)


@api.post("/stock/lots/{lot}", status_code=201)
def move_lot(workshop: WorkshopDep, lot: Number, sent: MoveIn) -> Lot:
    """Put down what happened to a lot: counted, moved, reserved, released, used or written off.

    A fault (422) where there are not so many pieces; conflict (409) where the lot moved since
    ``expected_last``.
    """
    return _move(workshop, lot, sent)


def _move(workshop: Workshop, lot: int, sent: MoveIn) -> Lot:
    move = Move(lot, sent.kind, sent.count, sent.job, sent.place, sent.note)
    return workshop.stock.move(move, sent.hand, sent.expected_last)


@pages.post("/stock/movements/{number}", include_in_schema=False)
def undo_page(workshop: WorkshopDep, number: Number, form: Posted) -> Response:
    """Undo a movement. Raises NotFoundError, InputError where that was done already."""
    moved = workshop.stock.undo(number, form.text("by") or "bench")
    return redirect(f"/stock/{moved.family}/{moved.item}", form.text("by"))


@api.post("/stock/movements/{number}", status_code=201)
def undo_movement(workshop: WorkshopDep, number: Number, sent: Sent) -> Lot:
    """Undo a movement by its opposite; a fault (422) where that was done already."""
    return workshop.stock.undo(number, sent.hand)


@pages.get("/stock/{family}/{item}", include_in_schema=False)
def item_page(request: Request, workshop: WorkshopDep, family: Name, item: Name) -> Response:
    """Show an item: where it lies, its prices, what happened to it. Raises NotFoundError."""
    return page(
        request,
        "workshop/item.html",
        settings=workshop.settings(),
        sheet=workshop.stock.item(family, item),
    )


@api.get("/stock/{family}/{item}")
def item(workshop: WorkshopDep, family: Name, item: Name) -> ItemSheet:
    """An item: its lots, what happened to them, its prices (minor units).

    Not found (404) where family or item is unknown.
    """
    return workshop.stock.item(family, item)


@pages.post("/stock/{family}/{item}", include_in_schema=False)
def receive_page(workshop: WorkshopDep, family: Name, item: Name, form: Posted) -> Response:
    """Put pieces on the shelf. Raises InputError naming the field."""
    # An empty kind is refused by the model, with its name.
    texts = {name: form.text(name) for name in ("kind", "place", "maker", "model", "note", "by")}
    sent = parse(
        ReceiptIn,
        count=_count(form, "count", 1),
        cost_minor=form.money("cost") or 0,
        asked_minor=form.money("asked"),
        **texts,
    )
    workshop.stock.receive(sent.receipt(family, item), sent.hand)
    return redirect(f"/stock/{family}/{item}", sent.by)


@api.post("/stock/{family}/{item}", status_code=201)
def receive_item(workshop: WorkshopDep, family: Name, item: Name, sent: ReceiptIn) -> Lot:
    """Put pieces on the shelf as a new lot; costs are in minor units.

    A fault (422) where neither catalog nor assembly knows the item.
    """
    return workshop.stock.receive(sent.receipt(family, item), sent.hand)


def _count(form: Form, name: str, otherwise: int) -> int:
    count = form.whole(name)
    # Not ``or``: 0 counted pieces are none, and no mistake.
    return otherwise if count is None else count
