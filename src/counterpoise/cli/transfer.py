"""``counterpoise export`` and ``counterpoise import``: jobs out of a store and into one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.catalog.loader import first_family
from counterpoise.cli.common import workshop_command, writing_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.workshop.services.job_import import ImportedFile
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    "export",
    help=(
        "Write a JOB with its photos and recordings to FILE as JSON, or print it where no FILE "
        "is given."
    ),
)
@click.argument("job", type=int)
@click.argument("file", type=click.Path(dir_okay=False), required=False)
@click.option("--replace", is_flag=True, help="Write over FILE where it exists.")
@workshop_command
def export_job(
    workshop: Workshop, job: int, file: str | None, *, replace: bool, in_words: bool
) -> dict[str, object]:
    """A job with its files as JSON values. Raises NotFoundError, InputError."""
    # with its photos and recordings in it: one file is the whole job
    data = workshop.jobs.export(job)
    if file is not None:
        write_text(
            Path(file), json.dumps(data, indent=1, ensure_ascii=False) + "\n", replace=replace
        )
    if in_words:
        text = json.dumps(data, indent=2, ensure_ascii=False)
        click.echo(f"Job {job} written to {file}." if file else text)
    return data


@click.command(
    "import",
    help=(
        "Take in a FILE: a job as exported, or a CSV of repair records in the columns of the "
        "Open Repair Data standard."
    ),
)
@click.argument("file", type=click.Path())
@click.option("--dry-run", is_flag=True, help="Say what would be taken in, and store nothing.")
@click.option(
    "--family",
    default=first_family(),
    show_default=True,
    help="Family of machines for records of others.",
)
@writing_command
def import_file(
    workshop: Workshop, file: str, *, dry_run: bool, family: str, in_words: bool
) -> dict[str, object]:
    """Jobs taken in, or that would be. Raises InputError; then nothing is stored."""
    from counterpoise.workshop.services.job_import import read_file, take_in

    # a dry run reads and checks all of it by the same code, and stops before the store
    done = (read_file if dry_run else take_in)(workshop, _read(Path(file)), family)
    if in_words:
        for remark in done.remarks:
            # a line that was left out must be found in the file, so each remark says its number
            click.echo(f"line {remark.line}: {remark.text}")
        click.echo(_in_short(done, dry_run))
    return _import_answer(done, dry_run)


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror}", field="file") from error


def write_text(file: Path, text: str, *, replace: bool = False) -> None:
    """Write a file; one that exists stays without ``replace``. Raises InputError."""
    # "x" and not a question before: between asking and writing another program could make the file
    try:
        with file.open("w" if replace else "x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError as error:
        raise InputError(
            f"{file} exists already", field="file", remedy="Choose another name, or give --replace"
        ) from error
    except OSError as error:
        raise InputError(f"{file} cannot be written: {error.strerror}", field="file") from error


def _import_answer(done: ImportedFile, dry_run: bool) -> dict[str, object]:
    return {
        "stored": not dry_run,
        "count": len(done.job_files),
        "jobs": [job.number for job in done.jobs],
        # two remarks can be about one line
        "left_out": sorted({remark.line for remark in done.remarks if remark.left_out}),
        "remarks": [{"line": r.line, "text": r.text, "left_out": r.left_out} for r in done.remarks],
    }


def _in_short(done: ImportedFile, dry_run: bool) -> str:
    count = "1 job" if len(done.job_files) == 1 else f"{len(done.job_files)} jobs"
    left = len({remark.line for remark in done.remarks if remark.left_out})
    out = f" {left} {'line was' if left == 1 else 'lines were'} left out." if left else ""
    if dry_run:
        return f"{count} can be taken in; nothing was stored.{out}"
    # they are numbered anew: the numbers of another workshop are taken here
    numbers = f", number {done.jobs[0].number} to {done.jobs[-1].number}" if done.jobs else ""
    return f"{count} taken in{numbers}.{out}"
