"""Whether the pages answer and the store can be read, for whoever watches over the computer."""

from __future__ import annotations

import logging
from dataclasses import asdict, dataclass
from importlib.metadata import version
from typing import Literal

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from counterpoise.errors import StoreError
from counterpoise.web.dependencies import WorkshopDep

pages = APIRouter()  # it has no page: only programs ask
api = APIRouter(tags=["health"])
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Health:
    """The version of the program, and whether the store behind it can be read."""

    version: str
    store: Literal["ready", "unavailable"]


# by custom programs that watch look for /health, so it does not stand under /api as the twins of
# pages do
@api.get("/health", response_model=Health, responses={503: {"model": Health}})
def health(workshop: WorkshopDep) -> Response:
    """The version, and 200 where the store can be read; (503) where it cannot."""
    try:
        # The smallest read there is: one table of a few rows, and it takes a transaction like any
        # other.
        workshop.settings()
    except StoreError as error:
        # the path of the store is the terminal's to know, not the network's
        _log.error("store: %s", error)
        return JSONResponse(asdict(Health(version("counterpoise"), "unavailable")), 503)
    return JSONResponse(asdict(Health(version("counterpoise"), "ready")))
