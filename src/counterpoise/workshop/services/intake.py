"""Taking a machine in, and opening the workshop: what both faces do alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import ShippedFamilies, families, load_family
from counterpoise.workshop.jobs.entries import Entry, Figures, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


def open_workshop(where: str) -> Workshop:
    """The workshop over a store (a file or a database URL), with every family that is shipped."""
    return Workshop(Store(where), ShippedFamilies())


def warm() -> None:
    """Think through a made-up job and spin a machine, so that the first real ones do not wait for what is compiled."""
    from counterpoise.dynamics.answers.what_if import WhatIf, run_cases
    from counterpoise.workshop.diagnosis.assess import assess

    family = load_family(families()[0])
    intake = Intake(family.id, "customer", "", tuple(family.complaints)[:1])
    assess(family, Settings(), Job(0, (Entry(1, "2026-01-01T00:00:00Z", "", intake),)))
    run_cases(WhatIf())


def take_in(
    workshop: Workshop,
    intake: Intake,
    answers: Sequence[Finding],
    by: str,
    figures: Figures | None = None,
) -> int:
    """Open a job with what the owner answered and the plate says; returns its number.

    Raises InputError, and then stores nothing.
    """
    family = workshop.family(intake.family)
    named = (
        intake if intake.title.strip() else replace(intake, title=_name(family, intake.complaints))
    )
    return workshop.jobs.open(
        named, by, [*([figures] if figures and figures.values else []), *answers]
    ).number


def _name(family: Family, complaints: Sequence[str]) -> str:
    heard = [family.complaints[key].title for key in complaints if key in family.complaints]
    return f"{family.title}: {', '.join(heard[:2]).lower()}" if heard else family.title
