"""The job sheet as one HTML file that needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from counterpoise.report.languages import tongue
from counterpoise.report.languages.marking import Marked, message
from counterpoise.report.paper.sheet import TYPED, Sheet
from counterpoise.report.paper.sheet_pictures import data_addresses

_NO_PHOTOS: Mapping[str, bytes] = {}


def sheet_html(sheet: Sheet, photos: Mapping[str, bytes] = _NO_PHOTOS) -> str:
    """The sheet as a whole page (str), its style inside; every text of a user is escaped.

    ``photos`` are the bytes of JPEG files by id; those of the sheet that are left out are not
    shown.
    """
    loader = PackageLoader("counterpoise.report.paper")
    environment = Environment(
        loader=loader,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=[Marked],
    )
    environment.globals.update({"_": message, "say": tongue.say})
    # no link, no second file: the page can be mailed and opened anywhere
    css = files("counterpoise.report.paper").joinpath("templates", "sheet.css").read_text("utf-8")
    style = Markup(css)  # noqa: S704  # our own file, no text of a user in it
    # inside a page an SVG has no XML head of its own
    picture = re.sub(r"^.*?(?=<svg)", "", sheet.spin.svg, flags=re.DOTALL) if sheet.spin else ""
    drawn = Markup(picture)  # noqa: S704  # our own drawing; its words are those of the model
    curve = Markup(sheet.curve.svg if sheet.curve else "")  # noqa: S704  # our own drawing
    return environment.get_template("sheet.html").render(
        sheet=sheet,
        typed=TYPED,
        language=tongue.reader(),
        style=style,
        drawn=drawn,
        curve=curve,
        picture="",
        photos=data_addresses(photos),
    )
