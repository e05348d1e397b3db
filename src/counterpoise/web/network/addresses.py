"""Where this computer is found in the workshop's own network."""

from __future__ import annotations

import ipaddress
import socket
from dataclasses import dataclass

from counterpoise.errors import InputError

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network
# Addresses that are never routed in the open network: RFC 1918, RFC 3927, RFC 4193, RFC 4291, and
# the loopback.
LOCAL_NETWORKS: tuple[Network, ...] = tuple(
    ipaddress.ip_network(each)
    for each in (
        "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
        "fc00::/7", "fe80::/10", "::1/128",
    )
)  # fmt: skip
_NOWHERE = (
    "192.0.2.1",
    9,
)  # RFC 5737: belongs to nobody; nothing is sent there, it only picks the way out


@dataclass(frozen=True, slots=True)
class Names:
    """What this computer is called in its network.

    ``address`` is the one phones use, ``hosts`` are names that may lead there; empty where the
    computer's own name is not plain ASCII.
    """

    address: Address
    hosts: tuple[str, ...]

    @property
    def in_address_line(self) -> frozenset[str]:
        """All of them as they stand in a browser's line, lower case, without brackets (IPv6)."""
        return frozenset({str(self.address), *self.hosts})


def network_names(address: str = "") -> Names:
    """Return the names of this computer; ``address`` where it has several, empty to find it out.

    Raises InputError where it is no address of a local network, or the computer is in none.
    """
    host = socket.gethostname().lower()
    # A name with other letters cannot stand in a certificate as it is, and phones could not type
    # it.
    plain = (
        bool(host) and host.isascii() and all(letter.isalnum() or letter in "-." for letter in host)
    )
    hosts = (
        # Multicast DNS answers to NAME.local without any server (RFC 6762); most phones know it.
        tuple(dict.fromkeys((host, host if host.endswith(".local") else f"{host}.local")))
        if plain
        else ()
    )
    return Names(_local(address or _way_out()), hosts)


def _local(text: str) -> Address:
    remedy = (
        "Give the address that this computer has in the workshop's network, like"
        " --host 192.168.1.20."
    )
    try:
        address = ipaddress.ip_address(text)
    except ValueError as error:
        raise InputError(
            f"host: {text!r} is not an address", field="host", remedy=remedy
        ) from error
    # A public address would put the workshop's jobs before the whole network; nobody means that.
    if not any(
        address in network for network in LOCAL_NETWORKS if network.version == address.version
    ):
        raise InputError(
            f"host: {text} is no address of a local network", field="host", remedy=remedy
        )
    return address


def _way_out() -> str:
    """Return the address under which this computer would speak to others."""
    # Connecting a datagram socket sends nothing: the system only picks the interface, and its
    # address is the one phones on that network can reach.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
            return str(probe.getsockname()[0])
        except OSError as error:
            raise InputError(
                "This computer is in no network, so no phone can reach it",
                field="host",
                remedy="Join the workshop's network, or give this computer's address in it with"
                " --host.",
            ) from error
