"""The kinds of machines, and where each is from."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.render import page
from counterpoise.workshop.services.own_families.listing import KnownFamily, known_families

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["families"])


@pages.get("/families", include_in_schema=False)
def families_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show the kinds of machines, the broken ones too. Raises StoreError."""
    catalog = workshop.families.catalog
    return page(
        request,
        "workshop/known_families.html",
        settings=workshop.settings(),
        families=known_families(workshop.families),
        # Without a folder the families were handed in, and nobody can add to them.
        folder=str(catalog.folder) if catalog and catalog.folder else "",
    )


@api.get("/families")
def families(workshop: WorkshopDep) -> list[KnownFamily]:
    """The families by id, with where each is from, and what is wrong with a broken one."""
    return list(known_families(workshop.families))
