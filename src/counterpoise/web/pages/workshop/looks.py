"""How the pages look in one browser: light or dark, in which language, or as the device wishes."""

from __future__ import annotations

from fastapi import APIRouter, Response
from fastapi.responses import RedirectResponse

from counterpoise.report.languages.tongue import codes
from counterpoise.web.forms import Form, Posted
from counterpoise.web.render import THEMES

pages = APIRouter()
# a look is the browser's own affair: a program has none
api = APIRouter(prefix="/api", tags=["looks"])
_YEAR_S = 365 * 86400


@pages.post("/theme", include_in_schema=False)
def theme_page(form: Posted) -> Response:
    """Keep light or dark in this browser for a year, or leave it to the device; then lead back."""
    answer = back_from(form)
    theme = form.text("theme")
    if theme in THEMES:
        # httponly: the style sheet needs it, no script does
        answer.set_cookie("theme", theme, max_age=_YEAR_S, httponly=True, samesite="lax")
    else:
        answer.delete_cookie("theme")
    return answer


@pages.post("/language", include_in_schema=False)
def language_page(form: Posted) -> Response:
    """Keep a language in this browser for a year, or leave it to the browser; then lead back."""
    answer = back_from(form)
    language = form.text("language")
    # a language that is gone meanwhile is not kept for a year
    if language in codes():
        answer.set_cookie("language", language, max_age=_YEAR_S, httponly=True, samesite="lax")
    else:
        answer.delete_cookie("language")
    return answer


def back_from(form: Form) -> RedirectResponse:
    """To the page that a form names; to the list of jobs where it is none of ours."""
    # only ever to a page of ours: "//elsewhere" would be another host
    back = form.text("back")
    inside = back.startswith("/") and not back.startswith(("//", "/\\")) and back.isprintable()
    return RedirectResponse(back if inside else "/jobs", 303)
