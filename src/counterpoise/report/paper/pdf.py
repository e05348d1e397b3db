"""The job sheet, the quote and labels as PDF.

Texts reach the typesetter as data, never as markup: nobody's note can break or run anything.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Mapping
from dataclasses import asdict
from importlib.resources import files
from threading import Lock

from counterpoise.report.languages import tongue
from counterpoise.report.paper.language import in_words
from counterpoise.report.paper.sheet import TYPED, Sheet
from counterpoise.report.paper.sheet_pictures import data_addresses
from counterpoise.report.views.donor import Donor
from counterpoise.report.views.quote import QuotePaper

# one document at a time is plenty for a workshop and keeps memory low
_one_at_a_time = Lock()
_NO_PHOTOS: Mapping[str, bytes] = {}
# texts of a template stand in it as ``say("...")``
_SAID = re.compile(r'say\("([^"]+)"')
# fields of a quote that a person typed, or that are ids and drawings
_OF_QUOTE = frozenset({"workshop", "owner", "repairs", "discounts", "kinds", "drawing", "currency"})
_MEDIUM = "m"  # 15 % of a code may be smudged: it hangs beside the bench


def sheet_pdf(sheet: Sheet, photos: Mapping[str, bytes] = _NO_PHOTOS) -> bytes:
    """The bytes of a sheet as PDF, A4; with a code to scan where the sheet has an address.

    ``photos`` are the bytes of JPEG files by id; those of the sheet that are left out are not
    printed.
    """
    printed = [
        {"svg": _framed(photos[photo.id]), "words": photo.words}
        for photo in sheet.photos
        if photo.id in photos
    ]
    data = {"sheet": in_words(asdict(sheet), TYPED), "photos": in_words(printed, {"svg"})}
    # in three: the template reads each by its name
    return _typeset(
        "sheet.typ",
        {key: json.dumps(value) for key, value in data.items()} | {"code": code_svg(sheet.address)},
    )


def _framed(photo: bytes) -> str:
    """A JPEG inside an SVG: the typesetter takes texts, and an SVG may carry a picture."""
    from PIL import Image

    wide, high = Image.open(io.BytesIO(photo)).size
    (address,) = data_addresses({"": photo}).values()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}"'
        f' width="{wide}" height="{high}">'
        f'<image width="{wide}" height="{high}" href="{address}"/></svg>'
    )


def quote_pdf(paper: QuotePaper) -> bytes:
    """The bytes of a quote as PDF, A4, with room for the customer's answer."""
    return _typeset("quote.typ", {"quote": json.dumps(in_words(asdict(paper), _OF_QUOTE))})


def labels_pdf(donor: Donor, address: str = "") -> bytes:
    """The bytes of labels of a machine and its parts as PDF, A4, to cut out.

    ``address`` is where their code leads; empty: they have none.
    """
    printed = in_words(asdict(donor), {"workshop"})
    return _typeset("labels.typ", {"donor": json.dumps(printed), "code": code_svg(address)})


def _typeset(template: str, data: dict[str, str]) -> bytes:
    # the typesetter takes a moment to load; a page on the screen needs none of it
    import typst

    # the template is ours and trusted; what it is given is not
    source = files("counterpoise.report.paper").joinpath("templates", template).read_bytes()
    texts = {said: tongue.text(said) for said in template_texts(source.decode())}
    data |= {"words": json.dumps(texts), "language": tongue.reader()}
    with _one_at_a_time:
        # fonts of this machine left aside: the same job gives the same paper everywhere
        pdf = typst.compile(source, format="pdf", sys_inputs=data, ignore_system_fonts=True)
    if not isinstance(pdf, bytes):
        raise TypeError("the typesetter gave no single document")
    return pdf


def template_texts(source: str) -> list[str]:
    """Every text that a template of the typesetter says, in English, in its order."""
    return _SAID.findall(source)


def code_svg(address: str) -> str:
    """A code for the phone's camera that leads to ``address``, as SVG; empty without an address."""
    if not address:
        return ""
    import segno

    out = io.BytesIO()
    segno.make(address, error=_MEDIUM).save(out, kind="svg", border=0, xmldecl=False)
    return out.getvalue().decode()
