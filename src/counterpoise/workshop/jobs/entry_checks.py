"""Checks evidence against the catalog before it is stored, and turns a reading into its outcome."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError, NotFoundError, ReadingError
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    TERMS,
    Body,
    Closed,
    Decision,
    Figures,
    Finding,
    Intake,
    Job,
    Note,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json
from counterpoise.workshop.jobs.machine_figures import check_figures
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from counterpoise.catalog.family import CheckEntry, Family, Reading

OPTIONS: Mapping[str, str] = {  # ways to end a job, as the money room names them
    "repair_resell": "Repair and resell",
    "repair_hand_back": "Repair and hand back",
    "sell_as_is": "Sell as is",
    "hand_back": "Hand back unrepaired",
    "replace": "Replace with a new one",
    "refer_on": "Refer to another workshop",
    "part_out": "Part out",
    "scrap": "Scrap",
}
OLDEST_YEARS = 70.0
LONGEST_MINUTES = 24 * 60.0
_SLIPS = (0.1, 0.01, 0.001, 10.0, 100.0, 1000.0, 1 / 25.4, 25.4)  # the comma, the unit, inches


def check_body(family: Family, job: Job | None, body: Body) -> Body:
    """Return the body as it should be stored in the job (None: it opens one), or raise what is wrong with it.

    Raises InputError or ReadingError naming field and remedy, NotFoundError where a retraction points at nothing.
    """
    if isinstance(body, Intake):
        return _intake(family, job, body)
    if job is None:
        raise InputError(
            "A job begins with its intake", field="kind", remedy="Take the machine in first"
        )
    if job.closed is not None and not isinstance(body, Note | Figures | Retraction):
        raise InputError(
            f"Job {job.number} is closed", remedy="Take back its closing entry to open it again"
        )
    checked: Mapping[type[Body], Callable[[Family, Job, Any], Body]] = {
        Finding: _finding,
        RepairDone: _repair,
        Proof: _proof,
        Decision: _decision,
        Closed: _closed,
        Note: _note,
        Figures: check_figures,
        Retraction: _retraction,
    }
    return checked[type(body)](family, job, body)


def check_retraction(job: Job, number: int) -> None:
    """Refuse to take back an entry that does not exist, was taken back already, or without which there is no job."""
    entry = next((entry for entry in job.entries if entry.number == number), None)
    if entry is None:
        raise NotFoundError(
            f"Job {job.number} has no entry {number}. Its entries run from 1 to {job.entries[-1].number}."
        )
    if isinstance(entry.body, Retraction):
        raise InputError(
            f"Entry {number} is itself a retraction",
            field="entry",
            remedy="Record again what it took back",
        )
    if entry not in job.standing:
        raise InputError(f"Entry {number} was taken back already", field="entry")
    if (
        isinstance(entry.body, Intake)
        and sum(isinstance(e.body, Intake) for e in job.standing) == 1
    ):
        raise InputError(
            "The intake cannot be taken back",
            field="entry",
            remedy="Correct it: record the intake again as it should be",
        )
    if job.closed is not None and not isinstance(entry.body, Closed | Note | Figures):
        raise InputError(
            f"Job {job.number} is closed", field="entry", remedy="Take back its closing entry first"
        )


def outcome_of(check: CheckEntry, value: float) -> str:
    """Return the outcome into which a reading falls; a reading on an edge counts as the worse one."""
    reading = _reading_of(check)
    passed = [value <= edge if reading.falling else value >= edge for edge in reading.edges]
    return list(check.outcomes)[sum(passed)]


def _reading_of(check: CheckEntry) -> Reading:
    if check.reading is None:
        raise ReadingError(
            f"{check.title}: asks for no number",
            field="reading",
            remedy="Choose one of its answers",
        )
    return check.reading


def _known(given: str, known: Mapping[str, Any], field: str, what: str) -> None:
    if given not in known:
        titles = {key: getattr(entry, "title", str(entry)) for key, entry in known.items()}
        shown = given if len(given) <= 60 else f"{given[:57]}..."
        raise InputError(
            f"{field}: there is no {what} {shown!r}",
            field=field,
            remedy=did_you_mean(given[:60], titles),
        )


def _between(value: float | None, low: float, high: float, field: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise InputError(
            f"{field}: {value:g} cannot be",
            field=field,
            remedy=f"Give a number from {low:g} to {high:g}",
        )


def _not_negative(value: int | None, field: str) -> None:
    if value is not None and value < 0:
        raise InputError(
            f"{field}: {value} is below zero", field=field, remedy="Give the amount without a minus"
        )


def _day(value: str, field: str) -> None:
    try:
        sound = not value or date.fromisoformat(value).isoformat() == value
    except ValueError:
        sound = False
    if not sound:
        raise InputError(
            f"{field}: {value[:40]!r} is no day",
            field=field,
            remedy="Write it like 2026-03-05, or leave it out",
        )


def _fits(family: Family, job: Job, needs: Mapping[str, str], title: str) -> None:
    """Refuse what only another kind of machine of the family has."""
    for feature, wanted in needs.items():
        has = job.intake.features.get(feature)
        if has is not None and has != wanted:
            known = family.features[feature]
            raise InputError(
                f"{title}: only for machines with {known.values[wanted]!r}; this one is down as {known.values[has]!r}",
                field="features",
                remedy="Choose another, or correct the intake",
            )


def _intake(family: Family, job: Job | None, body: Intake) -> Intake:
    if body.family != family.id or (job is not None and job.intake.family != body.family):
        raise InputError(
            f"family: {body.family!r} does not fit this job",
            field="family",
            remedy="Open a new job for it",
        )
    if job is not None and job.closed is not None:
        raise InputError(
            f"Job {job.number} is closed", remedy="Take back its closing entry to open it again"
        )
    if body.owner not in {"customer", "workshop"}:
        raise InputError(
            f"owner: {body.owner!r} is no owner",
            field="owner",
            remedy='Give "customer" or "workshop"',
        )
    if not body.title.strip():
        raise InputError(
            "title: is empty", field="title", remedy="Say in a few words which machine it is"
        )
    for complaint in body.complaints:
        _known(complaint, family.complaints, "complaints", "complaint")
    for feature, value in body.features.items():
        _known(feature, family.features, "features", "feature")
        _known(value, family.features[feature].values, f"features.{feature}", "value")
    _between(body.age_years, 0, OLDEST_YEARS, "age_years")
    _not_negative(body.paid_minor, "paid_minor")
    _day(body.promised, "promised")
    return replace(body, complaints=tuple(dict.fromkeys(body.complaints)))


def _finding(family: Family, job: Job, body: Finding) -> Finding:
    _known(body.check, family.checks, "check", "check")
    check = family.checks[body.check]
    _fits(family, job, check.needs, check.title)
    _between(body.minutes, 0, LONGEST_MINUTES, "minutes")
    if body.outcome in {COULD_NOT_TELL, CANNOT_REACH}:
        if body.reading is not None or body.weights:
            raise InputError(
                "outcome: could not tell, yet a reading is given",
                field="outcome",
                remedy="Leave one out",
            )
        return body
    if body.reading is not None:
        return _measured(check, body, body.reading)
    if body.reading_sd is not None:
        raise ReadingError(
            "reading: is missing, only its error is given",
            field="reading",
            remedy="Give the reading",
        )
    if body.weights:
        return _weighed(check, body)
    _known(body.outcome, check.outcomes, "outcome", "answer")
    return body


def _measured(check: CheckEntry, body: Finding, value: float) -> Finding:
    reading = _reading_of(check)
    if body.weights:
        raise InputError(
            "weights: a reading is given as well", field="weights", remedy="Leave one out"
        )
    if not (math.isfinite(value) and reading.low <= value <= reading.high):
        raise ReadingError(
            f"{reading.quantity}: {value:g} {reading.unit} cannot be",
            field="reading",
            remedy=_slip(reading, value),
        )
    sd = reading.sd if body.reading_sd is None else body.reading_sd
    if not 0 < sd <= reading.high - reading.low:
        raise ReadingError(
            f"reading_sd: {sd:g} {reading.unit} cannot be its error",
            field="reading_sd",
            remedy="Give it above zero",
        )
    outcome = outcome_of(check, value)
    if body.outcome not in {"", outcome}:
        raise ReadingError(
            f"{value:g} {reading.unit} means {check.outcomes[outcome]!r}, but {body.outcome!r} is given as well",
            field="outcome",
            remedy="Give the reading alone",
        )
    return replace(body, outcome=outcome, reading_sd=sd)


def _slip(reading: Reading, value: float) -> str:
    allowed = f"Give it in {reading.unit}, between {reading.low:g} and {reading.high:g}"
    meant = [value * slip for slip in _SLIPS if reading.low < value * slip <= reading.high]
    return f"Did you mean {meant[0]:.3g} {reading.unit}? {allowed}" if meant else allowed


def _weighed(check: CheckEntry, body: Finding) -> Finding:
    count = len(check.outcomes)
    sound = (
        len(body.weights) == count
        and all(math.isfinite(w) and w >= 0 for w in body.weights)
        and sum(body.weights) > 0
    )
    if not sound:
        remedy = f"Give {count} numbers, none below zero and not all zero, one for each answer"
        raise InputError(
            "weights: do not fit the answers of the check", field="weights", remedy=remedy
        )
    if body.outcome:
        _known(body.outcome, check.outcomes, "outcome", "answer")
        return body
    likeliest = max(range(count), key=body.weights.__getitem__)
    return replace(body, outcome=list(check.outcomes)[likeliest])


def _repair(family: Family, job: Job, body: RepairDone) -> RepairDone:
    _known(body.repair, family.repairs, "repair", "repair")
    _fits(family, job, family.repairs[body.repair].needs, family.repairs[body.repair].title)
    _between(body.minutes, 0, LONGEST_MINUTES, "minutes")
    return body


def _proof(_family: Family, _job: Job, body: Proof) -> Proof:
    _between(body.minutes, 0, LONGEST_MINUTES, "minutes")
    return body


def _decision(family: Family, _job: Job, body: Decision) -> Decision:
    _known(body.option, OPTIONS, "option", "option")
    for name in ("agreed_minor", "quoted_minor", "ceiling_minor"):
        _not_negative(getattr(body, name), name)
    for repair in body.repairs:
        _known(repair, family.repairs, "repairs", "repair")
    if body.ceiling_minor is not None and body.ceiling_minor < (body.quoted_minor or 0):
        raise InputError(
            "ceiling_minor: is below the price quoted",
            field="ceiling_minor",
            remedy="Promise the price or more",
        )
    return body


def _closed(family: Family, _job: Job, body: Closed) -> Closed:
    _known(body.ending, OPTIONS, "ending", "ending")
    keys = {
        key: family.faults[key.partition(":")[0]] for key in (*family.faults, *family.fault_keys)
    }
    for fault in body.faults:
        _known(fault, keys, "faults", "fault")
    for name, value in body.terms.items():
        _known(name, dict.fromkeys(TERMS, ""), "terms", "figure")
        _between(value, 0, 1e9, f"terms.{name}")
    if body.ending != "scrap":  # scrapping may cost more than it brings
        _not_negative(body.received_minor, "received_minor")
    return body


def _note(_family: Family, _job: Job, body: Note) -> Note:
    if not body.text.strip() and not body.photos:
        raise InputError(
            "text: the note is empty", field="text", remedy="Write something or add a photo"
        )
    _day(body.parts_due, "parts_due")
    return body


def _retraction(_family: Family, job: Job, body: Retraction) -> Retraction:
    check_retraction(job, body.entry)
    taken = next(entry.body for entry in job.entries if entry.number == body.entry)
    if body.comeback and not isinstance(taken, Closed):
        raise InputError(
            "comeback: only a machine that was handed over can come back",
            field="comeback",
            remedy="Name the entry that closed the job",
        )
    return body


__all__ = [
    "OPTIONS",
    "body_from_json",
    "body_to_json",
    "check_body",
    "check_retraction",
    "outcome_of",
]
