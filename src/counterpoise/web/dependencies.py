"""The workshop behind a request."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from counterpoise.workshop.services.workshop import Workshop


def _workshop(request: Request) -> Workshop:
    # In the application's state and not in a global: tests and the phones' port have one of their
    # own.
    workshop: Workshop = request.app.state.workshop
    return workshop


# Routes declare it, so that none can forget which workshop it speaks for.
WorkshopDep = Annotated[Workshop, Depends(_workshop)]
