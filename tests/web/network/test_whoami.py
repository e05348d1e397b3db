"""Who asks is the person signed in, else the phone, else nobody in particular."""

from types import SimpleNamespace

import pytest
from fastapi import Request

from counterpoise.web.network.pairing import COOKIE, Pairing
from counterpoise.web.network.whoami import who


@pytest.fixture
def pairing():
    return Pairing("https://192.168.7.20:8643")


def asked(pairing, secret, *, gated=True, person=None):
    app = SimpleNamespace(
        state=SimpleNamespace(phones=SimpleNamespace(pairing=pairing), gated=gated)
    )
    headers = [(b"cookie", f"{COOKIE}={secret}".encode())]
    state = {} if person is None else {"person": SimpleNamespace(name=person)}
    return who(Request({"type": "http", "headers": headers, "app": app, "state": state}))


def test_a_person_goes_before_the_phone_and_a_phone_before_nobody(pairing):
    secret = pairing.redeem(pairing.new_code("/jobs").rsplit("/", 1)[1]).session
    assert asked(pairing, secret) == "Phone 1"
    assert asked(pairing, secret, person="Ada") == "Ada"
    assert asked(pairing, "made up") == ""
    assert asked(pairing, secret, gated=False) == ""
