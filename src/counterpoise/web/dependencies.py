"""The workshop behind a request."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from counterpoise.workshop.services.workshop import Workshop


def _workshop(request: Request) -> Workshop:
    workshop: Workshop = request.app.state.workshop
    return workshop


WorkshopDep = Annotated[Workshop, Depends(_workshop)]
