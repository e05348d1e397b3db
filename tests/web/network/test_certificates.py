"""The root and the leaf: what Python's own TLS makes of them, what they may vouch for, when they are made anew."""

import ipaddress
import ssl
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization

from counterpoise.errors import InputError
from counterpoise.web.network.addresses import Names, network_names
from counterpoise.web.network.certificates import LEAF_DAYS, _kept, _leaf, _Pair, _write, identity

NOW = datetime.now(UTC).replace(microsecond=0)  # Python's TLS judges by the clock of the machine
HERE = Names(ipaddress.ip_address("192.168.7.20"), ("bench", "bench.local"))
THERE = Names(ipaddress.ip_address("10.1.2.3"), ("bench", "bench.local"))


def trusting(known):
    return ssl.create_default_context(cadata=known.root_der)


def shake_hands(known, name, trusted=None):
    """A whole TLS handshake in memory; raises what a client would."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(known.certificate, known.key)
    to_client, to_server = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = (trusted or trusting(known)).wrap_bio(to_client, to_server, server_hostname=name)
    server = serving.wrap_bio(to_server, to_client, server_side=True)
    open_ends = [client, server]
    for _ in range(10):
        for end in list(open_ends):
            try:
                end.do_handshake()
                open_ends.remove(end)
            except ssl.SSLWantReadError:
                pass
    assert not open_ends
    return client.getpeercert()


@pytest.mark.parametrize("name", ["192.168.7.20", "bench", "bench.local"])
def test_the_chain_verifies_under_each_of_its_names(tmp_path, name):
    told = shake_hands(identity(tmp_path / "keys", HERE, NOW), name)
    assert ("IP Address", "192.168.7.20") in told["subjectAltName"]


@pytest.mark.parametrize("name", ["192.168.7.21", "other.local", "counterpoise.example"])
def test_it_does_not_under_another(tmp_path, name):
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(identity(tmp_path / "keys", HERE, NOW), name)


def test_who_does_not_trust_the_root_does_not_trust_the_leaf(tmp_path):
    other = identity(tmp_path / "other", HERE, NOW)
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(identity(tmp_path / "keys", HERE, NOW), "bench", trusting(other))
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(other, "bench", ssl.create_default_context())


ELSEWHERE = (x509.DNSName("counterpoise.example"), x509.IPAddress(ipaddress.ip_address("8.8.8.8")))


@pytest.mark.parametrize("beyond", ELSEWHERE)
def test_the_root_can_vouch_for_nothing_in_the_open_network(tmp_path, beyond):
    """Somebody who stole the root's key signs a leaf for a site elsewhere: its limits make that worthless."""
    known = identity(tmp_path / "keys", HERE, NOW)
    root = _kept(tmp_path / "keys", "root")
    honest = _leaf(root, HERE, NOW)
    forged = (
        x509.CertificateBuilder()
        .subject_name(honest.certificate.subject).issuer_name(root.certificate.subject)
        .public_key(honest.key.public_key()).serial_number(7)
        .not_valid_before(NOW - timedelta(days=1)).not_valid_after(NOW + timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName([beyond]), critical=False)
        .add_extension(honest.certificate.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value, False)
    )  # fmt: skip
    _write(tmp_path / "keys", "leaf", _Pair(honest.key, forged.sign(root.key, hashes.SHA256())))
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shake_hands(known, str(beyond.value))


def test_keys_are_for_the_owner_alone(tmp_path):
    identity(tmp_path / "keys", HERE, NOW)
    modes = {path.name: path.stat().st_mode & 0o777 for path in (tmp_path / "keys").iterdir()}
    assert modes == {"root.key": 0o600, "root.crt": 0o644, "leaf.key": 0o600, "leaf.crt": 0o644}
    assert (tmp_path / "keys").stat().st_mode & 0o777 == 0o700
    (tmp_path / "keys" / "root.key").chmod(0o644)
    identity(tmp_path / "keys", HERE, NOW)
    assert (tmp_path / "keys" / "root.key").stat().st_mode & 0o777 == 0o600


def leaf_of(known):
    return x509.load_pem_x509_certificate(known.certificate.read_bytes())


def test_the_leaf_runs_for_less_than_398_days(tmp_path):
    leaf = leaf_of(identity(tmp_path / "keys", HERE, NOW))
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=LEAF_DAYS)
    assert LEAF_DAYS < 398
    limits = leaf.extensions.get_extension_for_class(x509.BasicConstraints)
    assert limits.critical
    assert not limits.value.ca


def test_the_next_start_finds_what_was_made(tmp_path):
    first = identity(tmp_path / "keys", HERE, NOW)
    before = first.certificate.read_bytes()
    second = identity(tmp_path / "keys", HERE, NOW + timedelta(days=300))
    assert second == first
    assert second.certificate.read_bytes() == before


@pytest.mark.parametrize(("names", "days"), [(THERE, 1), (HERE, 380), (HERE, 900)])
def test_a_new_address_or_a_near_end_makes_a_new_leaf_under_the_same_root(tmp_path, names, days):
    first = identity(tmp_path / "keys", HERE, NOW)
    before = leaf_of(first)
    second = identity(tmp_path / "keys", names, NOW + timedelta(days=days))
    assert second.fingerprint == first.fingerprint
    assert leaf_of(second).serial_number != before.serial_number
    assert leaf_of(second).not_valid_after_utc > NOW + timedelta(days=days + 390)
    if names is THERE:
        shake_hands(second, "10.1.2.3", trusting(first))


def test_a_root_near_its_end_is_made_anew(tmp_path):
    first = identity(tmp_path / "keys", HERE, NOW - timedelta(days=3640))
    second = identity(tmp_path / "keys", HERE, NOW)
    assert second.fingerprint != first.fingerprint
    shake_hands(second, "bench")


def test_a_name_that_came_later_is_beyond_the_root_and_the_address_still_holds(tmp_path):
    identity(tmp_path / "keys", HERE, NOW)
    renamed = identity(tmp_path / "keys", Names(HERE.address, ("counter", "counter.local")), NOW)
    shake_hands(renamed, "192.168.7.20")
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(renamed, "counter")


def test_a_damaged_root_is_told_and_a_damaged_leaf_made_anew(tmp_path):
    known = identity(tmp_path / "keys", HERE, NOW)
    known.key.write_text("nothing")
    shake_hands(identity(tmp_path / "keys", HERE, NOW), "bench")
    (tmp_path / "keys" / "root.key").write_bytes(known.key.read_bytes())
    with pytest.raises(
        InputError, match=r"root.key and root.crt in .* do not belong together"
    ) as told:
        identity(tmp_path / "keys", HERE, NOW)
    assert "trusted anew" in told.value.remedy


def test_the_fingerprint_is_that_of_the_root(tmp_path):
    known = identity(tmp_path / "keys", HERE, NOW)
    digest = hashes.Hash(hashes.SHA256())
    digest.update(known.root_der)
    assert known.fingerprint.replace(" ", "").lower() == digest.finalize().hex()
    loaded = x509.load_der_x509_certificate(known.root_der)
    assert (
        loaded.public_bytes(serialization.Encoding.PEM)
        == (tmp_path / "keys" / "root.crt").read_bytes()
    )


@pytest.mark.parametrize(
    "address", ["8.8.8.8", "192.0.2.2", "2001:db8::1", "bench.local", "192.168.1", ""]
)
def test_only_addresses_of_a_local_network_are_served(address, monkeypatch):
    monkeypatch.setattr("counterpoise.web.network.addresses._way_out", lambda: "203.0.113.5")
    with pytest.raises(InputError, match="host: ") as told:
        network_names(address)
    assert "--host" in told.value.remedy


def test_this_computer_is_called_by_its_address_and_its_name(monkeypatch):
    monkeypatch.setattr("socket.gethostname", lambda: "Bench")
    assert network_names("192.168.7.20").in_address_line == {"192.168.7.20", "bench", "bench.local"}
    monkeypatch.setattr("socket.gethostname", lambda: "bänk <1>")
    assert network_names("fd00::5").in_address_line == {"fd00::5"}


@pytest.mark.parametrize("lost", ["root.key", "root.crt"])
def test_a_lost_half_of_the_root_is_said_and_no_new_root_is_made(tmp_path, lost):
    identity(tmp_path, HERE)
    kept = {each.name: each.read_bytes() for each in tmp_path.iterdir() if each.name != lost}
    (tmp_path / lost).unlink()
    with pytest.raises(InputError, match=rf"Bring {lost} back from a backup") as caught:
        identity(tmp_path, HERE)
    assert caught.value.field == "keys"
    assert {each.name: each.read_bytes() for each in tmp_path.iterdir()} == kept


def test_a_lost_half_of_the_leaf_costs_nobody_anything(tmp_path):
    root = identity(tmp_path, HERE).fingerprint
    (tmp_path / "leaf.key").unlink()
    assert identity(tmp_path, HERE).fingerprint == root
