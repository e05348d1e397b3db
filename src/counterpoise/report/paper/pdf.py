"""The job sheet, the quote and labels on paper. Texts reach the typesetter as data, never as markup."""

from __future__ import annotations

import io
import json
from dataclasses import asdict
from importlib.resources import files
from threading import Lock

from counterpoise.report.paper.sheet import Sheet
from counterpoise.report.views.donor import Donor
from counterpoise.report.views.quote import QuotePaper

_one_at_a_time = Lock()  # a page at a time is plenty for a workshop and keeps memory low


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet as PDF, A4."""
    return _typeset(
        "sheet.typ", {"sheet": json.dumps(asdict(sheet)), "code": code_svg(sheet.address)}
    )


def quote_pdf(paper: QuotePaper) -> bytes:
    """A quote as PDF, A4, with room for the customer's answer."""
    return _typeset("quote.typ", {"quote": json.dumps(asdict(paper))})


def labels_pdf(donor: Donor, address: str = "") -> bytes:
    """Labels of a machine and its parts as PDF, A4, to cut out. ``address``: where their code leads, if anywhere."""
    return _typeset("labels.typ", {"donor": json.dumps(asdict(donor)), "code": code_svg(address)})


def _typeset(template: str, data: dict[str, str]) -> bytes:
    import typst

    source = files("counterpoise.report.paper").joinpath("templates", template).read_bytes()
    with _one_at_a_time:
        made = typst.compile(source, format="pdf", sys_inputs=data, ignore_system_fonts=True)
    if not isinstance(made, bytes):
        raise TypeError("the typesetter gave no single document")
    return made


def code_svg(address: str) -> str:
    """A code for the phone's camera that leads to ``address``; empty where there is none."""
    if not address:
        return ""
    import segno

    out = io.BytesIO()
    segno.make(address, error="m").save(out, kind="svg", border=0, xmldecl=False)
    return out.getvalue().decode()
