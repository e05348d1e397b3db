"""What a machine of the demo came to: turns, the offer to its owner, the obvious repair.

Amounts are minor units of the workshop's currency. The names of the fields are those of ``--json``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.diagnosis.assessment import OptionView, Suspect

_SHOWN = 4  # suspects a turn: enough to see one overtake another


_LIKELY = 0.5  # from here on a cause is the obvious one


@dataclass(frozen=True, slots=True)
class Turn:
    """What an entry changed: suspects, the advised step, the best way to end the job (minor units).

    ``advised`` and ``best`` are titles, empty for none. ``suspects``: title, probability before and
    after the entry.
    """

    entry: int
    what: str
    result: str
    suspects: tuple[tuple[str, float, float], ...]
    advised: str
    best: str
    value_minor: int


@dataclass(frozen=True, slots=True)
class Offer:
    """What the quote came to. ``limit_minor``: the most a repair is worth to this customer.

    ``kept_minor``: of the price, before tax, what the workshop would keep after parts and its own
    bench time. ``works``: the chance that the work puts the machine right.
    """

    price_minor: int
    ceiling_minor: int
    limit_minor: int
    works: float
    kept_minor: int
    best: str
    accepted: bool


@dataclass(frozen=True, slots=True)
class Obvious:
    """The repair that looked best when hopes were highest, and what was decided, in minor units.

    ``then_minor`` after entry ``after_entry``; ``now_minor`` by what was known at the decision.
    """

    repair: str
    after_entry: int
    then_minor: int
    now_minor: int
    decided: str
    decided_minor: int


@dataclass(frozen=True, slots=True)
class Story:
    """A machine played to its end; ``offer`` None without a quote, ``obvious`` None with one."""

    id: str
    lesson: str
    turns: tuple[Turn, ...]
    ending: str
    received_minor: int
    files: tuple[str, ...]
    offer: Offer | None = None
    obvious: Obvious | None = None


def turn_of(before: JobView, after: JobView) -> Turn:
    """What the last entry of ``after`` changed."""
    line, best = after.lines[-1], best_option(after)
    return Turn(
        entry=line.number,
        what=line.what,
        result=line.result,
        suspects=tuple(chance_moves(before.assessment.suspects, after.assessment.suspects)),
        advised=after.assessment.next.title if after.assessment.next else "",
        best=best.title if best else "",
        value_minor=best.value_minor if best else 0,
    )


def best_option(view: JobView) -> OptionView | None:
    """The best way to end the job as it stands; None where the job is over."""
    return next((option for option in view.assessment.options if option.best), None)


def chance_moves(
    before: tuple[Suspect, ...], after: tuple[Suspect, ...]
) -> list[tuple[str, float, float]]:
    """The likeliest suspects, and those that were: title, probability before and after (0 to 1)."""
    old = {suspect.fault: suspect.probability for suspect in before}
    new = {suspect.fault: suspect.probability for suspect in after}
    titles = {suspect.fault: suspect.title for suspect in (*before, *after)}
    # by the larger of both, so that a suspect that was ruled out is seen to go
    shown = sorted(titles, key=lambda fault: -max(old.get(fault, 0.0), new.get(fault, 0.0)))
    return [(titles[f], old.get(f, 0.0), new.get(f, 0.0)) for f in shown[:_SHOWN]]


def obvious_repair(views: list[JobView]) -> Obvious:
    """The obvious repair beside what was decided, both by what was known at the time.

    Raises StopIteration for a job that was never decided.
    """
    # as far as was known when it was decided, not after
    known = views[: next(at for at, view in enumerate(views) if view.job.decision)]
    # the moment at which a likely cause looked best to mend: there most people would have begun
    sure = [view for view in known if _leading(view)[1] >= _LIKELY] or known
    hopeful = max(sure, key=lambda view: view.assessment.value_minor)
    then, now = _repair_values(hopeful), _repair_values(known[-1])
    # obvious is what mends the cause that leads, as far as it seemed to pay
    cures = {key: entry.cures for key, entry in hopeful.family.repairs.items()}
    fault = _leading(hopeful)[0]
    mending = [r for r in then if any(key.split(":")[0] == fault for key in cures[r])] or list(then)
    paid = [repair for repair in mending if then[repair] > 0] or mending
    # of those that seemed to pay, the one from which what was found later took most
    best = max(paid, key=lambda repair: then[repair] - now.get(repair, 0))
    decision = views[-1].job.decision
    chosen = next(o for o in known[-1].assessment.options if decision and o.id == decision.option)
    title = hopeful.family.repairs[best].title
    return Obvious(
        title, hopeful.last, then[best], now.get(best, 0), chosen.title, chosen.value_minor
    )


def _leading(view: JobView) -> tuple[str, float]:
    """The likeliest fault and its probability; ("", 0) where nothing is suspected."""
    first = next(iter(view.assessment.suspects), None)
    return (first.fault, first.probability) if first else ("", 0.0)


def _repair_values(view: JobView) -> dict[str, int]:
    # the lower end of each bracket: what the planner can promise of a repair, in minor units
    from counterpoise.workshop.diagnosis.analysis import analyse

    plan = analyse(view.snapshot).plan
    return {
        bounds.action.id: round(bounds.lower)
        for bounds in plan.action_bounds
        if bounds.action.id in view.family.repairs
    }
