"""A family as the room of recordings knows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.spin.kind import Kind
from counterpoise.workshop.jobs.in_motion import no_cause

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family


def kind_of(family: Family) -> Kind:
    """How fast machines of a family turn, and why a recording of one names no cause, if so."""
    return Kind(family.body.top_rpm, family.body.spins, no_cause(family))
