"""How phones reach the pages, all in one."""

from __future__ import annotations

from dataclasses import dataclass, field

from counterpoise.web.network.addresses import Names
from counterpoise.web.network.certificates import Identity
from counterpoise.web.network.pairing import Pairing
from counterpoise.web.network.patience import Patience


@dataclass(frozen=True, slots=True)
class PhoneAccess:
    """The root and leaf, the pairing codes, this computer's names, and where the root is fetched.

    ``trust_address`` is plain HTTP: a phone that does not trust the root yet cannot come otherwise.
    ``patience`` counts wrong codes by the address they came from.
    """

    identity: Identity
    pairing: Pairing
    names: Names
    trust_address: str
    patience: Patience = field(default_factory=Patience)
