"""What a phone keeps of these pages while there is no line."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from counterpoise.web.render import page

pages = APIRouter()
# what a browser keeps is its own affair: the workshop does not know it
api = APIRouter(prefix="/api", tags=["phone"])


@pages.get("/kept", include_in_schema=False)
def kept_page(request: Request) -> Response:
    """Show what this browser keeps; a phone shows it too where a page cannot be had."""
    return page(request, "workshop/kept.html")
