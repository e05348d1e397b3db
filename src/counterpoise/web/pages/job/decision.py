"""The decision page, and closing a job."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request, Response

from counterpoise.money import RepairOrNew
from counterpoise.report.views.job import JobView, Recorded, job_view, preselected_option, recorded
from counterpoise.report.views.quote import agreed
from counterpoise.report.views.worth import against_new, leaving, untouched, ways_figure
from counterpoise.report.words.family_money import FigureLine
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber, add_entry
from counterpoise.web.render import page
from counterpoise.web.schemas import CloseIn, DecisionIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.diagnosis.assessment import OptionView
from counterpoise.workshop.jobs.entries import Closed, Decision
from counterpoise.workshop.jobs.entry_checks import ENDINGS, OPTIONS
from counterpoise.workshop.learning.closing import AskedCause, asked_causes, parts_put_in

# what can be said of a cause at the closing, by the field it goes into
WORDS = {"faults": "seen", "likely": "likely", "ruled_out": "not it", "": "never known"}
pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["decision"])


@dataclass(frozen=True, slots=True)
class FaultName:
    """A fault that can be named as what was wrong, by its id."""

    id: str
    title: str


@dataclass(frozen=True, slots=True)
class DecisionAnswer:
    """The options side by side, and what was decided so far (empty where nothing was).

    ``agreed_minor`` is in minor units, None where no price was agreed; ``against_new`` is None for
    the workshop's own machine. ``untouched`` says, by option, what nobody has put a hand to before
    a way that cannot be undone, ``must_not_leave`` why the machine may not leave so (barred, or
    only with a ``safeguard``); ``value_minor`` and ``ahead`` what going on as advised is worth and
    comes to. ``figures`` are those of its family that it is weighed with; ``assumed`` says which of
    them the family's file leaves out (empty: none).
    """

    number: int
    last: int
    currency: str
    options: tuple[OptionView, ...]
    stop_reason: str
    decided: str
    agreed_minor: int | None
    against_new: RepairOrNew | None
    untouched: dict[str, str]
    must_not_leave: dict[str, str]
    ahead: str
    value_minor: int
    figures: tuple[FigureLine, ...]
    assumed: str


@dataclass(frozen=True, slots=True)
class CloseAnswer:
    """How a job can end, and the faults that can be named, sorted by probability.

    ``asked`` are those the machine may have come in with, each with the word that suggests itself.
    ``must_not_leave`` says, by ending, why the machine may not leave so.
    """

    number: int
    last: int
    closed: bool
    endings: dict[str, str]
    faults: tuple[FaultName, ...]
    must_not_leave: dict[str, str]
    asked: tuple[AskedCause, ...]


def _faults(view: JobView) -> tuple[list[FaultName], list[FaultName]]:
    """The likelier faults, then all others."""
    # Eight at one in twenty and above: what fits on a phone beside the question; the others stand
    # below.
    likely = [
        FaultName(s.fault, s.title) for s in view.assessment.suspects if s.probability >= 0.05
    ][:8]
    named = {fault.id for fault in likely}
    # All others too: what was wrong in the end may be what nobody suspected, and the statistics
    # of the workshop live on it.
    return likely, [
        FaultName(f.id, f.title) for f in view.family.faults.values() if f.id not in named
    ]


@pages.get("/jobs/{number}/decision", include_in_schema=False)
def decision_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, option: str = ""
) -> Response:
    """Show the options side by side; ``option`` ticks one. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(
        request,
        "job/decision.html",
        view=view,
        # What was decided before, else what pays best: one tap less at the counter.
        chosen=option or preselected_option(view),
        worth=against_new(view),
        untouched=untouched(view),
        leaving=leaving(view),
        agreed=agreed(view),
        figure=ways_figure(view),
    )


@api.get("/jobs/{number}/decision")
def decision(workshop: WorkshopDep, number: JobNumber) -> DecisionAnswer:
    """The options side by side, each with its worth in minor units and how far it may be off."""
    view = job_view(workshop, number)
    made_before = view.job.decision
    return DecisionAnswer(
        number=number,
        last=view.last,
        currency=view.currency,
        options=view.assessment.options,
        stop_reason=view.assessment.stop_reason,
        # Empty and not null: a program can compare it with an option as it is.
        decided=made_before.option if made_before else "",
        agreed_minor=made_before.agreed_minor if made_before else None,
        against_new=against_new(view),
        untouched=untouched(view),
        must_not_leave=leaving(view),
        ahead=view.assessment.ahead,
        value_minor=view.assessment.value_minor,
        figures=view.money_figures,
        assumed=view.assumed_money,
    )


@pages.post("/jobs/{number}/decision", include_in_schema=False)
def decide_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put a decision down.

    Raises NotFoundError, InputError naming the field, ConflictError where the form was stale.
    """
    sent = parse(DecisionIn, **form.entry(Decision))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/decision", status_code=201)
def decide(workshop: WorkshopDep, number: JobNumber, sent: DecisionIn) -> Recorded:
    """Put a decision down; a price agreed is in minor units.

    A fault (422) names its field; conflict (409) where the job has moved on since
    ``expected_last``.
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))


@pages.get("/jobs/{number}/close", include_in_schema=False)
def closing_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Ask how it ended. Raises NotFoundError."""
    view = job_view(workshop, number)
    asked = asked_causes(view.family, view.settings, view.job)
    named = {cause.id for cause in asked}
    return page(
        request,
        "job/close.html",
        view=view,
        endings=list(OPTIONS.items()),
        asked=asked,
        # what was wrong in the end may be what nobody suspected
        others=[fault for fault in view.family.faults.values() if fault.id not in named],
        words=WORDS,
        parts=parts_put_in(view.family, view.job),
        chosen=preselected_option(view),
        leaving=leaving(view),
    )


@api.get("/jobs/{number}/close")
def closing(workshop: WorkshopDep, number: JobNumber) -> CloseAnswer:
    """How the job can end, and which faults can be named, the likeliest first."""
    view = job_view(workshop, number)
    likely, others = _faults(view)
    closed = view.job.closed is not None
    mind = {} if closed else leaving(view)
    asked = () if closed else asked_causes(view.family, view.settings, view.job)
    named = (*likely, *others)
    return CloseAnswer(number, view.last, closed, dict(ENDINGS), named, mind, asked)


@pages.post("/jobs/{number}/close", include_in_schema=False)
def close_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Close the job. Raises NotFoundError, InputError naming the field, ConflictError."""
    said = form.starting("cause.")
    # a tick is the word of one who saw it; of each cause the page asks for one word
    causes = {
        field: [*form.texts(field), *(cause for cause, word in said.items() if word == field)]
        for field in WORDS
        if field
    }
    sent = parse(CloseIn, **form.entry(Closed, **causes))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/close", status_code=201)
def close(workshop: WorkshopDep, number: JobNumber, sent: CloseIn) -> Recorded:
    """Close the job: how it ended, what was wrong, what came in (minor units).

    Conflict (409) where the job has moved on since ``expected_last``.
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))
