"""Templates into pages."""

from __future__ import annotations

import hashlib
from contextvars import ContextVar
from functools import cache
from importlib.resources import files
from urllib.parse import parse_qsl, urlencode

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from counterpoise.money.quote import out_of_ten
from counterpoise.report.drawings import pictures
from counterpoise.report.languages import tongue
from counterpoise.report.languages.marking import Marked, message
from counterpoise.report.views import stock as shelf
from counterpoise.report.views.estimate import quantity
from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers as words
from counterpoise.report.words.entry_lines import option_title
from counterpoise.report.words.runners_up import instead
from counterpoise.report.words.standing import bounds, standing
from counterpoise.web.form_marks import FormMarks, form_marks
from counterpoise.web.network.rights import needed
from counterpoise.web.network.whoami import may, person_of
from counterpoise.web.presence import opened, place_of, remember
from counterpoise.workshop.diagnosis.assessment import OptionView

# Each sheet of the pages in parts that are sent as one: a phone asks once.
STYLES = {
    "style.css": (
        "counterpoise.web",
        "static",
        ("style.css", "bench.css", "drawing.css", "dark.css"),
    ),
    "sheet.css": ("counterpoise.report.paper", "templates", ("sheet.css",)),
    "figures.css": ("counterpoise.report.figures", ".", ("figures.css",)),
}
# Drawn by a macro of drawing.html from what the page has anyway.
PICTURES = ("step_machine", "step_sketches", "form_sketches", "looked_machine", "tap_machine")
# The recorder needs a script; every other page works without, and only its pressed buttons say so.
PRESS = "press.js"
SCRIPTS = (PRESS, "record.js", "keep.js", "motion.js", "together.js", "waiting.js", "worker.js")
# What a browser may ask the pages to look like, whatever the device does; else empty.
THEMES = ("light", "dark")


@cache
def environment() -> Environment:
    """The pages' templates; every value is escaped, and a name that is not given is an error."""
    # The job sheet of a page and the one on paper come from one template.
    loader = ChoiceLoader(
        [PackageLoader("counterpoise.web"), PackageLoader("counterpoise.report.paper")]
    )
    made = Environment(
        loader=loader,
        # Everything a customer said stands in a page somewhere.
        autoescape=True,
        # A misspelt name would print nothing where a caution or a price should stand.
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=[FormMarks, Marked],
    )
    made.filters.update(
        {
            name: getattr(words, name)
            for name in ("minutes", "chance", "when", "age", "people", "colon", "if_there")
        }
    )
    made.filters.update(money=words.money, about=words.about, wide=_wide, option=option_title)
    made.filters.update(instead=instead, standing=standing, bounds=bounds)
    made.filters.update(
        fingers=out_of_ten, quantity=quantity, day=words.day, plain_money=words.plain_money
    )
    made.filters.update(
        kind=shelf.KINDS.__getitem__, origin=shelf.origin_words, happened=shelf.movement_words
    )
    # In the address of the style sheet, which browsers keep for a year: a new one has a new
    # address.
    made.globals.update({name: getattr(pictures, name) for name in PICTURES})
    made.globals.update(style_mark=style_mark(), script_mark=script_mark())
    made.globals.update(form_marks=lambda: form_marks(_shown_at.get()))
    made.globals.update({"_": message, "say": tongue.say, "languages": _languages})
    made.globals.update(shown_in=_shown_in, signed_in=_signed_in, sees=_sees)
    return made


def _signed_in() -> str:
    """The name of who is signed in; empty where nobody is."""
    request = _asking.get()
    person = person_of(request) if request else None
    return person.name if person else ""


def _sees(path: str) -> bool:
    """Whether whoever asks may open a page; everybody where nobody signs in."""
    request, right = _asking.get(), needed("GET", path)
    return request is None or right is None or may(request, right)


def _languages() -> list[tuple[str, str]]:
    """(code, its own name) of each language there is; empty where there is no choice."""
    # a switch with one place would be a riddle
    codes = tongue.codes()
    return [(code, tongue.name(code)) for code in codes] if len(codes) > 1 else []


def _shown_in(code: str) -> str:
    """The address of the page that is shown now, in a language (ISO 639-1); all else is kept."""
    path, _, query = _shown_at.get().partition("?")
    kept = [pair for pair in parse_qsl(query, keep_blank_values=True) if pair[0] != "language"]
    return f"{path}?{urlencode([*kept, ('language', code)])}"


def reads(request: Request, paper: str = "") -> str:
    """The language of whoever asks (ISO 639-1): as picked in this browser, else as it wishes.

    ``paper``: the language of a paper for a customer, which goes before; empty where it is none.
    """
    # another is asked for by the address, to read a paper before it is handed over
    for picked in (request.query_params.get("language"), paper, request.cookies.get("language")):
        # what there is no longer is as good as never picked
        if picked in tongue.codes():
            return str(picked)
    return tongue.wanted(request.headers.get("accept-language", ""))


def _wide(option: OptionView, currency: str) -> str:
    return words.reach(option.low_minor, option.high_minor, currency)


@cache
def style(name: str) -> bytes:
    """A style sheet of the pages, as bytes. Raises KeyError where there is none of that name."""
    package, folder, parts = STYLES[name]
    return b"".join(files(package).joinpath(folder, part).read_bytes() for part in parts)


@cache
def style_mark() -> str:
    """Twelve hexadecimal digits that change with the style sheets (bytes), so that none is old."""
    return hashlib.sha256(b"".join(style(name) for name in STYLES)).hexdigest()[:12]


@cache
def script(name: str) -> bytes:
    """A script of the pages, as bytes."""
    return files("counterpoise.web").joinpath("static", name).read_bytes()


def script_mark() -> str:
    """Twelve hexadecimal digits that change with the scripts (bytes)."""
    return hashlib.sha256(b"".join(script(name) for name in SCRIPTS)).hexdigest()[:12]


def page(
    request: Request,
    template: str,
    *,
    status: int = 200,
    paper_language: str = "",
    **context: object,
) -> HTMLResponse:
    """A page from a template under an HTTP status; ``paper_language``: of one for a customer.

    ``hand``, who wrote last from this browser, stands in every page; empty where nobody has. So do
    ``at``, the path asked for, ``theme``, empty where the device decides, ``language``, that of
    whoever reads (ISO 639-1), and of a job's page what is ``together`` new to this browser, else
    None. Raises jinja2's UndefinedError where the template asks for a name that is not given.
    """
    # A cookie is whatever the browser says it is: cut here, escaped in the template.
    # Whoever is signed in signs by that name.
    person = person_of(request)
    hand = person.name if person else request.cookies.get("hand", "")[:40]
    asked = request.cookies.get("theme", "")
    address = _address(request)
    # without what was asked of it: the bar marks the place, whatever of it is shown
    at = address.partition("?")[0]
    language = reads(request, paper_language)
    theme = asked if asked in THEMES else ""
    common: dict[str, object] = {"hand": hand, "at": at, "theme": theme, "language": language}
    common["together"] = None
    view, place = context.get("view"), ""
    if isinstance(view, JobView):
        common["together"], place = opened(request, view)
    here, asking = _shown_at.set(address), _asking.set(request)
    try:
        with tongue.reading(language):
            text = environment().get_template(template).render(common | context)
    finally:
        _shown_at.reset(here)
        _asking.reset(asking)
    shown = HTMLResponse(text, status)
    if place and place != place_of(request):
        remember(shown, place)
    return shown


# Macros are imported without the context of the page, so what every form needs comes this way.
_shown_at: ContextVar[str] = ContextVar("shown_at", default="")
_asking: ContextVar[Request | None] = ContextVar("asking", default=None)


def _address(request: Request) -> str:
    """Where the page can be seen again; of an answer to a form, where that form was."""
    if request.scope.get("method") == "GET":
        query = request.url.query
        return f"{request.url.path}?{query}" if query else request.url.path
    return str(getattr(request.state, "shown_at", ""))
