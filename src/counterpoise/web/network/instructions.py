"""In plain words: how a phone comes to trust the workshop's pages, and how it forgets them.

The menus of phones are from memory; they differ from version to version.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.web.network.access import PhoneAccess

WHY = (
    "Browsers give the motion sensor only to pages that come over a protected line. For that the"
    " phone must trust this workshop's own root certificate. It does so once; nobody else is asked,"
    " and nothing leaves the workshop's network."
)
MEANS = (
    "The root may vouch for addresses inside a local network and for this computer's name only, and"
    " says so itself; a phone that does not heed such limits would believe more. Its key lies on"
    " the workshop's computer, readable by its user alone. Use it on the workshop's phones, and"
    " take it off a phone that leaves."
)
# The makers move this menu about; where it is not found, the phone's own search for "certificate"
# leads there. From memory.
_DEEP = "Security, More security settings, Encryption and credentials"
TRUST = {
    "iOS": (
        (
            "Open the address in the phone's own browser and press Fetch the root certificate."
            " Allow the profile."
        ),
        (
            "Settings, General, VPN and device management: open the profile and install it."
            " Compare the fingerprint there."
        ),
        "Settings, General, About, Certificate trust settings: switch the workshop root on.",
    ),
    "Android": (
        "Press Fetch the root certificate. The file lands among the downloads.",
        f"Settings, {_DEEP}, Install a certificate, CA certificate.",
        (
            "The phone warns that such a root could be used to listen in: true of any."
            " Install anyway, pick the file."
        ),
        "Same place, Trusted credentials, User: open it and compare the fingerprint.",
    ),
}
FORGET = {
    "iOS": (
        (
            "Settings, General, VPN and device management: open the workshop root"
            " and remove the profile."
        ),
    ),
    "Android": (
        f"Settings, {_DEEP}, Trusted credentials, User: open the workshop root and remove it.",
    ),
}


@dataclass(frozen=True, slots=True)
class PhoneSheet:
    """What to know before a phone is used.

    Where not ``ready``, ``how`` says how to start the pages. ``fingerprint`` is the SHA-256 of the
    root certificate, ``leaf_until`` the day (ISO 8601) the pages' own certificate ends; both are
    empty where no phone can come.
    """

    ready: bool
    how: str
    address: str
    trust_address: str
    fingerprint: str
    leaf_until: str
    why: str
    means: str
    trust: dict[str, tuple[str, ...]]
    forget: dict[str, tuple[str, ...]]


def phone_sheet(phones: PhoneAccess | None) -> PhoneSheet:
    """What to know before a phone is used; None where the pages were started without phones."""
    how = "" if phones else "Stop the pages and start them with: counterpoise serve --phone"
    return PhoneSheet(
        ready=phones is not None,
        how=how,
        address=phones.pairing.origin if phones else "",
        trust_address=phones.trust_address if phones else "",
        fingerprint=phones.identity.fingerprint if phones else "",
        leaf_until=f"{phones.identity.until:%Y-%m-%d}" if phones else "",
        why=WHY, means=MEANS, trust=dict(TRUST), forget=dict(FORGET),
    )  # fmt: skip


def picture(address: str) -> str:
    """An address as a QR code (SVG), in a data address for a page."""
    import segno

    # Error correction M: a screen is scanned at an angle, with greasy glass before it.
    drawn: str = segno.make(address, error="m").svg_data_uri(
        scale=5, border=4, dark="#14171a", light="#ffffff"
    )
    return drawn


def printed(address: str) -> str:
    """An address as a QR code for a terminal, two modules a character."""
    import io

    import segno

    out = io.StringIO()
    # The least correction gives the fewest modules: a terminal has few lines, and is never
    # greasy.
    segno.make(address, error="l").terminal(out=out, compact=True, border=2)
    return out.getvalue()
