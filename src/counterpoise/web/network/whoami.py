"""Who asks: the person signed in, else the phone that was let in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.web.network.pairing import session_of

if TYPE_CHECKING:
    from fastapi import Request

    from counterpoise.web.network.access import PhoneAccess


def who(request: Request) -> str:
    """The name of the person signed in, else what the phone is called (``Phone 2``), else empty.

    Empty is whoever sits at the workshop's own computer without having signed in.
    """
    person = request.scope.get("state", {}).get("person")
    if person is not None:
        return str(person.name)
    phones: PhoneAccess | None = getattr(request.app.state, "phones", None)
    # at the computer itself a phone's secret means nothing
    if phones is None or not request.app.state.gated:
        return ""
    return phones.pairing.label(session_of(request.headers))
