"""Who asks: the person signed in, else the phone that was let in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.web.network.pairing import session_of
from counterpoise.workshop.people.roles import Right

if TYPE_CHECKING:
    from fastapi import Request

    from counterpoise.web.network.access import PhoneAccess
    from counterpoise.workshop.people.records import Person


def person_of(request: Request) -> Person | None:
    """The person signed in; None where nobody is."""
    person: Person | None = request.scope.get("state", {}).get("person")
    return person


def may(request: Request, right: Right) -> bool:
    """Whether whoever asks has a right; everybody where nobody signs in."""
    return right in request.scope.get("state", {}).get("may", frozenset(Right))


def who(request: Request) -> str:
    """The name of the person signed in, else what the phone is called (``Phone 2``), else empty.

    Empty is whoever sits at the workshop's own computer without having signed in.
    """
    person = person_of(request)
    if person is not None:
        return person.name
    phones: PhoneAccess | None = getattr(request.app.state, "phones", None)
    # at the computer itself a phone's secret means nothing
    if phones is None or not request.app.state.gated:
        return ""
    return phones.pairing.label(session_of(request.headers))
