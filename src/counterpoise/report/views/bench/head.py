"""The one line at the head of every page of a job."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from counterpoise.report.words import numbers
from counterpoise.workshop.jobs.entries import Decision, Job

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.diagnosis.assessment import Step

# ways that end with a sale: the machine stands there until somebody buys it
_SOLD = frozenset({"repair_resell", "sell_as_is"})


@dataclass(frozen=True, slots=True)
class Head:
    """Number, machine, money agreed, bench minutes so far, and what blocks the job.

    ``money`` is short, ``money_words`` the same as a sentence part; each is empty where nothing was
    agreed, and ``blocked`` where the next thing can be done now.
    """

    number: int
    name: str
    money: str
    money_words: str
    minutes: str
    blocked: str


def head(view: JobView) -> Head:
    """The head of a job's pages."""
    intake = view.job.intake
    # the maker's name and the model say which machine it is; a title may say much more
    model = " ".join(part for part in (intake.maker, intake.model) if part)
    short, words = _money(view.job.decision, view.currency)
    spent = numbers.minutes(view.assessment.minutes_so_far)
    return Head(view.job.number, model or view.title, short, words, spent, blocked(view))


def _money(decision: Decision | None, currency: str) -> tuple[str, str]:
    """The price agreed and its ceiling: ``120 / 150 EUR``, and in words; empty without one."""
    if decision is None or decision.agreed_minor is None:
        return "", ""
    agreed = numbers.about(decision.agreed_minor, currency)
    words = f"{numbers.money(decision.agreed_minor, currency)} agreed"
    if decision.ceiling_minor is None:
        return agreed, words
    most = numbers.about(decision.ceiling_minor, currency)
    short = f"{agreed.removesuffix(currency).strip()} / {most}"
    return short, f"{words}, at most {numbers.money(decision.ceiling_minor, currency)}"


def blocked(view: JobView) -> str:
    """What a job waits for, in few words; empty where its next step can be done now."""
    job = view.job
    if job.closed:
        return "closed"
    # a day that has come blocks nothing any more
    if job.parts_due > datetime.now(UTC).date().isoformat():
        return f"parts due {numbers.day(job.parts_due)}"
    step = view.assessment.next
    return "not to be run" if view.not_to_run else _waits(job, step) if step else ""


def _waits(job: Job, step: Step) -> str:
    if step.kind == "ending":
        if job.decision is None or job.decision.option != step.id:
            return "to decide"
        return "to be sold" if step.id in _SOLD else "to be ended"
    # nobody takes a customer's machine apart for a price that was not agreed
    customer = job.intake.owner == "customer"
    if step.kind == "repair":
        return "price to agree" if customer and not job.decision else ""
    return "proof to do" if step.kind == "proof" else ""
