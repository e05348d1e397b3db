"""The job sheet as a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.job.options import NUMBER
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@click.command("sheet")
@NUMBER
@click.option(
    "--pdf", type=click.Path(dir_okay=False), default=None, help="Write it as PDF to this file."
)
@click.option(
    "--html", type=click.Path(dir_okay=False), default=None, help="Write it as HTML to this file."
)
@click.option(
    "--address",
    default="",
    help="Where the job can be looked up; put on the PDF as a code to scan.",
)
@workshop_command
def sheet(
    workshop: Workshop, number: int, *, tell: bool, pdf: str | None, html: str | None, address: str
) -> Any:
    """Write the job sheet; without --pdf or --html, to job-NUMBER.pdf."""
    from counterpoise.report.paper.sheet import build_sheet
    from counterpoise.report.paper.sheet_spin import with_spin
    from counterpoise.report.views.job import job_view

    seen = job_view(workshop, number)
    made = with_spin(
        build_sheet(seen.job, seen.family, seen.assessment, seen.settings, address), seen
    )
    if tell and not (pdf or html):
        pdf = f"job-{number}.pdf"
    for path in write_sheet(made, pdf, html):
        if tell:
            click.echo(f"Wrote {path}")
    return made


def write_sheet(made: Any, pdf: str | None, html: str | None) -> list[str]:
    """Write a sheet to the files asked for; raises InputError where one cannot be written."""
    from counterpoise.report.paper.html import sheet_html
    from counterpoise.report.paper.pdf import sheet_pdf

    written = []
    for path, form in ((pdf, sheet_pdf), (html, lambda sheet: sheet_html(sheet).encode())):
        if path is not None:
            try:
                Path(path).write_bytes(form(made))
            except OSError as error:
                raise InputError(
                    f"{path}: {error.strerror}", field="file", remedy="Give another file."
                ) from error
            written.append(path)
    return written
