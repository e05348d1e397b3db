"""Every check and repair that fits a machine, to be picked by hand."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import CheckEntry, RepairEntry
from counterpoise.report.views.job import JobView
from counterpoise.report.words.entry_lines import outcome_words
from counterpoise.workshop.jobs.entries import Finding, RepairDone


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step that can be picked: ``behind`` the panel it lies behind, ``done`` what it showed already."""

    kind: str
    id: str
    title: str
    minutes: float
    behind: str = ""
    done: str = ""


@dataclass(frozen=True, slots=True)
class StepGroup:
    """Steps of one sort."""

    title: str
    lines: tuple[StepLine, ...]


_GROUPS = {
    "ask": "Ask",
    "look": "Look",
    "feel": "Feel",
    "measure": "Measure",
    "spin": "Spin",
}


def step_groups(seen: JobView) -> list[StepGroup]:
    """Every check and repair that fits this machine, by sort."""
    done = _done(seen)
    family, features = seen.family, seen.job.intake.features
    fits = [check for check in family.checks.values() if _fits(check, features)]
    groups = [
        StepGroup(
            title, tuple(_line("check", check, seen, done) for check in fits if check.kind == kind)
        )
        for kind, title in _GROUPS.items()
    ]
    repairs = tuple(
        _line("repair", r, seen, done) for r in family.repairs.values() if _fits(r, features)
    )
    proof = StepLine("proof", "proof", "Proof spin", family.proof_minutes)
    return [
        group
        for group in [*groups, StepGroup("Repair", repairs), StepGroup("Prove", (proof,))]
        if group.lines
    ]


def _done(seen: JobView) -> dict[str, str]:
    bodies = [entry.body for entry in seen.job.standing]
    found = {
        body.check: outcome_words(body, seen.family) for body in bodies if isinstance(body, Finding)
    }
    return found | {body.repair: "done" for body in bodies if isinstance(body, RepairDone)}


def _fits(entry: CheckEntry | RepairEntry, features: object) -> bool:
    known = features if isinstance(features, dict) else {}
    return all(known.get(feature, value) == value for feature, value in entry.needs.items())


def _line(
    kind: str, entry: CheckEntry | RepairEntry, seen: JobView, done: dict[str, str]
) -> StepLine:
    behind = seen.family.access[entry.access].title if entry.access else ""
    return StepLine(kind, entry.id, entry.title, entry.minutes, behind, done.get(entry.id, ""))
