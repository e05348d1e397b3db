"""Checks an entry against the catalog and its job before it is stored."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.jobs.choices import MISTAKE
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    NOT_THERE,
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
from counterpoise.workshop.jobs.entry_json import as_stored
from counterpoise.workshop.jobs.field_checks import (
    check_day,
    check_fits,
    check_known,
    check_language,
)
from counterpoise.workshop.jobs.finding_checks import check_finding
from counterpoise.workshop.jobs.growing import entry_of, stands
from counterpoise.workshop.jobs.machine_figures import check_figures

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family

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


# how a job can be closed: the ways to end it, and that it was none
ENDINGS: Mapping[str, str] = {**OPTIONS, MISTAKE: "Opened by mistake"}


def check_body(family: Family, job: Job | None, body: Body) -> Body:
    """Return the body as it should be stored in the job (None: it opens one).

    Raises InputError or ReadingError naming field and remedy, NotFoundError where a retraction
    points at nothing.
    """
    # an intake may open a job or correct one; everything else needs an open job
    if not isinstance(body, Intake):
        _check_open(job, body)
    # limits last: what the catalog says of a field is said with its unit and names the likely slip
    return as_stored(_checked(family, job, body), limits=True)


def forbids(family: Family, body: Body) -> bool:
    """Whether a fault of the family could forbid what an entry says; most forbid nothing."""
    faults = family.faults.values()
    match body:
        case Finding():
            check = family.checks.get(body.check)
            runs = (
                check is not None and check.runs and body.outcome not in {CANNOT_REACH, NOT_THERE}
            )
        case RepairDone():
            repair = family.repairs.get(body.repair)
            runs = repair is not None and repair.runs
        case Decision() | Closed():
            return any(fault.must_not_leave for fault in faults)
        case _:
            runs = isinstance(body, Proof)
    return runs and any(fault.must_not_run for fault in faults)


def check_retraction(job: Job, number: int) -> None:
    """Refuse to take back an entry that is not there or must stay.

    Raises NotFoundError where there is none; InputError where it was taken back already, or where
    there is no job without it.
    """
    entry = entry_of(job, number)
    if entry is None:
        raise NotFoundError(
            f"Job {job.number} has no entry {number}",
            remedy=f"Its entries run from 1 to {job.entries[-1].number}.",
        )
    if isinstance(entry.body, Retraction):
        raise InputError(
            f"Entry {number} is itself a retraction",
            field="entry",
            remedy="Record again what it took back",
        )
    # the order of the questions is the order of the remedies: what was taken back needs none
    if not stands(job, number):
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
    # taking back a finding would change what a closed job was decided on
    if job.closed is not None and not isinstance(entry.body, Closed | Note | Figures):
        raise InputError(
            f"Job {job.number} is closed", field="entry", remedy="Take back its closing entry first"
        )


def _check_open(job: Job | None, body: Body) -> None:
    if job is None:
        raise InputError(
            "A job begins with its intake", field="kind", remedy="Take the machine in first"
        )
    # what is learned of a machine after it went out still belongs to its job
    if job.closed is not None and not isinstance(body, Note | Figures | Retraction):
        raise _closed_error(job)


def _closed_error(job: Job) -> InputError:
    return InputError(
        f"Job {job.number} is closed", remedy="Take back its closing entry to open it again"
    )


def _checked(family: Family, job: Job | None, body: Body) -> Body:
    if isinstance(body, Intake):
        return _intake(family, job, body)
    assert job is not None  # noqa: S101  # every other kind was refused without one
    match body:
        case Finding():
            return check_finding(family, job, body)
        case RepairDone():
            _check_repair(family, job, body)
        case Decision():
            _check_decision(family, body)
        case Closed():
            _check_closing(family, body)
        case Note():
            _check_note(body)
        case Figures():
            return check_figures(family, job, body)
        case Retraction():
            _check_comeback(job, body)
        case Proof():
            pass  # whether a proof spin ran true is for whoever watched it
    return body


def _intake(family: Family, job: Job | None, body: Intake) -> Intake:
    # evidence of one family means nothing to another
    if body.family != family.id or (job is not None and job.intake.family != body.family):
        raise InputError(
            f"family: {body.family!r} does not fit this job",
            field="family",
            remedy="Open a new job for it",
        )
    if job is not None and job.closed is not None:
        raise _closed_error(job)
    # the title is how a job is found again in a list of a hundred
    if not body.title.strip():
        raise InputError(
            "title: is empty", field="title", remedy="Say in a few words which machine it is"
        )
    for complaint in body.complaints:
        check_known(complaint, family.complaints, "complaints", "complaint")
    for feature, value in body.features.items():
        check_known(feature, family.features, "features", "feature")
        check_known(value, family.features[feature].values, f"features.{feature}", "value")
    _check_together(family, body.features)
    check_day(body.promised, "promised")
    check_language(body.language, "language")
    # the same complaint twice would count as evidence twice
    return replace(body, complaints=tuple(dict.fromkeys(body.complaints)))


def _check_together(family: Family, features: Mapping[str, str]) -> None:
    """Refuse features that no machine has together: both would be believed, and one is a slip."""
    for name, value in features.items():
        feature = family.features[name]
        for other in family.features_against(features, feature.needs):
            if value != feature.others:
                has = family.features[other].values[features[other]]
                raise InputError(
                    f"features.{name}: {feature.values[value]!r} does not go with {has!r}",
                    field=f"features.{name}",
                    remedy="Correct one of the two, or leave out what was not looked at",
                )


def _check_repair(family: Family, job: Job, body: RepairDone) -> None:
    check_known(body.repair, family.repairs, "repair", "repair")
    repair = family.repairs[body.repair]
    check_fits(family, job, repair.needs, repair.title, "Choose another, or correct the intake")


def _check_decision(family: Family, body: Decision) -> None:
    check_known(body.option, OPTIONS, "option", "option")
    for repair in body.repairs:
        check_known(repair, family.repairs, "repairs", "repair")
    # a promise below the price would be broken by the work as planned
    if body.ceiling_minor is not None and body.ceiling_minor < (body.quoted_minor or 0):
        raise InputError(
            "ceiling_minor: is below the price quoted",
            field="ceiling_minor",
            remedy="Promise the price or more",
        )


def _check_closing(family: Family, body: Closed) -> None:
    check_known(body.ending, ENDINGS, "ending", "ending")
    # a fault can be named with its grade ("damper_worn:gone"); both are known by the fault's title
    keys = {
        key: family.faults[key.partition(":")[0]] for key in (*family.faults, *family.fault_keys)
    }
    said: dict[str, str] = {}
    for field in ("faults", "likely", "ruled_out"):
        for fault in getattr(body, field):
            check_known(fault, keys, field, "fault")
            # of two words on the same cause, nobody could say which holds
            if said.setdefault(fault, field) != field:
                raise InputError(
                    f"{field}: {keys[fault].title!r} is said twice",
                    field=field,
                    remedy="Say of each cause once: seen, likely, or not there",
                )
    for name in body.terms:
        check_known(name, dict.fromkeys(TERMS, ""), "terms", "figure")
    # scrapping may cost more than it brings
    if body.ending != "scrap" and body.received_minor is not None and body.received_minor < 0:
        raise InputError(
            f"received_minor: {body.received_minor} is below zero",
            field="received_minor",
            remedy="Give the amount without a minus",
        )


def _check_note(body: Note) -> None:
    # a photo, a price or a language can speak for itself, an empty note cannot
    says = body.text.strip() or body.photos or body.language
    if not says and body.new_machine_minor is None:
        raise InputError(
            "text: the note is empty", field="text", remedy="Write something or add a photo"
        )
    check_day(body.parts_due, "parts_due")
    check_language(body.language, "language")


def _check_comeback(job: Job, body: Retraction) -> None:
    check_retraction(job, body.entry)
    taken_back = entry_of(job, body.entry)
    if body.comeback and not (taken_back and isinstance(taken_back.body, Closed)):
        raise InputError(
            "comeback: only a machine that was handed over can come back",
            field="comeback",
            remedy="Name the entry that closed the job",
        )


__all__ = ["ENDINGS", "OPTIONS", "check_body", "check_retraction", "forbids"]
