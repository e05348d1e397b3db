"""The job sheet as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.job.options import NUMBER
from counterpoise.cli.terminal import write_file

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.report.paper.sheet import Sheet
    from counterpoise.workshop.services.workshop import Workshop


@click.command("sheet", help="Write the job sheet; without --pdf or --html, to job-NUMBER.pdf.")
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
    workshop: Workshop,
    number: int,
    *,
    in_words: bool,
    pdf: str | None,
    html: str | None,
    address: str,
) -> Sheet:
    """The sheet, written to the files asked for. Raises NotFoundError, InputError."""
    from counterpoise.report.languages import tongue
    from counterpoise.report.paper.language import paper_language
    from counterpoise.report.paper.sheet import build_sheet
    from counterpoise.report.paper.sheet_pictures import photos_of, with_curve
    from counterpoise.report.paper.sheet_spin import with_spin
    from counterpoise.report.views.job import job_view

    view = job_view(workshop, number)
    # a script that asked for JSON gets no file that it did not ask for
    if in_words and not (pdf or html):
        pdf = f"job-{number}.pdf"
    # the sheet is words; the drawing of a spin comes after, where there is a model of the machine
    page = with_curve(with_spin(build_sheet(view, address), view), view, workshop)
    with tongue.reading(paper_language(view) or tongue.SOURCE):
        printed = page
        # letters stand in drawings, and JSON stays English
        if tongue.reader() != tongue.SOURCE:
            printed = with_curve(with_spin(build_sheet(view, address), view), view, workshop)
        written = write_sheet(printed, pdf, html, photos_of(page, workshop))
    for path in written:
        if in_words:
            click.echo(f"Wrote {path}")
    return page


def write_sheet(
    page: Sheet, pdf: str | None, html: str | None, photos: Mapping[str, bytes]
) -> list[str]:
    """Write a sheet to the files asked for, and return their paths. Raises InputError.

    ``photos`` are the bytes of JPEG files by id.
    """
    from counterpoise.report.paper.html import sheet_html
    from counterpoise.report.paper.pdf import sheet_pdf

    # paper and templates are imported only where a file is asked for
    if pdf is not None:
        write_file(pdf, sheet_pdf(page, photos), field="pdf")
    if html is not None:
        write_file(html, sheet_html(page, photos).encode(), field="html")
    return [path for path in (pdf, html) if path is not None]
