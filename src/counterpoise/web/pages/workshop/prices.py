"""Suppliers' price lists: looked at first, then taken in; what stands, and what stood."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from counterpoise.errors import InputError
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent as From
from counterpoise.workshop.jobs.fields import Short
from counterpoise.workshop.parts.column_names import COLUMNS
from counterpoise.workshop.parts.csv_sheet import ENCODINGS, MOST_BYTES, SEPARATORS
from counterpoise.workshop.parts.price_list import ListFormat
from counterpoise.workshop.parts.price_list_reader import MARKS
from counterpoise.workshop.parts.prices import PriceList
from counterpoise.workshop.services.prices import PriceFile, PricePreview

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["prices"])
_LIST = {"requestBody": {"content": {"text/csv": {}}, "required": True}}


class PriceTaken(From):
    """Takes a price list back by its number."""

    list: int = Field(ge=1, le=10**9)


class PriceLists(BaseModel):
    """The lists that came in, newest first."""

    lists: list[PriceList]


@dataclass(frozen=True, slots=True)
class Told:
    """What is told about a list: whose it is, and how to read it where that is not plain.

    ``column`` is like ``price=EK netto`` or ``price=4``.
    """

    supplier: Annotated[str, Query(max_length=200)] = ""
    name: Annotated[str, Query(max_length=200)] = ""
    column: Annotated[list[Short] | None, Query(max_length=20)] = None
    separator: Annotated[str, Query(max_length=20)] = ""
    encoding: Annotated[str, Query(max_length=20)] = ""
    decimal: Annotated[str, Query(max_length=20)] = ""
    family: Annotated[str, Query(max_length=80)] = ""

    def sent(self, data: bytes) -> PriceFile:
        """The list with what is told about it."""
        pairs = [text.partition("=") for text in self.column or ()]
        columns = {name.strip(): head for name, _, head in pairs}
        habits = ListFormat(columns, self.separator, self.encoding, self.decimal, self.family)
        return PriceFile(self.supplier, self.name, data, habits)


ToldOf = Annotated[Told, Depends()]


class _Held:
    """Lists that were looked at and may be taken in next: the last few, in memory alone, so that nothing is written."""

    def __init__(self, most: int = 6) -> None:
        self._most, self._lock, self._lists = most, Lock(), OrderedDict[str, PriceFile]()

    def keep(self, sent: PriceFile) -> str:
        told = repr((sent.supplier, sent.file, sent.habits)).encode()
        key = hashlib.sha256(told + sent.data).hexdigest()[:32]
        with self._lock:
            self._lists[key] = sent
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


_held = _Held()


@pages.get("/prices", include_in_schema=False)
def prices_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the lists that came in, and ask for another."""
    book = workshop.prices.book()
    told: dict[str, Any] = {
        "columns": list(COLUMNS),
        "separators": list(SEPARATORS.values()),
        "marks": list(MARKS),
    }
    told |= {
        "encodings": ENCODINGS,
        "most_mb": MOST_BYTES // 10**6,
        "families": list(workshop.families.values()),
    }
    stands = sum(price.stands for price in book.prices)
    return page(
        request,
        "workshop/prices.html",
        settings=workshop.settings(),
        lists=book.lists[::-1],
        stands=stands,
        **told,
    )


@api.get("/prices")
def prices(workshop: WorkshopDep) -> PriceLists:
    """The lists that came in, newest first."""
    return PriceLists(lists=list(workshop.prices.book().lists[::-1]))


@pages.post("/prices/preview", include_in_schema=False)
def preview_page(request: Request, workshop: WorkshopDep, form: Posted) -> Response:
    """Show what a list would change; stores nothing."""
    files = form.files("file")
    if not files:
        raise InputError("file: none was sent", field="file", remedy="Go back and choose the file")
    sent = _from(form, files[0].filename or "", files[0].file.read(MOST_BYTES + 1))
    found = workshop.prices.preview(sent)
    return page(
        request,
        "workshop/price_preview.html",
        settings=workshop.settings(),
        found=found,
        held=_held.keep(sent),
    )


def _from(form: Form, name: str, data: bytes) -> PriceFile:
    columns = form.starting("column.")
    told = [form.text(key) for key in ("separator", "encoding", "decimal", "family")]
    return PriceFile(form.text("supplier"), name[:200], data, ListFormat(columns, *told))


@api.post("/prices/preview", openapi_extra=_LIST)
async def preview_list(request: Request, workshop: WorkshopDep, told: ToldOf) -> PricePreview:
    """What a list (the bytes of a CSV file) would change, and what is wrong with it, by line; stores nothing."""
    sent = told.sent(await request.body())
    return await run_in_threadpool(workshop.prices.preview, sent)


@pages.post("/prices/import", include_in_schema=False)
def import_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Take in the list that was looked at."""
    sent, by = _held.get(form.text("held")), form.text("by")
    workshop.prices.take_in(sent, by or "bench", leave_out=bool(form.text("leave_out")), whole=bool(form.text("whole")),
        expected_last=form.whole("last"),
    )  # fmt: skip
    return redirect("/prices", by)


@api.post("/prices/import", status_code=201, openapi_extra=_LIST)
async def import_list(
    request: Request, workshop: WorkshopDep, told: ToldOf, by: Annotated[str, Query(max_length=200)] = "",
    leave_out: bool = False, whole: bool = False,
) -> PriceList:  # fmt: skip
    """Take a list in: all of it or, with ``leave_out``, all but broken lines. ``whole`` replaces the former ones."""
    sent = told.sent(await request.body())
    return await run_in_threadpool(
        workshop.prices.take_in, sent, by or "bench", leave_out=leave_out, whole=whole
    )


@pages.post("/prices/retractions", include_in_schema=False)
def take_back_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Take a list back."""
    workshop.prices.take_back(form.whole("list") or 0, form.text("by") or "bench")
    return redirect("/prices", form.text("by"))


@api.post("/prices/retractions", status_code=201)
def take_back(workshop: WorkshopDep, sent: PriceTaken) -> PriceLists:
    """Take a list back: what stood before it stands again."""
    workshop.prices.take_back(sent.list, sent.hand)
    return prices(workshop)


@pages.get("/prices.csv", include_in_schema=False)
def prices_file(workshop: WorkshopDep) -> Response:
    """Send the prices that stand as a table."""
    named = {"content-disposition": 'attachment; filename="prices.csv"'}
    return Response(workshop.prices.as_csv(), media_type="text/csv; charset=utf-8", headers=named)
