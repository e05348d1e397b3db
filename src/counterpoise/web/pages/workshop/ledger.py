"""The ledger of a month, as a page, as a table to take along, and as JSON."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, BackgroundTasks, Query, Request, Response

from counterpoise.report.views.ledger import (
    MonthSums,
    month_figure,
    month_ledger,
    neighbouring_months,
    year_figure,
    year_to,
)
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.render import page
from counterpoise.workshop.billing.ledger import Ledger, as_csv

_ALL = 1_000_000  # lines of a year: more than any workshop closes
pages = APIRouter()
api = APIRouter(prefix="/api", tags=["ledger"])
# A text: a month that is none gets a sentence that says how to write one.
Month = Annotated[str, Query(max_length=20)]


@pages.get("/ledger", include_in_schema=False)
def ledger_page(
    request: Request, workshop: WorkshopDep, later: BackgroundTasks, month: Month = ""
) -> Response:
    """Show the jobs closed in a month (ISO 8601). Raises InputError where it is no month."""
    ledger = month_ledger(workshop, month)
    before, after = neighbouring_months(ledger.month)
    # the year around it, with the month after where there is one: one tap on is never lost
    newest = max(ledger.month, min(after, workshop.now()[:7]))
    year = year_to(workshop, newest)
    # a long year is added up once the page is sent: the next look finds it done
    if not all(each.known for each in year):
        later.add_task(year_to, workshop, newest, _ALL)
    answer = page(
        request,
        "workshop/ledger.html",
        settings=workshop.settings(),
        found=ledger,
        around=(before, after),
        figure=month_figure(ledger),
        year=year,
        columns=year_figure(year),
    )
    # an answer made by hand takes its tasks along itself
    answer.background = later
    return answer


@api.get("/ledger/year")
def year(workshop: WorkshopDep, month: Month = "") -> tuple[MonthSums, ...]:
    """Sums of a month like ``2026-03`` and the eleven before it (minor units, minutes).

    Without one, up to this month. A fault (422) where it is no month; ``known`` is false where the
    sums are not complete yet: ask again.
    """
    return year_to(workshop, month or workshop.now()[:7])


@api.get("/ledger")
def ledger(workshop: WorkshopDep, month: Month = "") -> Ledger:
    """The jobs closed in a month like ``2026-03``, with sums in minor units.

    Without one, of the last in which one was closed. A fault (422) where it is no month.
    """
    return month_ledger(workshop, month)


@pages.get("/ledger.csv", include_in_schema=False)
def ledger_file(workshop: WorkshopDep, month: Month = "") -> Response:
    """Send them as CSV. Raises InputError where it is no month."""
    ledger = month_ledger(workshop, month)
    # The month as it was understood, not as it was typed: a header must not carry what a link
    # brought.
    named = {"content-disposition": f'attachment; filename="ledger-{ledger.month}.csv"'}
    return Response(as_csv(ledger), media_type="text/csv; charset=utf-8", headers=named)
