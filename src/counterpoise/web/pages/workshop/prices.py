"""Suppliers' price lists: looked at first, then taken in; what stands, and what stood."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from counterpoise.errors import InputError
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent as From
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import Short
from counterpoise.workshop.parts.column_names import COLUMNS
from counterpoise.workshop.parts.csv_sheet import ENCODINGS, MOST_BYTES, SEPARATORS
from counterpoise.workshop.parts.price_list import ListFormat
from counterpoise.workshop.parts.price_list_reader import MARKS
from counterpoise.workshop.parts.prices import PriceList
from counterpoise.workshop.services.prices import PriceFile, PricePreview

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["prices"])
_LIST = {"requestBody": {"content": {"text/csv": {}}, "required": True}}


class PriceTaken(From):
    """Takes a price list back by its number."""

    list: int = Field(ge=1, le=10**9)


class PriceLists(BaseModel):
    """The lists that came in, newest first; empty where none did."""

    lists: list[PriceList]


@dataclass(frozen=True, slots=True)
class ListDetails:
    """What is said of a list: whose it is, and how to read it where that is not plain.

    ``column`` is like ``price=EK netto`` or ``price=4``; the others are empty where the list tells
    itself.
    """

    supplier: Annotated[str, Query(max_length=200)] = ""
    name: Annotated[str, Query(max_length=200)] = ""
    column: Annotated[list[Short] | None, Query(max_length=20)] = None
    separator: Annotated[str, Query(max_length=20)] = ""
    encoding: Annotated[str, Query(max_length=20)] = ""
    decimal: Annotated[str, Query(max_length=20)] = ""
    family: Annotated[str, Query(max_length=80)] = ""

    def sent(self, data: bytes) -> PriceFile:
        """The list (its bytes) with what is said of it."""
        pairs = [text.partition("=") for text in self.column or ()]
        columns = {name.strip(): head for name, _, head in pairs}
        list_format = ListFormat(columns, self.separator, self.encoding, self.decimal, self.family)
        return PriceFile(self.supplier, self.name, data, list_format)


ListDetailsDep = Annotated[ListDetails, Depends()]


class _Held:
    """Lists that were looked at and may be taken in next: the last few, in memory alone.

    So that nothing is written before somebody has seen what would change.
    """

    # Six lists of 5 MB at most: two people may look at theirs at once, and look again.
    def __init__(self, most: int = 6) -> None:
        self._most, self._lock, self._lists = most, Lock(), OrderedDict[str, PriceFile]()

    def keep(self, sent: PriceFile) -> str:
        details = repr((sent.supplier, sent.file, sent.habits)).encode()
        # By its content, not by a number: a page that is left open asks for exactly what it
        # showed, or for nothing.
        key = hashlib.sha256(details + sent.data).hexdigest()[:32]
        with self._lock:
            self._lists[key] = sent
            # Shown again is wanted again: the one not looked at for longest goes first.
            self._lists.move_to_end(key)
            while len(self._lists) > self._most:
                self._lists.popitem(last=False)
        return key

    def get(self, key: str) -> PriceFile:
        with self._lock:
            if key not in self._lists:
                raise InputError(
                    "file: the list is no longer at hand",
                    field="file",
                    remedy="Choose the file again",
                )
            return self._lists[key]


# Of the process, not of the application: it holds what was sent and nothing of a workshop.
_held = _Held()


@pages.get("/prices", include_in_schema=False)
def prices_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the lists that came in, and ask for another. Raises StoreError."""
    book = workshop.prices.book()
    stands = sum(price.stands for price in book.prices)
    return page(
        request,
        "workshop/prices.html",
        settings=workshop.settings(),
        lists=book.lists[::-1],
        stands=stands,
        columns=list(COLUMNS),
        separators=list(SEPARATORS.values()),
        marks=list(MARKS),
        encodings=ENCODINGS,
        most_mb=MOST_BYTES // 10**6,
        families=list(workshop.families.values()),
    )


@api.get("/prices")
def prices(workshop: WorkshopDep) -> PriceLists:
    """The lists that came in, newest first; empty where none did."""
    return PriceLists(lists=list(workshop.prices.book().lists[::-1]))


@pages.post("/prices/preview", include_in_schema=False)
def preview_page(request: Request, workshop: WorkshopDep, form: Posted) -> Response:
    """Show what a list would change; stores nothing.

    Raises InputError where no file came or it is no list of prices.
    """
    files = form.files("file")
    if not files:
        raise InputError("file: none was sent", field="file", remedy="Choose the file")
    # One byte more than is taken, so that the reader sees that it is too large and says so.
    sent = _from(form, files[0].filename or "", files[0].file.read(MOST_BYTES + 1))
    preview = workshop.prices.preview(sent)
    return page(
        request,
        "workshop/price_preview.html",
        settings=workshop.settings(),
        found=preview,
        held=_held.keep(sent),
    )


def _from(form: Form, name: str, data: bytes) -> PriceFile:
    columns = form.starting("column.")
    others = [form.text(key) for key in ("separator", "encoding", "decimal", "family")]
    return PriceFile(form.text("supplier"), name[:200], data, ListFormat(columns, *others))


@api.post("/prices/preview", openapi_extra=_LIST)
async def preview_list(
    request: Request, workshop: WorkshopDep, details: ListDetailsDep
) -> PricePreview:
    """What a list (the bytes of a CSV file) would change, and what is wrong with it, by line.

    Stores nothing. A fault (422) where it is no list of prices.
    """
    sent = details.sent(await request.body())
    return await run_in_threadpool(workshop.prices.preview, sent)


@pages.post("/prices/import", include_in_schema=False)
def import_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Take in the list that was looked at.

    Raises InputError where it is no longer at hand or has faults, ConflictError where another list
    came in since.
    """
    sent, by = _held.get(form.text("held")), form.text("by")
    workshop.prices.take_in(
        sent,
        by or "bench",
        leave_out=bool(form.text("leave_out")),
        whole=bool(form.text("whole")),
        # The preview compared with the prices of its minute; a list that came in since would be
        # written over unseen.
        expected_last=form.whole("last"),
    )
    return redirect("/prices", by)


@api.post("/prices/import", status_code=201, openapi_extra=_LIST)
async def import_list(
    request: Request,
    workshop: WorkshopDep,
    details: ListDetailsDep,
    by: Annotated[str, Query(max_length=200)] = "",
    leave_out: bool = False,
    whole: bool = False,
) -> PriceList:
    """Take a list in: all of it or, with ``leave_out``, all but broken lines.

    ``whole`` replaces the supplier's former ones. Nothing is taken in where it is no list of prices
    or lines are broken (422).
    """
    sent = details.sent(await request.body())
    return await run_in_threadpool(
        workshop.prices.take_in, sent, by or "bench", leave_out=leave_out, whole=whole
    )


@pages.post("/prices/retractions", include_in_schema=False)
def take_back_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Take a list back. Raises NotFoundError, InputError where that was done already."""
    workshop.prices.take_back(form.whole("list") or 0, form.text("by") or "bench")
    return redirect("/prices", form.text("by"))


@api.post("/prices/retractions", status_code=201)
def take_back(workshop: WorkshopDep, sent: PriceTaken) -> PriceLists:
    """Take a list back: what stood before it stands again.

    Not found (404) where there is no such list, a fault (422) where it was taken back already.
    """
    workshop.prices.take_back(sent.list, sent.hand)
    return prices(workshop)


@pages.get("/prices.csv", include_in_schema=False)
def prices_file(workshop: WorkshopDep) -> Response:
    """Send the prices that stand as a table (CSV). Raises StoreError."""
    named = {"content-disposition": 'attachment; filename="prices.csv"'}
    return Response(workshop.prices.as_csv(), media_type="text/csv; charset=utf-8", headers=named)
