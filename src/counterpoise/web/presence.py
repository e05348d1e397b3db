"""Which browser asks, under which name, and what it has not seen yet of the job it opens."""

from __future__ import annotations

import re
import secrets
from typing import TYPE_CHECKING

from counterpoise.report.views.bench.together import Together
from counterpoise.report.views.job import JobView
from counterpoise.web.network.whoami import who

if TYPE_CHECKING:
    from fastapi import Request, Response

    from counterpoise.workshop.people.presence import Presence

# Tells two browsers of one name apart; it opens nothing, and ends with the browser.
COOKIE = "place"
_PLACE = re.compile(r"[\w-]{12}")


def place_of(request: Request) -> str:
    """The word by which a browser is known; empty for a program, and before its first page."""
    # a cookie is whatever the browser says it is
    said = request.cookies.get(COOKIE, "")
    return said if _PLACE.fullmatch(said) else ""


def name_of(request: Request) -> str:
    """Who is signed in, else the name last typed in this browser, else the phone's; or empty."""
    signed_in = request.scope.get("state", {}).get("person") is not None
    typed = request.cookies.get("hand", "")[:40]
    return who(request) if signed_in else typed or who(request)


def opened(request: Request, view: JobView) -> tuple[Together, str]:
    """A browser is shown a page of a job: what is new to it, and the word to know it by."""
    presence: Presence = request.app.state.workshop.presence
    # a browser that takes no cookies is another one each time, and gone after some seconds
    place = place_of(request) or secrets.token_urlsafe(9)
    number, last = view.job.number, view.last
    presence.moved(place, number)
    presence.sign(place, number, name_of(request))
    before = presence.read(place, number, last)
    added = tuple(line for line in view.lines if line.number > before)
    return Together(number, last, presence.here(number, place), added), place


def wrote(request: Request, job: int, entry: int) -> None:
    """A browser wrote to a job, so it knows all up to that entry."""
    place = place_of(request)
    # a program was shown nothing, so nothing is news to it
    if place:
        request.app.state.workshop.presence.read(place, job, entry)


def remember(answer: Response, place: str) -> None:
    """Have the browser bring its word along until it is closed."""
    answer.set_cookie(COOKIE, place, httponly=True, samesite="lax")
