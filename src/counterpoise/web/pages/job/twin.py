"""What a machine does in a spin: any of a kind, or that of a job with its leading suspects."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from counterpoise.dynamics.answers.what_if import WhatIf
from counterpoise.report.views.job import JobView, job_view
from counterpoise.report.views.machine_figures import own_machine
from counterpoise.report.views.twin import TwinAnswer, pictures, twin_answer
from counterpoise.report.views.twin_question import (
    KINDS,
    assumptions,
    kind_asked,
    model_kind,
    read_question,
    suspected_faults,
)
from counterpoise.report.words.machine_figures import PLACES
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.render import page
from counterpoise.workshop.jobs.fields import Ident
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["twin"])
Kind = Annotated[Ident, Query(description="Kind of machine; empty: the first with a model.")]
Fault = Annotated[str, Field(max_length=80)]
# Three are worked out; up to twenty are read, so that the fourth gets a sentence and not a bare
# 422.
Faults = Annotated[
    list[Fault],
    Query(
        alias="fault",
        default_factory=list,
        description="KEY[:SEVERITY[:PART]], several at once joined by +; up to three.",
    ),
    Field(max_length=20),
]
# Names that are no figures of the machine; all others of the query are looked up among them.
_OWN = frozenset({"family", "fault", "chosen"})


def _figures(
    request: Request,
    unbalance: Annotated[str, Query(max_length=24, description="Thing on the drum wall, kg.")] = "",
    depth: Annotated[str, Query(max_length=24, description="Its place: 0 hub, 1 opening.")] = "",
    load: Annotated[str, Query(max_length=24, description="Evenly spread wet load, kg.")] = "",
    top_rpm: Annotated[str, Query(max_length=24, description="Top spin speed.")] = "",
    point_x: Annotated[
        str, Query(max_length=24, description="Point on the top panel, m right of its middle.")
    ] = "",
    point_y: Annotated[str, Query(max_length=24, description="The same, m to the rear.")] = "",
) -> dict[str, str]:
    """What was typed by name: these, and any of the family's own figures."""
    # Declared one by one so that OpenAPI describes them; the family's own figures differ from
    # kind to kind.
    named = {
        "unbalance": unbalance,
        "depth": depth,
        "load": load,
        "top_rpm": top_rpm,
        "point_x": point_x,
        "point_y": point_y,
    }
    return {
        # Longer than any number; cut so that an error message can show it.
        name: text[:40]
        for name, text in request.query_params.items()
        if name not in _OWN
    } | named


Figures = Annotated[dict[str, str], Depends(_figures)]


def _of_job(
    view: JobView, figures: dict[str, str], faults: list[str], *, chosen: bool
) -> tuple[WhatIf, TwinAnswer]:
    kind = model_kind(view)
    # What was measured on this machine goes before the usual figures of its kind.
    names, own = suspected_faults(view, kind), own_machine(view.job, view.family)
    question = read_question(
        # Without ``chosen``, no fault at all means nobody has chosen yet, and the suspects are
        # shown.
        kind,
        figures,
        tuple(faults) if chosen or faults else tuple(names),
        own,
    )
    return question, replace(twin_answer(question, names, own), taken_as=assumptions(view))


def _page(
    request: Request,
    workshop: Workshop,
    view: JobView | None,
    question: WhatIf,
    answer: TwinAnswer,
) -> Response:
    # Drawn by the server: the pages run no script.
    drawn = pictures(question)
    shop = workshop.settings()
    return page(
        request,
        "job/twin.html",
        view=view,
        settings=shop,
        found=answer,
        pictures=drawn,
        kinds=KINDS,
        places=PLACES,
        load_typed=bool(request.query_params.get("unbalance", "").strip()),
    )


@pages.get("/twin", include_in_schema=False)
def twin_page(
    request: Request,
    workshop: WorkshopDep,
    figures: Figures,
    faults: Faults,
    family: Kind = "",
) -> Response:
    """Show what a machine of a kind does in a spin.

    Raises InputError naming the figure that cannot be.
    """
    question = read_question(kind_asked(workshop, family), figures, tuple(faults))
    return _page(request, workshop, None, question, twin_answer(question))


@api.get("/twin")
def twin(workshop: WorkshopDep, figures: Figures, faults: Faults, family: Kind = "") -> TwinAnswer:
    """What a machine of a kind does in a spin, sound and with each ``fault``.

    Every figure under ``values`` of the answer can be set by its name; a fault (422) names the one
    that cannot be.
    """
    return twin_answer(read_question(kind_asked(workshop, family), figures, tuple(faults)))


@pages.get("/jobs/{number}/twin", include_in_schema=False)
def job_twin_page(
    request: Request,
    workshop: WorkshopDep,
    number: JobNumber,
    figures: Figures,
    faults: Faults,
    chosen: bool = False,
) -> Response:
    """Show what this job's machine does in a spin, sound and with what is suspected.

    Raises NotFoundError, InputError naming the figure that cannot be.
    """
    view = job_view(workshop, number)
    question, answer = _of_job(view, figures, faults, chosen=chosen)
    return _page(request, workshop, view, question, answer)


@api.get("/jobs/{number}/twin")
def job_twin(
    workshop: WorkshopDep, number: JobNumber, figures: Figures, faults: Faults, chosen: bool = False
) -> TwinAnswer:
    """What this job's machine does in a spin, sound and with what is suspected.

    ``fault`` names other faults; ``chosen`` without one: the sound machine alone. Not found (404)
    where there is no such job.
    """
    return _of_job(job_view(workshop, number), figures, faults, chosen=chosen)[1]
