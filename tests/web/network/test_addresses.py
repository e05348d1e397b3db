"""Where this computer is found in the workshop's network, and what is never taken for it."""

import ipaddress
import socket

import pytest

from counterpoise.errors import InputError
from counterpoise.web.network import addresses
from counterpoise.web.network.addresses import LOCAL_NETWORKS, Names, network_names


def named(monkeypatch, name, address="192.168.7.20"):
    monkeypatch.setattr(socket, "gethostname", lambda: name)
    return network_names(address).hosts


@pytest.mark.parametrize(
    "address",
    ["10.0.0.1", "172.16.0.1", "172.31.255.254", "192.168.1.20", "169.254.9.9", "127.0.0.1",
     "fd00::1", "fe80::1", "::1"],
)  # fmt: skip
def test_a_local_address_is_taken_as_it_is(address):
    assert network_names(address).address == ipaddress.ip_address(address)


@pytest.mark.parametrize(
    "address",
    ["8.8.8.8", "172.15.0.1", "172.32.0.1", "192.169.0.1", "2001:db8::1", "192.0.2.1", "0.0.0.0"],
)  # fmt: skip
def test_an_address_of_the_open_network_is_refused(address):
    with pytest.raises(InputError, match="no address of a local network") as refused:
        network_names(address)
    assert refused.value.field == "host"
    assert "--host 192.168.1.20" in refused.value.remedy


@pytest.mark.parametrize("address", ["bench", "192.168.1", "192.168.1.256", "1", "::g", " "])
def test_what_is_no_address_is_refused(address):
    with pytest.raises(InputError, match="is not an address"):
        network_names(address)


def test_the_name_stands_with_and_without_local(monkeypatch):
    assert named(monkeypatch, "Bench") == ("bench", "bench.local")
    assert named(monkeypatch, "bench.local") == ("bench.local",)


@pytest.mark.parametrize("name", ["", "bänch", "ben ch", "bench_1", "bench/x"])
def test_a_name_that_no_certificate_can_carry_is_left_out(monkeypatch, name):
    assert named(monkeypatch, name) == ()


def test_in_the_address_line_names_stand_without_brackets():
    names = Names(ipaddress.ip_address("fd00::1"), ("bench",))
    assert names.in_address_line == {"fd00::1", "bench"}


def test_a_computer_in_no_network_says_so(monkeypatch):
    class Nowhere:
        def __init__(self, *_):
            pass

        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def connect(self, _):
            raise OSError("Network is unreachable")

    monkeypatch.setattr(addresses.socket, "socket", Nowhere)
    with pytest.raises(InputError, match="in no network") as refused:
        network_names()
    assert refused.value.field == "host"


def test_no_local_network_reaches_into_the_open_one():
    for network in LOCAL_NETWORKS:
        assert not network.network_address.is_global
        assert not network.broadcast_address.is_global
