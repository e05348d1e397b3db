"""Repair records of others, in the columns of the Open Repair Data standard, read into jobs.

A record says little: a date, an age, a group of faults, how it ended. What it does not say stays
unknown; what cannot be used is named by line, and the rest is taken.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from io import StringIO

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import OLDEST_YEARS, Body, Closed, Entry, Intake
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.jobs.job_file_reader import LATEST_YEAR

# the least that makes a job: which record, how it ended, when
NEEDED = ("id", "repair_status", "event_date")
# the provider's own word for it before that of the standard
_PRODUCT = ("partner_product_category", "product_category")

# What a group of faults says in the words of our complaints. The groups are coarse: one that mixes
# several complaints is taken as the plainest of them, one that has nothing to do with the spin says
# nothing.
COMPLAINTS: Mapping[str, tuple[tuple[str, ...], str]] = {
    "drive_spin_noise": (
        ("no_spin",),
        "mixes drive, spin and noise: taken as a machine that does not spin",
    ),
    "drain_pump_leak": (
        ("water_left",),
        "mixes drain, pump and leak: taken as water left in it",
    ),
    "door_lock_seal_hinge": ((), "mixes lock, seal and hinge: no complaint taken"),
    "electronics_pcb_switch": ((), "has no counterpart among the complaints: none taken"),
    "heater": ((), "has no counterpart among the complaints: none taken"),
    "other_or_unspecific": ((), "does not say what was wrong: no complaint taken"),
    "no_text": ((), "does not say what was wrong: no complaint taken"),
}
# How a record ended: the ending of the job, or none where the job stays open.
ENDINGS: Mapping[str, str] = {
    "fixed": "repair_hand_back",
    "end of life": "scrap",
    "repairable": "",
    "unknown": "",
}


@dataclass(frozen=True, slots=True)
class Remark:
    """What could not be used of a line (1 is the header); ``left_out``: the whole line was not."""

    line: int
    text: str
    # a line that was taken with less than it says is told too, but counts as taken
    left_out: bool = False


@dataclass(frozen=True, slots=True)
class RepairRecords:
    """What was read: (line, job) in the order of the lines, and the remarks; both may be empty."""

    jobs: tuple[tuple[int, JobFile], ...]
    remarks: tuple[Remark, ...]


def is_repair_records(text: str) -> bool:
    """Whether this is a table with the columns needed, in any order; the header is line 1."""
    # a reader, not a split: quoted names may hold commas
    header = next(csv.reader(StringIO(text)), [])
    return set(NEEDED) <= {name.strip() for name in header}


def called(family: Family) -> tuple[str, ...]:
    """What tables of others call such a machine, in small letters; its own title where none is."""
    return family.called or (family.title.casefold(),)


def _name_of(family: Family) -> str:
    # the first name is the one that the standard has for it
    name = called(family)[0]
    return name[:1].upper() + name[1:]


def read_repair_records(text: str, family: Family) -> RepairRecords:
    """Read a table of repair records into jobs of a family.

    Raises InputError where it is no such table.
    """
    # a short row gives empty cells, what is too long goes to a column without a name
    reader = csv.DictReader(
        StringIO(text, newline=""), skipinitialspace=True, restkey="", restval=""
    )
    # the header decides for the whole table; a bad line only for itself
    missing = [name for name in NEEDED if name not in (reader.fieldnames or ())]
    if missing:
        raise InputError(
            f"The table has no column {', '.join(missing)}",
            field=missing[0],
            remedy=f"Needed are {', '.join(NEEDED)}",
        )
    jobs: list[tuple[int, JobFile]] = []
    remarks: list[Remark] = []
    try:
        for row in reader:
            record = _Record(
                {str(key): str(value).strip() for key, value in row.items()}, reader.line_num
            )
            job_file = record.job_file(family)
            remarks += record.remarks
            jobs += [(record.line, job_file)] if job_file else []
    # from here on no line boundary can be trusted, so nothing is taken
    except csv.Error as error:
        raise InputError(
            f"Line {reader.line_num} cannot be read: {error}", remedy="Save the table as CSV again"
        ) from error
    return RepairRecords(tuple(jobs), tuple(remarks))


class _Record:
    """One line on its way to a job; collects what could not be used."""

    def __init__(self, row: Mapping[str, str], line: int) -> None:
        self.row, self.line = row, line
        self.remarks: list[Remark] = []

    def job_file(self, family: Family) -> JobFile | None:
        """The job, or None where the line is of no use."""
        # first: an age is reckoned to the day of the event
        when = self._date()
        useless = self._useless(family)
        if useless or when is None:
            # of a line left out one reason is enough; earlier remarks on its fields go
            self.remarks = [Remark(self.line, f"{useless}: left out", left_out=True)]
            return None
        self._note_product(family)
        bodies: list[Body] = [self._intake(family, when)]
        # capitals differ by provider
        status = self.row["repair_status"].casefold()
        if ENDINGS[status]:
            # why it could not be repaired, in the provider's words
            barrier = self.row.get("repair_barrier_if_end_of_life", "")
            bodies.append(Closed(ENDINGS[status], note=barrier))
        elif status == "unknown":
            self._say("repair_status is unknown: the job stays open")
        # a record has a day and no hour: noon is the same day in every zone that repairs
        at = f"{when.isoformat()}T12:00:00Z"
        return JobFile(
            tuple(Entry(number, at, "import", body) for number, body in enumerate(bodies, 1))
        )

    def _useless(self, family: Family) -> str:
        """Say why nothing can be made of the line; empty where something can."""
        # without it the same table taken in twice would make the same jobs twice
        if not self.row["id"]:
            return "has no id"
        if self._date() is None:
            return f"event_date {self.row['event_date']!r} is no date such as 2020-02-28"
        if self.row["repair_status"].casefold() not in ENDINGS:
            return f"repair_status {self.row['repair_status']!r} is none of {', '.join(ENDINGS)}"
        product = self._product().casefold()
        if any(name in product for name in called(family)):
            return ""
        return f"{self._product()!r} is no {_name_of(family).lower()}"

    def _product(self) -> str:
        return next((self.row[name] for name in _PRODUCT if self.row.get(name)), "")

    def _intake(self, family: Family, when: date) -> Intake:
        # the licence of such tables asks for the source, and a hand wants to know it
        origin = ", ".join(
            self.row[name] for name in ("id", "data_provider", "country") if self.row.get(name)
        )
        group = self.row.get("fault_group_keyword", "")
        story = (
            self.row.get("problem"),
            f"Imported repair record: {origin}.",
            group and f"Group: {group}.",
        )
        return Intake(
            family=family.id,
            owner="customer",
            title=f"{_name_of(family)} {self.row['id']}",
            complaints=self._complaints(group, family),
            age_years=self._age(when),
            # free text of others: cut to what an intake may hold
            maker=self.row.get("brand", "")[:200],
            story=" ".join(part for part in story if part),
        )

    def _complaints(self, group: str, family: Family) -> tuple[str, ...]:
        if not group:
            self._say("says nothing of the trouble: no complaint taken")
            return ()
        if group not in COMPLAINTS:
            self._say(f"fault_group_keyword {group!r} is not known: no complaint taken")
            return ()
        complaints, remark = COMPLAINTS[group]
        if not set(complaints) <= set(family.complaints):
            self._say(f"fault_group_keyword {group!r} is no complaint of this family: none taken")
            return ()
        self._say(f"fault_group_keyword {group!r} {remark}")
        return complaints

    def _age(self, when: date) -> float | None:
        given, made = self._number("product_age"), self._number("year_of_manufacture")
        # by whole years, which is all that a year of manufacture gives
        reckoned = None if made is None else when.year - made
        # two whole years rounded apart may differ by one
        if given is not None and reckoned is not None and abs(given - reckoned) > 1:
            self._say(
                f"product_age {given:g} and year_of_manufacture {made:g} do not agree:"
                " product_age taken"
            )
        age = reckoned if given is None else given
        if age is None:
            self._say("gives no age: age left unknown")
        elif not 0 <= age <= OLDEST_YEARS:
            self._say(f"an age of {age:g} years cannot be: age left unknown")
            return None
        return age

    def _number(self, name: str) -> float | None:
        text = self.row.get(name, "")
        # float() would take 'nan', '1e9' and '1_0' as well
        if text and not re.fullmatch(r"\d{1,4}(\.\d+)?", text):
            self._say(f"{name} {text!r} is no number")
            return None
        return float(text) if text else None

    def _date(self) -> date | None:
        try:
            # the standard's only way to write a day
            day = date.fromisoformat(self.row["event_date"])
        except ValueError:
            return None
        return day if day.year <= LATEST_YEAR else None

    def _note_product(self, family: Family) -> None:
        # the standard writes a group before the product: "Large home electrical ~ Tumble dryer"
        named = self._product().rpartition("~")[2].strip()
        # a whole name, so that the hose of a machine gets its remark
        if named.casefold() not in called(family):
            self._say(
                f"product {named!r} may be a part or another kind of machine: taken as the machine"
            )

    def _say(self, text: str) -> None:
        self.remarks.append(Remark(self.line, text))
