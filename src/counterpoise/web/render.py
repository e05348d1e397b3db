"""Templates into pages."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from counterpoise.money.quote import out_of_ten
from counterpoise.report.views import stock as shelf
from counterpoise.report.views.estimate import quantity
from counterpoise.report.words import numbers as words
from counterpoise.report.words.entry_lines import option_title
from counterpoise.workshop.diagnosis.assessment import OptionView

STYLES = {
    "style.css": ("counterpoise.web", "static"),
    "sheet.css": ("counterpoise.report.paper", "templates"),
}
SCRIPTS = ("record.js", "keep.js", "motion.js")


@cache
def environment() -> Environment:
    """The pages' templates; every value is escaped."""
    loader = ChoiceLoader(
        [PackageLoader("counterpoise.web"), PackageLoader("counterpoise.report.paper")]
    )
    made = Environment(
        loader=loader,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        {
            name: getattr(words, name)
            for name in ("minutes", "chance", "when", "age", "people", "colon")
        }
    )
    made.filters.update(money=words.money, about=words.about, wide=_wide, option=option_title)
    made.filters.update(
        fingers=out_of_ten, quantity=quantity, day=words.day, plain_money=words.plain_money
    )
    made.filters.update(
        kind=shelf.KINDS.__getitem__, origin=shelf.origin_words, happened=shelf.movement_words
    )
    made.globals.update(style_mark=style_mark(), script_mark=script_mark())
    return made


def _wide(option: OptionView, currency: str) -> str:
    return words.reach(option.low_minor, option.high_minor, currency)


@cache
def style(name: str) -> bytes:
    """A style sheet of the pages."""
    package, folder = STYLES[name]
    return files(package).joinpath(folder, name).read_bytes()


@cache
def style_mark() -> str:
    """Changes with the style sheets, so that a browser never shows an old one."""
    return hashlib.sha256(b"".join(style(name) for name in STYLES)).hexdigest()[:12]


@cache
def script(name: str) -> bytes:
    """A script of the pages."""
    return files("counterpoise.web").joinpath("static", name).read_bytes()


def script_mark() -> str:
    """Changes with the scripts."""
    return hashlib.sha256(b"".join(script(name) for name in SCRIPTS)).hexdigest()[:12]


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> HTMLResponse:
    """A page from a template."""
    hand = request.cookies.get("hand", "")[:40]
    return HTMLResponse(environment().get_template(template).render(hand=hand, **context), status)
