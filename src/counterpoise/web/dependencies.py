"""The desk behind a request."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from counterpoise.workshop.services.workshop import Desk


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


AtDesk = Annotated[Desk, Depends(_desk)]
