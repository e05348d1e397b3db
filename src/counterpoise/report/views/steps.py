"""A check, repair or proof spin of the catalog as a step to do, with the panels on its way."""

from __future__ import annotations

from collections.abc import Iterable

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.errors import NotFoundError
from counterpoise.workshop.diagnosis.assessment import Answer, Opening, Step
from counterpoise.workshop.diagnosis.part_texts import ready
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.parts.offers import NOTHING, Supply


def texts(family: Family, cautions: Iterable[str]) -> tuple[str, ...]:
    """The cautions' texts, the grave ones first."""
    known = [family.cautions[key] for key in dict.fromkeys(cautions) if key in family.cautions]
    return tuple(caution.text for caution in sorted(known, key=lambda c: not c.grave))


def way_to(
    family: Family, access: str | None, opened: frozenset[str] = frozenset()
) -> tuple[Opening, ...]:
    """The panels still closed on the way to ``access``, outermost first."""
    way: list[Opening] = []
    while access is not None and access not in opened:
        entry = family.access[access]
        way.append(
            Opening(
                access,
                entry.title,
                entry.open_min + entry.close_min,
                entry.steps,
                entry.tools,
                texts(family, entry.cautions),
            )
        )
        access = entry.behind
    return tuple(reversed(way))


def opened(job: Job, family: Family) -> frozenset[str]:
    """The panels that the job's own findings and repairs show to be open."""
    return frozenset(o.access for body in _worked(job, family) for o in way_to(family, body.access))


def _worked(job: Job, family: Family) -> Iterable[CheckEntry | RepairEntry]:
    for entry in job.standing:
        check = family.checks.get(getattr(entry.body, "check", ""))
        repair = family.repairs.get(getattr(entry.body, "repair", ""))
        if check and getattr(entry.body, "outcome", "") != "cannot_reach":
            yield check
        elif repair:
            yield repair


def step_of(
    family: Family,
    kind: str,
    step_id: str,
    already: frozenset[str] = frozenset(),
    supply: Supply = NOTHING,
) -> Step:
    """A step picked by hand; raises NotFoundError where the family knows none of that name."""
    if kind == "check" and step_id in family.checks:
        return _check(family, family.checks[step_id], already)
    if kind == "repair" and step_id in family.repairs:
        return _repair(family, family.repairs[step_id], already, supply)
    if kind == "proof":
        return proof_of(family)
    raise NotFoundError(f"There is no {kind} called {step_id[:60]} for this family of machines")


def _hands(family: Family, people: int, way: tuple[Opening, ...]) -> int:
    return max([people, *(family.access[opening.access].people for opening in way)])


def _check(family: Family, check: CheckEntry, already: frozenset[str]) -> Step:
    way = way_to(family, check.access, already)
    reading = check.reading
    return Step(
        kind="check",
        id=check.id,
        title=check.title,
        minutes=check.minutes + sum(opening.minutes for opening in way),
        people=_hands(family, check.people, way),
        tools=check.tools,
        openings=way,
        cautions=texts(family, check.cautions),
        steps=check.steps,
        question=check.question,
        answers=tuple(Answer(outcome, label, 0.0, "") for outcome, label in check.outcomes.items()),
        unit=reading.unit if reading else "",
        quantity=reading.quantity if reading else "",
    )


def _repair(family: Family, repair: RepairEntry, already: frozenset[str], supply: Supply) -> Step:
    way = way_to(family, repair.access, already)
    done = (f"Done when: {repair.done_when}",) if repair.done_when else ()
    return Step(
        kind="repair",
        id=repair.id,
        title=repair.title,
        minutes=repair.minutes + sum(opening.minutes for opening in way),
        people=_hands(family, repair.people, way),
        tools=repair.tools,
        openings=way,
        cautions=texts(family, repair.cautions),
        steps=(*ready(family, repair, supply), *repair.steps, *done),
    )


def proof_of(family: Family) -> Step:
    """The spin that proves a repair."""
    return Step(
        kind="proof",
        id="proof",
        title="Prove it on a spin",
        minutes=family.proof_minutes,
        people=1,
        tools=(),
        openings=(),
        cautions=texts(family, family.proof_cautions),
        steps=family.proof_steps,
        question="Did it run true?",
    )
