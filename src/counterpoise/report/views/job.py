"""What page and terminal show of a job, gathered once; and the same as it leaves as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.catalog.family import Family
from counterpoise.report.views.bench.head import Head, head
from counterpoise.report.words import numbers
from counterpoise.report.words.entry_lines import (
    OWNERS,
    EntryLine,
    entry_lines,
    fault_title,
)
from counterpoise.report.words.family_money import USED_FOR, FigureLine, assumed, figure_lines
from counterpoise.workshop.diagnosis.assessment import Assessment, Step
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.in_motion import no_model
from counterpoise.workshop.jobs.machine_features import known_features
from counterpoise.workshop.jobs.machine_figures import KnownFigure, figures_of_job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import Supply
from counterpoise.workshop.services.snapshot import JobSnapshot
from counterpoise.workshop.services.workshop import Workshop

if TYPE_CHECKING:
    # the replay brings numbers in; a list of jobs needs none
    from counterpoise.workshop.diagnosis.replay import Situation


@dataclass(frozen=True, slots=True)
class JobView:
    """A job as it stood when it was read, with its entries in words."""

    snapshot: JobSnapshot
    lines: tuple[EntryLine, ...]
    # said under a step that somebody picked against the advice: no reproach, only a fact
    pick_note: str = "You picked this step yourself. What you find counts like any other finding."
    # what each answer leads to is planned too: as long again for each of them
    ahead: bool = False

    @property
    def job(self) -> Job:
        """The job with its entries."""
        return self.snapshot.job

    @property
    def family(self) -> Family:
        """The family of its machine."""
        return self.snapshot.family

    @property
    def settings(self) -> Settings:
        """The workshop's settings."""
        return self.snapshot.settings

    @property
    def supply(self) -> Supply:
        """What its parts can be had for."""
        return self.snapshot.supply

    @property
    def assessment(self) -> Assessment:
        """Suspects, next step, rivals, options; computed when first asked for."""
        return self.snapshot.promising(ahead=self.ahead)

    @property
    def currency(self) -> str:
        """ISO 4217 code."""
        return self.settings.currency

    @property
    def title(self) -> str:
        """What the job is called."""
        return self.job.intake.title

    @property
    def situation(self) -> Situation:
        """The job replayed: belief, open panels, minutes so far."""
        return self.snapshot.situation

    @property
    def not_to_run(self) -> tuple[str, ...]:
        """Why the machine must not be switched on now; empty where it may be."""
        from counterpoise.workshop.diagnosis.hazards import must_not_run, run_texts

        return () if self.job.closed else run_texts(must_not_run(self.situation))

    @property
    def figures(self) -> Mapping[str, KnownFigure]:
        """What was put down of this very machine, by the id of the figure."""
        return figures_of_job(self.job)

    @property
    def money_figures(self) -> tuple[FigureLine, ...]:
        """What such machines are worth and live, as far as it is weighed; each with its origin."""
        job = self.job
        names = USED_FOR[job.intake.owner]
        return figure_lines(self.family, self.settings, names, job.new_machine_minor)

    @property
    def assumed_money(self) -> str:
        """A sentence on those that the family's file leaves out; empty where it says them all."""
        job = self.job
        names = USED_FOR[job.intake.owner]
        return assumed(self.family, self.settings, names, job.new_machine_minor)

    @property
    def in_motion(self) -> bool:
        """Whether there is a model in motion of this very machine."""
        # a page that led to "no model of this" would be a door onto a wall
        return not no_model(self.family, known_features(self.family, self.job))

    @property
    def last(self) -> int:
        """Number of the last entry: guards stale forms."""
        return self.job.entries[-1].number

    @property
    def facts(self) -> tuple[str, ...]:
        """The line under the title."""
        intake = self.job.intake
        made = " ".join(part for part in (intake.maker, intake.model) if part)
        spent = f"{numbers.minutes(self.assessment.minutes_so_far)} so far"
        # a day that was promised stands where everybody looks
        promised = f"promised for {numbers.day(intake.promised)}" if intake.promised else ""
        return tuple(
            part
            for part in (made, numbers.age(intake.age_years), OWNERS[intake.owner], promised, spent)
            if part
        )

    @property
    def head(self) -> Head:
        """The one line at the head of its pages."""
        return head(self)

    @property
    def closing(self) -> int:
        """Number of the entry that closed the job, 0 while it is open."""
        return next((e.number for e in reversed(self.job.standing) if e.body is self.job.closed), 0)

    @property
    def wrong(self) -> tuple[str, ...]:
        """What a closed job's machine had, in words; empty while it is open."""
        # by now the question is no longer what it could be, but what it was
        closed = self.job.closed
        return tuple(fault_title(key, self.family) for key in closed.faults) if closed else ()

    @property
    def undo(self) -> EntryLine | None:
        """The last entry that can be taken back, None where none can."""
        return next((line for line in reversed(self.lines) if line.retractable), None)


@dataclass(frozen=True, slots=True)
class JobAnswer:
    """A job as the API tells it. ``last`` goes back as ``expected_last`` with the next entry.

    ``measure`` is the kind of measurement that answers the step (see ``/measure``), empty where
    none does; ``lifting`` what tipping for it takes, empty where nothing is tipped.
    """

    number: int
    title: str
    family: str
    owner: str
    age_years: float | None
    currency: str
    closed: bool
    last: int
    assessment: Assessment
    # asked for by hand; what is advised stands in the assessment all the same
    picked: Step | None = None
    measure: str = ""
    lifting: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Recorded:
    """An entry was put down: its number, and what to do now."""

    job: int
    entry: int
    next: Step | None
    # why this step and not another
    why: str


def job_view(
    workshop: Workshop, number: int, *, careful: bool = False, ahead: bool = False
) -> JobView:
    """All that the pages of a job show; ``careful`` also where the workshop is not.

    ``ahead``: with what each answer leads to, else only where that is known already. Raises
    NotFoundError.
    """
    snapshot = workshop.snapshot(number, careful=careful)
    currency = snapshot.settings.currency
    lines = entry_lines(snapshot.job, snapshot.family, currency)
    return JobView(snapshot, lines, ahead=ahead)


def job_answer(view: JobView, picked: Step | None = None) -> JobAnswer:
    """A job as the API tells it; ``picked`` is a step picked by hand, None: the one advised."""
    # the bench takes a moment to load; a view needs none of it
    from counterpoise.report.views.measures.forms import kind_for_check
    from counterpoise.report.views.measures.handling import lifting_lines

    # a step picked by hand is measured and lifted like one that was advised
    step = picked or view.assessment.next
    intake = view.job.intake
    return JobAnswer(
        number=view.job.number,
        title=view.title,
        family=intake.family,
        owner=intake.owner,
        age_years=intake.age_years,
        currency=view.currency,
        closed=view.job.closed is not None,
        last=view.last,
        assessment=view.assessment,
        picked=picked,
        measure=kind_for_check(step.id, view.family) if step and step.kind == "check" else "",
        lifting=lifting_lines(step, view.family, view.figures),
    )


def recorded(workshop: Workshop, number: int, entry: int) -> Recorded:
    """The answer to an entry put down: what to do now. Raises NotFoundError."""
    # read again: the entry just put down is part of what is said next
    assessment = workshop.snapshot(number).assessment
    return Recorded(number, entry, assessment.next, assessment.why)


def preselected_option(view: JobView) -> str:
    """The id of the option to offer first: what was decided, else the best; empty without one."""
    # whoever decided once is not asked again by a form that prefers another way
    if view.job.decision:
        return view.job.decision.option
    return next((option.id for option in view.assessment.options if option.best), "")
