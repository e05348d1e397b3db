"""Takes in a file of jobs: one of our own, or a table of repair records of others."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.repair_records import (
    Foreign,
    Remark,
    looks_foreign,
    read_foreign,
)

if TYPE_CHECKING:
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.services.workshop import Workshop

MOST_BYTES = 200 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Intaken:
    """What a file came to: the job_files that can be stored, the jobs once they are, and what could not be used."""

    job_files: tuple[JobFile, ...]
    remarks: tuple[Remark, ...] = ()
    jobs: tuple[Job, ...] = ()


def read_file(workshop: Workshop, data: bytes, family: str = "front_loader") -> Intaken:
    """Read a file and check it against the catalog; nothing is stored. Raises InputError where it cannot be used."""
    text = _text(data)
    if text.lstrip().startswith(("{", "[")):
        return Intaken((workshop.jobs.check_import(_json(text)),))
    if looks_foreign(text):
        workshop.family(family)
        return _new_to(workshop, read_foreign(text, family))
    raise InputError(
        "This is neither an exported job nor a table of repair records",
        field="file",
        remedy="Give a file written by export, or a CSV with the columns id, repair_status, event_date",
    )


def take_in(workshop: Workshop, data: bytes, family: str = "front_loader") -> Intaken:
    """Read a file and store all that can be used of it, in one go."""
    read = read_file(workshop, data, family)
    return Intaken(read.job_files, read.remarks, tuple(workshop.jobs.add_all(read.job_files)))


def _text(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The file has {len(data) / 1e6:.0f} MB, too many", field="file", remedy="Split it"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            "The file is no text in UTF-8", field="file", remedy="Save it as UTF-8"
        ) from error


def _json(text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"The file is no JSON: {error}", field="file", remedy="Export the job again"
        ) from error


def _new_to(workshop: Workshop, foreign: Foreign) -> Intaken:
    """Leave out what the store already holds, and what the catalog refuses."""
    seen = {line.title for line in workshop.jobs.lines()}
    job_files, remarks = [], list(foreign.remarks)
    for line, job_file in foreign.jobs:
        title = getattr(job_file.entries[0].body, "title", "")
        problems = workshop.jobs.problems(job_file.entries)
        if title in seen:
            remarks.append(
                Remark(line, f"{title} is in the store already: left out", left_out=True)
            )
        elif problems:
            remarks += [Remark(line, f"{problem}: left out", left_out=True) for problem in problems]
        else:
            seen.add(title)
            job_files.append(job_file)
    return Intaken(tuple(job_files), tuple(sorted(remarks, key=lambda remark: remark.line)))
