"""Every check and repair that fits a machine, to be picked by hand."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.report.views.job import JobView
from counterpoise.report.words.entry_lines import outcome_words
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Finding, RepairDone


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step that can be picked, ``behind`` a panel; ``done`` is what it showed already.

    ``minutes`` with opening and closing what is still shut, as the step itself will say.
    ``forbidden``: it would run a machine that must not be run.
    """

    kind: str
    id: str
    title: str
    minutes: float
    behind: str = ""
    done: str = ""
    forbidden: bool = False


@dataclass(frozen=True, slots=True)
class StepGroup:
    """Steps of one sort."""

    title: str
    lines: tuple[StepLine, ...]


# the kinds of checks of the catalog, from what costs nothing to what takes a spin
_GROUPS = {
    "ask": "Ask",
    "look": "Look",
    "feel": "Feel",
    "measure": "Measure",
    "spin": "Spin",
}


def _titles(family: Family) -> dict[str, str]:
    # what does not spin is run
    return _GROUPS if family.body.spins else _GROUPS | {"spin": "Run"}


def step_groups(view: JobView) -> list[StepGroup]:
    """Every check and repair that fits this machine, by sort; a sort with none is left out."""
    # what was done may be done again: it is marked, not left out
    done, build = _done(view), StepBuilder.of(view.situation, view.supply)
    family, features = view.family, view.situation.known
    # a check for a belt is not offered on a machine without one
    alone = view.job.intake.nobody_to_ask
    checks = [
        check
        for check in family.checks.values()
        # nor a question to an owner who is not there
        if fits(check.needs, features) and not (alone and check.kind == "ask")
    ]
    groups = [
        StepGroup(title, tuple(_line("check", c, build, done) for c in checks if c.kind == kind))
        for kind, title in _titles(family).items()
    ]
    repairs = tuple(
        _line("repair", r, build, done) for r in family.repairs.values() if fits(r.needs, features)
    )
    # always offered: a machine may be proved without a repair of ours
    step = build.proof()
    barred = bool(step.forbidden)
    proof = StepLine(step.kind, step.id, step.title, step.minutes, forbidden=barred)
    return [
        group
        for group in [*groups, StepGroup("Repair", repairs), StepGroup("Prove", (proof,))]
        if group.lines
    ]


def _done(view: JobView) -> dict[str, str]:
    """What each check showed last, and which repairs were done, by id."""
    bodies = [entry.body for entry in view.job.standing]
    findings = {
        body.check: outcome_words(body, view.family) for body in bodies if isinstance(body, Finding)
    }
    return findings | {body.repair: "done" for body in bodies if isinstance(body, RepairDone)}


def _line(
    kind: str, entry: CheckEntry | RepairEntry, build: StepBuilder, done: dict[str, str]
) -> StepLine:
    # what has to come off first is most of the work
    behind = build.family.access[entry.access].title if entry.access else ""
    minutes = build.minutes(entry)
    barred = entry.runs and bool(build.must_not_run)
    return StepLine(kind, entry.id, entry.title, minutes, behind, done.get(entry.id, ""), barred)
