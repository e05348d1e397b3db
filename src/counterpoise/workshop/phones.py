"""How phones reach the pages, all in one."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.workshop.door import Door
from counterpoise.workshop.lan import Names
from counterpoise.workshop.trust import Identity


@dataclass(frozen=True, slots=True)
class Phones:
    """The root and leaf, the door, this computer's names, and the address (plain line) at which the root is fetched."""

    identity: Identity
    door: Door
    names: Names
    trust_address: str
