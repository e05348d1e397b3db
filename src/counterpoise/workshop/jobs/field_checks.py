"""Checks of single fields that several kinds of entries share, each naming field and remedy."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.fields import LANGUAGE_LETTERS
from counterpoise.workshop.jobs.machine_features import contradicted
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.entries import Job

# somebody may send a megabyte as an id; it is not said back
_SHOWN = 60  # characters of something wrong that are said back


def check_known(given: str, known: Mapping[str, object], field: str, what: str) -> None:
    """Raise InputError where an id is none of those known, with the one that may be meant.

    ``known`` gives what stands under each id; its ``title`` is what somebody may have typed
    instead. ``what`` names the sort of thing: "check", "fault".
    """
    if given not in known:
        # people type what they see on the page as often as the id behind it
        titles = {key: getattr(entry, "title", str(entry)) for key, entry in known.items()}
        shown = given if len(given) <= _SHOWN else f"{given[: _SHOWN - 3]}..."
        raise InputError(
            f"{field}: there is no {what} {shown!r}",
            field=field,
            remedy=did_you_mean(given[:_SHOWN], titles),
        )


def check_day(value: str, field: str) -> None:
    """Raise InputError where a text is neither empty nor a day as ISO 8601 writes it."""
    try:
        # fromisoformat takes weeks and days without dashes too; days are compared as texts
        sound = not value or date.fromisoformat(value).isoformat() == value
    except ValueError:
        sound = False
    if not sound:
        raise InputError(
            f"{field}: {value[:40]!r} is no day",
            field=field,
            remedy="Write it like 2026-03-05, or leave it out",
        )


def check_language(value: str, field: str) -> None:
    """Raise InputError where a text is neither empty nor the code of a language (ISO 639-1)."""
    if not re.fullmatch(LANGUAGE_LETTERS, value):
        raise InputError(
            f"{field}: {value[:40]!r} is no language",
            field=field,
            remedy="Write its two small letters, like de or en, or leave it out",
        )


def check_fits(family: Family, job: Job, needs: Mapping[str, str], title: str, remedy: str) -> None:
    """Raise InputError for what only another kind of machine of the family has.

    A feature that the intake leaves open fits everything: nobody has looked yet. So does one that
    was found to be otherwise than the intake has it.
    """
    for feature, wanted in needs.items():
        has = job.intake.features.get(feature)
        # asked last: it walks over all entries, and hardly any machine is put down wrong
        if has is not None and has != wanted and feature not in contradicted(family, job):
            named = family.features[feature].values
            raise InputError(
                f"{title}: only for machines with {named[wanted]!r};"
                f" this one is down as {named[has]!r}",
                field="features",
                remedy=remedy,
            )


def meant(value: float, slips: Iterable[float], low: float, high: float) -> float | None:
    """What a number that cannot be was likely meant as: the first factor that brings it within.

    None where none does; a slip never leads to zero.
    """
    candidates = (value * slip for slip in slips)
    return next((number for number in candidates if low <= number <= high and number), None)
