"""Opening the workshop, and taking a machine in: what page, terminal and API do alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import Catalog
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Figures, Finding, Intake
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


def open_workshop(where: str, folder: Path | None = None) -> Workshop:
    """The workshop over a store (a file or a database URL), with every family that is shipped.

    ``folder``: where its own families lie, and what it changed of those shipped. Raises StoreError
    where the store cannot be opened.
    """
    # families are read one by one when a job needs them, so opening is quick
    return Workshop(Store(where), Catalog(folder))


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
    # refused here in words, before anything is named after it
    family = workshop.family(intake.family)
    if not intake.title.strip():
        intake = replace(intake, title=_title(family, intake.complaints))
    if intake.nobody_to_ask and answers:
        raise InputError(
            "nobody_to_ask: there are answers of the owner too",
            field="nobody_to_ask",
            remedy="Leave out the answers, or say that there is somebody to ask",
        )
    # without one there is nothing to look for, and nothing to say that it is mended
    if not (intake.complaints or intake.story.strip() or intake.nobody_to_ask):
        raise InputError(
            "complaints: none is named",
            field="complaints",
            remedy="Tick what was said or write it in their words, or say that nobody can be asked",
        )
    # in the order in which they were answered: a later one is checked against the earlier
    bodies: list[Finding | Figures] = [*answers]
    if figures and figures.values:
        # what stands on the plate is known before anything is answered
        bodies.insert(0, figures)
    # one transaction: a refused answer must not leave a job without its answers
    return workshop.jobs.open(intake, by, bodies).number


def _title(family: Family, complaints: Sequence[str]) -> str:
    """What a job without a title is called: ``Spin dryer: shakes, walks``."""
    titles = [family.complaints[key].title for key in complaints if key in family.complaints]
    # a line of the list of jobs holds two complaints, and the first are those told first
    listed = ", ".join(titles[:2]).lower()
    return f"{family.title}: {listed}" if titles else family.title
