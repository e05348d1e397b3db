"""Taking a machine in with what its owner answered: all is checked before anything is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from counterpoise.catalog.family import Family
from counterpoise.workshop.desk import Desk
from counterpoise.workshop.evidence import Entry, Finding, Intake, Job
from counterpoise.workshop.record import check_body


def take_in(desk: Desk, intake: Intake, answers: Sequence[Finding], by: str) -> int:
    """Open a job and put the answers down; returns its number. Raises InputError, and then stores nothing."""
    family = desk.family(intake.family)
    named = intake if intake.title.strip() else replace(intake, title=_name(family, intake.complaints))
    probe = Job(0, (Entry(1, "", by, check_body(family, None, named)),))
    for answer in answers:
        check_body(family, probe, answer)
    number = desk.open_job(named, by=by).number
    for answer in answers:
        desk.record(number, answer, by=by)
    return number


def _name(family: Family, complaints: Sequence[str]) -> str:
    heard = [family.complaints[key].title for key in complaints if key in family.complaints]
    return f"{family.title}: {', '.join(heard[:2]).lower()}" if heard else family.title
