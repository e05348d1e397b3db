"""A root of our own, and the certificate under which phones reach the pages.

Both are kept in a folder, and made when missing. The root can vouch for local addresses and this
computer's own names only (name constraints, RFC 5280, 4.2.1.10), where a phone heeds them. The leaf
runs for less than 398 days and is made anew when the address changes or its end is near.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from counterpoise.errors import InputError
from counterpoise.web.network.addresses import LOCAL_NETWORKS

if TYPE_CHECKING:
    from counterpoise.web.network.addresses import Names

# Every phone trusts the root by hand, so it lasts as long as the phones do; common practice.
ROOT_YEARS = 10
# Browsers refuse leaves of more than 398 days (their published root policies); a day to spare,
# and renewed a month ahead so that a workshop that shuts for a while is not locked out.
LEAF_DAYS = 397
RENEW_DAYS = 30
_DAY = timedelta(days=1)
# Whoever reads the root's key could pose as the workshop to its phones.
_HIDDEN = 0o600


@dataclass(frozen=True, slots=True)
class Identity:
    """The root as phones fetch it (DER), its fingerprint, and the files of the leaf (PEM).

    ``fingerprint`` is the SHA-256 in groups of four hexadecimal digits, as phones show it;
    ``until`` (UTC) is when the leaf ends.
    """

    root_der: bytes
    fingerprint: str
    certificate: Path
    key: Path
    until: datetime


@dataclass(frozen=True, slots=True)
# Kept together from the start: a key without its certificate serves nobody.
class _Pair:
    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate


def identity(folder: Path, names: Names, now: datetime | None = None) -> Identity:
    """Return the identity kept in the folder; what is missing or near its end is made anew.

    So is a leaf for another address. ``now`` is UTC. Raises InputError where the folder cannot be
    written, or a root lies there damaged or half of it is gone.
    """
    now = now or datetime.now(UTC)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        root, leaf = _kept(folder, "root"), None
        if root is None or root.certificate.not_valid_after_utc < now + RENEW_DAYS * _DAY:
            root = _write(folder, "root", _root(names, now))
        # Unlike a damaged root, which every phone would have to trust anew: that is asked about
        # first.
        with contextlib.suppress(
            InputError
        ):  # a leaf costs nobody anything: a damaged one is made anew
            leaf = _kept(folder, "leaf")
        if leaf is None or not _serves(leaf, root, names, now):
            leaf = _write(folder, "leaf", _leaf(root, names, now))
    except OSError as error:
        raise InputError(
            f"The keys in {folder} cannot be kept: {error.strerror}", field="keys"
        ) from error
    der = root.certificate.public_bytes(serialization.Encoding.DER)
    said = root.certificate.fingerprint(hashes.SHA256()).hex().upper()
    # Read aloud and compared by eye, from screen to phone: groups of four are how phones show it.
    words = " ".join(said[at : at + 4] for at in range(0, len(said), 4))
    return Identity(
        der, words, folder / "leaf.crt", folder / "leaf.key", leaf.certificate.not_valid_after_utc
    )


# --- making ---


def _root(names: Names, now: datetime) -> _Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    who = _called(f"Counterpoise workshop root, made {now:%Y-%m-%d}")
    made = (
        _begun(who, who, key.public_key(), now - _DAY, now + timedelta(days=365 * ROOT_YEARS))
        # path_length 0: the root may sign leaves, not other authorities.
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        # Critical, so that a phone which does not know the limits refuses the root instead of
        # believing it for any site.
        .add_extension(x509.NameConstraints(_allowed(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return _Pair(key, made.sign(key, hashes.SHA256()))


def _allowed(names: Names) -> list[x509.GeneralName]:
    hosts: list[x509.GeneralName] = [x509.DNSName(host) for host in (*names.hosts, "localhost")]
    return hosts + [x509.IPAddress(network) for network in LOCAL_NETWORKS]


def _leaf(root: _Pair, names: Names, now: datetime) -> _Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    # A day back: the clock of a phone may be behind that of the computer.
    begin = now - _DAY
    # A leaf that outlives its root is refused by phones long before its own end.
    end = min(begin + LEAF_DAYS * _DAY, root.certificate.not_valid_after_utc)
    issuer = root.certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    made = (
        _begun(
            _called("Counterpoise workshop pages"),
            root.certificate.subject,
            key.public_key(),
            begin,
            end,
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        # Phones refuse a server's leaf without this purpose, and without the names below: the
        # common name has not been looked at for years (RFC 6125).
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        # Not critical, for the subject is not empty (RFC 5280, 4.2.1.6).
        .add_extension(x509.SubjectAlternativeName(_wanted(root, names)), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(issuer), critical=False
        )
    )
    return _Pair(key, made.sign(root.key, hashes.SHA256()))


# What root and leaf have in common; what one of them must not have is added where it is made.
def _begun(
    who: x509.Name, by: x509.Name, key: ec.EllipticCurvePublicKey, begin: datetime, end: datetime
) -> x509.CertificateBuilder:
    started = x509.CertificateBuilder().subject_name(who).issuer_name(by).public_key(key)
    return (
        started.serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(end)
    )


def _called(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates, key_cert_sign=signs_certificates,
        crl_sign=signs_certificates, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _wanted(root: _Pair, names: Names) -> list[x509.GeneralName]:
    """The names the leaf must carry.

    A host that came after the root was made is beyond what the root may vouch for.
    """
    limits = root.certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    # The name constraints of the root hold for the leaf: a name outside makes phones refuse all
    # of it.
    known = {
        each.value for each in limits.permitted_subtrees or [] if isinstance(each, x509.DNSName)
    }
    hosts: list[x509.GeneralName] = [x509.DNSName(host) for host in names.hosts if host in known]
    return [*hosts, x509.IPAddress(names.address)]


# --- keeping ---


def _serves(leaf: _Pair, root: _Pair, names: Names, now: datetime) -> bool:
    certificate = leaf.certificate
    try:
        certificate.verify_directly_issued_by(root.certificate)
        carried = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return False
    # Renewed early, while the old one still works, so that no phone meets an ended one.
    in_time = (
        certificate.not_valid_before_utc
        <= now
        <= certificate.not_valid_after_utc - RENEW_DAYS * _DAY
    )
    return in_time and set(_wanted(root, names)) <= set(carried)


def _kept(folder: Path, name: str) -> _Pair | None:
    """Read a key and its certificate; None where there are none yet.

    Raises InputError where they are damaged, or one of the two is gone.
    """
    key_file, certificate_file = folder / f"{name}.key", folder / f"{name}.crt"
    there = [each for each in (key_file, certificate_file) if each.exists()]
    if not there:
        return None
    if len(there) == 1:
        raise _half(folder, name, there[0].name)
    # A copy from a backup may have come back readable by everybody.
    key_file.chmod(_HIDDEN)
    try:
        key = serialization.load_pem_private_key(key_file.read_bytes(), password=None)
        certificate = x509.load_pem_x509_certificate(certificate_file.read_bytes())
    except (ValueError, TypeError) as error:
        raise _damaged(folder, name) from error
    if (
        # A pair put together from two folders reads well and fails at the first handshake.
        not isinstance(key, ec.EllipticCurvePrivateKey)
        or key.public_key() != certificate.public_key()
    ):
        raise _damaged(folder, name)
    return _Pair(key, certificate)


def _half(folder: Path, name: str, kept: str) -> InputError:
    # A new root in silence would turn away every phone that trusts the old one.
    lost = f"{name}.crt" if kept.endswith(".key") else f"{name}.key"
    return InputError(
        f"Of {name}.key and {name}.crt in {folder} only {kept} is left",
        field="keys",
        remedy=f"Bring {lost} back from a backup. Or move {kept} away: then a new root is made,"
        " which every phone must trust anew.",
    )


def _damaged(folder: Path, name: str) -> InputError:
    return InputError(
        f"{name}.key and {name}.crt in {folder} are damaged or do not belong together",
        field="keys",
        remedy="Move both files away; new ones are made."
        " A new root must be trusted anew by every phone.",
    )


def _write(folder: Path, name: str, pair: _Pair) -> _Pair:
    # A password would have to lie beside it: the pages start without anybody to type it.
    plain = serialization.NoEncryption()
    # The form that Python's ssl, hence the server, reads for elliptic curves of any kind.
    form = serialization.PrivateFormat.PKCS8
    _put(
        folder / f"{name}.key",
        pair.key.private_bytes(serialization.Encoding.PEM, form, plain),
        _HIDDEN,
    )
    _put(folder / f"{name}.crt", pair.certificate.public_bytes(serialization.Encoding.PEM), 0o644)
    return pair


def _put(path: Path, data: bytes, mode: int) -> None:
    """Write a file whole or not at all; nobody else can read it for a moment either."""
    # Written beside and then renamed: a program killed halfway leaves the old file, never half a
    # key.
    beside = path.with_suffix(path.suffix + ".new")
    with contextlib.suppress(FileNotFoundError):
        beside.unlink()
    # The mode is set as the file is made: a chmod afterwards would leave a moment in which
    # anybody can open it. O_EXCL refuses a link that somebody laid there.
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
    beside.replace(path)
