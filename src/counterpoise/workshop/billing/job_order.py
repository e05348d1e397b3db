"""The work on a job as the money room takes it: tasks, panels, parts, what may be worse."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from counterpoise.catalog.family import Family, RepairEntry
from counterpoise.money.estimate import needed_parts, needed_positions
from counterpoise.money.order import Order, Part, Position, Task, Worse
from counterpoise.workshop.billing.work import best_repair, covers, done_minutes, repairs_done
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.part_sets import part_notes
from counterpoise.workshop.jobs.comeback import since_comeback
from counterpoise.workshop.jobs.entries import Job, Proof
from counterpoise.workshop.parts.offers import Supply

WORRYING = 0.05  # a fault less likely than this is not reckoned among what may turn out worse
_MOST_WORSE = 5
# How widely the minutes of a proof not yet run err, as a share: less than a repair, since the
# machine sets the time (from memory).
_PROOF_SPREAD = 0.2


@dataclass(frozen=True)
class CatalogWork:
    """A family's repairs, panels and parts as tasks, positions and parts of an order.

    ``paid``: ids of panels that need not be charged any more; ``done``: minutes of the repairs
    done, None where nobody put them down.
    """

    family: Family
    paid: frozenset[str]
    done: Mapping[str, float | None]
    # by part, why the whole set goes in, or why one piece alone may
    set_notes: Mapping[str, str] = field(default_factory=dict)

    def task(self, entry: RepairEntry) -> Task:
        """A repair as a task; one that was done takes the minutes it took and errs no more."""
        took = self.done.get(entry.id)
        # hours put down are what is charged, the catalog's where nobody put any down
        minutes = entry.minutes if took is None else took
        task = Task(
            entry.id,
            entry.title,
            minutes,
            self._unpaid(entry.access),
            entry.people,
            entry.parts,
            entry.consumables_minor,
        )
        # done is done: its minutes err no more
        return replace(task, spread=0.0) if entry.id in self.done else task

    def positions(self) -> tuple[Position, ...]:
        """The panels and positions of the family, with minutes of opening and closing."""
        return tuple(
            Position(
                panel.id,
                panel.title,
                panel.open_min,
                panel.close_min,
                # a way ends at the first panel that is paid for
                self._unpaid(panel.behind),
                panel.people,
            )
            for panel in self.family.access.values()
        )

    def parts(self) -> tuple[Part, ...]:
        """The parts of the family at catalog prices, in minor units."""
        return tuple(
            Part(
                part.id,
                part.title,
                part.price_minor,
                used_minor=part.used_minor,
                once=not part.each,
                with_parts=part.with_parts,
                rule=self.set_notes.get(part.id, part.rule),
            )
            for part in self.family.parts.values()
        )

    def _unpaid(self, access: str | None) -> str | None:
        # what lies before an open panel is open too, so the way ends here
        return None if access in self.paid else access


def order_of(case: JobCase, work: Sequence[RepairEntry]) -> Order:
    """The order for work on a job, its parts at catalog prices in minor units.

    Panels that a check opened first are not charged: finding the fault has paid for them. Nor is a
    panel charged twice that a failed proof spin shut: that the first repair was not the right one
    is no fault of who pays.
    """
    situation = case.situation
    catalog = CatalogWork(
        case.family, situation.opened_by_checks, done_minutes(case), part_notes(situation)
    )
    return Order(
        tasks=(*(catalog.task(entry) for entry in work), proof_task(case.family, case.job)),
        positions=catalog.positions(),
        parts=catalog.parts(),
        # each with its chance; the estimate draws them for its ceiling
        worse=_worse(case, catalog, work),
        away=case.situation.intake.away,
    )


def order_for(family: Family, work: Sequence[RepairEntry]) -> Order:
    """Work on a machine that is shut, with its proof; no job in particular."""
    # a guarantee is costed before there is a job: nothing is open, nothing done
    catalog = CatalogWork(family, frozenset(), {})
    proof = Task("proof", _proof_words(family), family.proof_minutes)
    return Order(
        (*(catalog.task(entry) for entry in work), proof), catalog.positions(), catalog.parts()
    )


def _proof_words(family: Family) -> str:
    return f"{family.proof_word.capitalize()} that proves it"


def proof_task(family: Family, job: Job) -> Task:
    """The run that proves the work: the minutes of the last that ran true, else the usual ones."""
    took = [
        entry.body.minutes
        for entry in since_comeback(job)
        if isinstance(entry.body, Proof) and entry.body.passed
    ]
    # of several proofs the last that ran true is the one that proves the work
    minutes = took[-1] if took else None
    return Task(
        "proof",
        _proof_words(family),
        family.proof_minutes if minutes is None else minutes,
        spread=0.0 if took else _PROOF_SPREAD,
    )


def done_tasks(family: Family, job: Job) -> tuple[tuple[Task, ...], tuple[Part, ...]]:
    """The repairs done as tasks, and the parts of the catalog; needs no replay of the job."""
    catalog = CatalogWork(family, frozenset(), repairs_done(job, family.repairs))
    return tuple(catalog.task(family.repairs[key]) for key in catalog.done), catalog.parts()


def _worse(case: JobCase, catalog: CatalogWork, work: Sequence[RepairEntry]) -> tuple[Worse, ...]:
    """Faults that the work does not cover, likeliest first, with what mending them too would add.

    Those that end a machine are not among them: there one stops and asks.
    """
    situation = case.situation
    worse: list[Worse] = []
    for fault_id, chance in situation.model.fault_chances(situation.probabilities).items():
        fault = case.family.faults[fault_id]
        # likeliest first: those after this one are less likely still
        if chance < WORRYING or len(worse) == _MOST_WORSE:
            break
        entry = best_repair(situation, case.prices, fault)
        # what the work does anyway, or covers, cannot turn out worse
        if (
            entry
            and entry not in work
            and not fault.write_off
            and not covers(situation, work, fault)
        ):
            minutes, parts_minor = _added(catalog, case.supply, work, entry)
            worse.append(Worse(fault.title, min(1.0, chance), minutes, parts_minor))
    return tuple(worse)


def _added(
    catalog: CatalogWork, supply: Supply, work: Sequence[RepairEntry], more: RepairEntry
) -> tuple[float, int]:
    """Person-minutes and parts, in minor units, that one more repair adds to the work."""
    # the difference of two whole orders: panels and sets of parts that both need count once
    before = [catalog.task(entry) for entry in work]
    after = [*before, catalog.task(more)]
    # at the cheapest offers: what may turn out worse is a warning, not a choice of parts
    parts, entries = catalog.parts(), catalog.family.parts

    def minutes(tasks: Sequence[Task]) -> float:
        way = needed_positions(tasks, catalog.positions())
        return sum((p.open_min + p.close_min) * p.people for p in way) + sum(
            task.minutes * task.people for task in tasks
        )

    def parts_minor(tasks: Sequence[Task]) -> int:
        small = sum(task.consumables_minor for task in tasks)
        wanted = needed_parts(tasks, parts).items()
        return small + sum(
            supply.best(entries[key], count).total_minor(count) for key, count in wanted
        )

    # a dearer piece reserved for the job may no longer do where two are needed
    return minutes(after) - minutes(before), max(0, parts_minor(after) - parts_minor(before))
