"""Taking a machine in, and opening the workshop: what both faces do alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import ShippedFamilies
from counterpoise.workshop.jobs.entries import Figures, Finding, Intake
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


def open_workshop(where: str) -> Workshop:
    """The workshop over a store (a file or a database URL), with every family that is shipped."""
    return Workshop(Store(where), ShippedFamilies())


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
