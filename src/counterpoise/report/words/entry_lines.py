"""Entries of evidence as lines of plain words.

A job outlives the catalog it was written with: an id that is no longer known is shown as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.report.languages.tongue import name as language_name
from counterpoise.report.words import numbers
from counterpoise.workshop.jobs.choices import SAFEGUARDS
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    NOT_THERE,
    Body,
    Closed,
    Decision,
    Entry,
    Figures,
    Finding,
    Intake,
    Job,
    Note,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import ENDINGS

# decisions by which a quote is accepted
TAKEN = frozenset({"repair_hand_back"})
# how a figure was come by decides how far it is relied on
HOW_KNOWN = {
    "told": "as told",
    "plate": "from the plate or papers",
    "counted": "seen and counted",
    "measured": "measured",
    "fitted": "fitted to a recording",
}
# whose machine it is decides what can be done with it
OWNERS = {"customer": "a customer's machine", "workshop": "the workshop's own machine"}


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One entry for people: ``what`` was done, ``result`` what came of it (or empty).

    ``at`` is UTC, ISO 8601; ``retracted`` the number of the entry that took it back, or 0.
    """

    number: int
    at: str
    by: str
    # in words and stable: sheet, page and terminal choose their lines by it
    kind: str
    what: str
    result: str
    minutes: float | None = None
    note: str = ""
    photos: tuple[str, ...] = ()
    retracted: int = 0
    # a retraction is not taken back; what it took back is put down anew
    retractable: bool = True
    recording: str = ""


def option_title(option: str) -> str:
    """The words for an option's id; an unknown id as words of its own, never an error."""
    # an option of a later version is readable all the same
    return ENDINGS.get(option, option.replace("_", " ").capitalize())


def entry_lines(job: Job, family: Family, currency: str) -> tuple[EntryLine, ...]:
    """All entries of a job in words, in their order, the retracted ones marked."""
    retracted = {
        entry.body.entry: entry.number
        for entry in job.entries
        if isinstance(entry.body, Retraction)
    }
    return tuple(
        _line(entry, family, currency, retracted.get(entry.number, 0)) for entry in job.entries
    )


def _line(entry: Entry, family: Family, currency: str, retracted: int) -> EntryLine:
    body = entry.body
    kind, what, result = _say(body, family, currency)
    return EntryLine(
        number=entry.number,
        at=entry.at,
        by=entry.by,
        kind=kind,
        what=what,
        result=result,
        minutes=getattr(body, "minutes", None),
        note=_note(body),
        photos=getattr(body, "photos", ()),
        retracted=retracted,
        # entry 1 is the intake, without which there is no job
        retractable=not retracted and entry.number > 1 and not isinstance(body, Retraction),
        recording=getattr(body, "recording", ""),
    )


def _note(body: Body) -> str:
    # the owner's own words, as they were said
    if isinstance(body, Intake):
        return body.story
    # their reason is the note; what they say stands in the result
    if isinstance(body, Retraction):
        return body.why
    if isinstance(body, Note):
        return ""
    said = body.why if isinstance(body, Decision) else body.note
    # what was done in the face of a danger stays to be read
    minded = "Run although that was forbidden." if getattr(body, "acknowledged", False) else ""
    kept = SAFEGUARDS.get(getattr(body, "safeguard", ""), "")
    safe = f"It left unrepaired: {kept}." if kept else ""
    return " ".join(part for part in (minded, safe, said) if part)


def _beside(body: Intake) -> tuple[str, ...]:
    # said where the complaints stand: why there are so few, and why nothing was asked
    alone = ("nobody to ask",) if body.nobody_to_ask else ()
    return (*alone, f"papers in {language_name(body.language)}") if body.language else alone


def _say(body: Body, family: Family, currency: str) -> tuple[str, str, str]:
    """The kind, what was done, and what came of it."""
    if isinstance(body, Intake):
        heard = (
            family.complaints[c].title if c in family.complaints else c for c in body.complaints
        )
        return "Taken in", body.title, "; ".join((*heard, *_beside(body)))
    # what was asked as the check asks it, what it showed as it would be answered
    if isinstance(body, Finding):
        check = family.checks.get(body.check)
        return "Finding", check.title if check else body.check, outcome_words(body, family)
    if isinstance(body, RepairDone):
        repair = family.repairs.get(body.repair)
        return "Repair", repair.title if repair else body.repair, "done"
    if isinstance(body, Proof):
        title = family.proof_title
        return title, title, "ran true" if body.passed else "still not right"
    return _say_rest(body, family, currency)


def _say_rest(
    body: Decision | Closed | Note | Figures | Retraction, family: Family, currency: str
) -> tuple[str, str, str]:
    if isinstance(body, Decision):
        return "Decision", option_title(body.option), _agreed(body, currency)
    if isinstance(body, Closed):
        faults = ", ".join(fault_title(key, family) for key in body.faults)
        # a machine scrapped may cost money: the amount keeps its sign
        received = (
            ""
            if body.received_minor is None
            else f"brought in {numbers.money(body.received_minor, currency)}"
        )
        return (
            "Closed",
            option_title(body.ending),
            "; ".join(part for part in (faults, received) if part),
        )
    if isinstance(body, Note):
        due = f"Parts due {numbers.day(body.parts_due)}." if body.parts_due else ""
        price = (
            ""
            if body.new_machine_minor is None
            else f"A new machine costs {numbers.money(body.new_machine_minor, currency)}."
        )
        papers = f"Papers in {language_name(body.language)}." if body.language else ""
        # what was typed apart from what was chosen: only the second is put into other languages
        chosen = " ".join(part for part in (due, price, papers) if part)
        return "Note", body.text, chosen
    if isinstance(body, Figures):
        figures = "; ".join(figure_words(key, value, family) for key, value in body.values.items())
        return "Machine data", f"Figures of the machine, {HOW_KNOWN[body.how]}", figures
    return ("Came back" if body.comeback else "Taken back"), *_taken_back(body)


def _taken_back(body: Retraction) -> tuple[str, str]:
    return (
        ("The machine came back", "open again")
        if body.comeback
        else (f"Entry {body.entry} taken back", "")
    )


def figure_words(key: str, value: float, family: Family) -> str:
    """A figure of the machine with its unit: ``Dampers 3``, ``Whole machine, empty 71 kg``."""
    entry = family.figures.get(key)
    if entry is None:
        return f"{key} {numbers.number(value)}"
    # "3 pieces" of dampers says no more than "3"
    unit = "" if entry.unit in {"", "pieces"} else f" {entry.unit}"
    return f"{entry.title} {numbers.number(value)}{unit}"


def _agreed(body: Decision, currency: str) -> str:
    """The price agreed; where a quote was answered, that too."""
    agreed = "" if body.agreed_minor is None else numbers.money(body.agreed_minor, currency)
    # agreed by word of mouth, without a quote on paper
    if body.quoted_minor is None:
        return agreed and f"agreed at {agreed}"
    who = f" by {body.agreed_by}" if body.agreed_by else ""
    if body.option in TAKEN:
        most = (
            ""
            if body.ceiling_minor is None
            else f", at most {numbers.money(body.ceiling_minor, currency)}"
        )
        return f"quote accepted{who} at {agreed}{most}"
    # the fee for finding the fault, where one was agreed
    owed = f", {agreed} owed" if body.agreed_minor else ""
    return f"quote of {numbers.money(body.quoted_minor, currency)} declined{who}{owed}"


def outcome_words(finding: Finding, family: Family) -> str:
    """What a finding says, as the check's own answer reads, with its number and unit, if any."""
    # answers that are none of the check's own outcomes
    if finding.outcome == NOT_THERE:
        return "there is none"
    if finding.outcome == COULD_NOT_TELL:
        return "could not tell"
    if finding.outcome == CANNOT_REACH:
        return "cannot reach it"
    check = family.checks.get(finding.check)
    label = check.outcomes.get(finding.outcome, finding.outcome) if check else finding.outcome
    if finding.reading is None:
        return label
    # a finding of a check that lost its reading keeps the number alone
    unit = check.reading.unit if check and check.reading else ""
    read = f"{numbers.number(finding.reading)} {unit}".strip()
    return f"{read}: {label}" if label else read


def fault_title(key: str, family: Family) -> str:
    """A fault key (``id`` or ``id:grade``) in words; the key itself where the catalog lost it."""
    # the grade says how far it has gone
    fault_id, _, grade_id = key.partition(":")
    fault = family.faults.get(fault_id)
    if fault is None:
        return key
    grade = next((g.title for g in fault.grades if g.id == grade_id), "")
    return f"{fault.title} ({grade})" if grade else fault.title
