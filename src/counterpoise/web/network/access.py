"""How phones reach the pages, all in one."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.web.network.addresses import Names
from counterpoise.web.network.certificates import Identity
from counterpoise.web.network.pairing import Pairing


@dataclass(frozen=True, slots=True)
class PhoneAccess:
    """The root and leaf, the door, this computer's names, and the address (plain line) at which the root is fetched."""

    identity: Identity
    pairing: Pairing
    names: Names
    trust_address: str
