"""A file of jobs taken in: one of our own, or a table of repair records of others."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.repair_records import (
    Remark,
    RepairRecords,
    is_repair_records,
    read_repair_records,
)

if TYPE_CHECKING:
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.services.workshop import Workshop

# photos and recordings travel inside a job's file
MOST_BYTES = 200 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class ImportedFile:
    """What a file came to: what can be stored, what could not be used, and the jobs once stored.

    ``jobs`` is empty before that.
    """

    job_files: tuple[JobFile, ...]
    remarks: tuple[Remark, ...] = ()
    jobs: tuple[Job, ...] = ()


def read_file(workshop: Workshop, data: bytes, family: str = "") -> ImportedFile:
    """Read the bytes of a file and check them against the catalog; nothing is stored.

    ``family`` is that of the machines of a table, which names none; empty: the first there is.
    Raises InputError where the
    file cannot be used.
    """
    text = _text(data)
    # by what is in it, not by its name, which a download may have lost
    if text.lstrip().startswith(("{", "[")):
        return ImportedFile((workshop.jobs.check_import(_json(text)),))
    if is_repair_records(text):
        kind = workshop.family(workshop.families.usual(family))
        return _new_jobs(workshop, read_repair_records(text, kind))
    raise InputError(
        "This is neither an exported job nor a table of repair records",
        field="file",
        remedy="Give a file written by export, or a CSV with the columns id, repair_status,"
        " event_date",
    )


def take_in(workshop: Workshop, data: bytes, family: str = "") -> ImportedFile:
    """Read a file and store all that can be used of it, in one transaction. Raises InputError."""
    read = read_file(workshop, data, family)
    return ImportedFile(read.job_files, read.remarks, workshop.jobs.add_all(read.job_files))


def _text(data: bytes) -> str:
    # before decoding, which would double it in memory
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The file has {len(data) / 1e6:.0f} MB, too many", field="file", remedy="Split it"
        )
    try:
        # table programs begin a UTF-8 file with a mark that belongs to no column's name
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            "The file is no text in UTF-8", field="file", remedy="Save it as UTF-8"
        ) from error


def _json(text: str) -> object:
    try:
        return json.loads(text)
    # a file of nothing but brackets nests deeper than the parser's stack
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"The file is no JSON: {error}", field="file", remedy="Export the job again"
        ) from error


def _new_jobs(workshop: Workshop, records: RepairRecords) -> ImportedFile:
    """Leave out what the store already holds, and what the catalog refuses."""
    # a record's id is part of its title, so the same table taken in twice changes nothing
    stored = {line.title for line in workshop.jobs.lines()}
    job_files, remarks = [], list(records.remarks)
    for line, job_file in records.jobs:
        title = getattr(job_file.entries[0].body, "title", "")
        problems = workshop.jobs.problems(job_file.entries)
        if title in stored:
            text = f"{title} is in the store already: left out"
            remarks.append(Remark(line, text, left_out=True))
        # the catalog may have changed since then: that line is left out, the rest taken
        elif problems:
            remarks += [Remark(line, f"{problem}: left out", left_out=True) for problem in problems]
        else:
            # the same record twice within one table
            stored.add(title)
            job_files.append(job_file)
    # remarks of reading and of storing, as one list down the table
    in_order = sorted(remarks, key=lambda remark: remark.line)
    return ImportedFile(tuple(job_files), tuple(in_order))
