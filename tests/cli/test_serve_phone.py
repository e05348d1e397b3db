"""``serve --phone`` as a whole process: three addresses, a chain that verifies, a code that lets in, a clean end."""

import http.client
import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import urllib.request
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

pytestmark = pytest.mark.slow
WORDS = [
    "-m",
    "counterpoise",
    "serve",
    "--demo",
    "--phone",
    "--host",
    "127.0.0.2",
    "--port",
    "0",
    "--json",
]


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    folder = tmp_path_factory.mktemp("workshop")
    surroundings = os.environ | {
        "PYTHONPATH": os.pathsep.join(sys.path),
        "COUNTERPOISE_STORE": str(folder / "demo.sqlite3"),
    }
    process = subprocess.Popen(
        [sys.executable, *WORDS], stdout=subprocess.PIPE, text=True, env=surroundings
    )
    yield json.loads(process.stdout.readline()), folder
    process.send_signal(signal.SIGINT)
    process.stdout.close()
    assert process.wait(60) == 0


@pytest.fixture(scope="module")
def trusting(running):
    with urllib.request.urlopen(running[0]["trust"] + "/root.crt") as answer:
        return ssl.create_default_context(cadata=answer.read())


def asked(address, path, trusting, method="GET", cookie="", body=None):
    line = http.client.HTTPSConnection(
        urlsplit(address).hostname, urlsplit(address).port, context=trusting
    )
    headers = {"cookie": cookie} if cookie else {}
    line.request(method, path, body, headers)
    answer = line.getresponse()
    text = answer.read().decode()
    line.close()
    return answer, text


def test_this_computer_needs_no_code(running):
    with urllib.request.urlopen(running[0]["address"] + "/jobs") as answer:
        assert "The Back Bench" in answer.read().decode()


def test_the_chain_verifies_with_the_fetched_root_and_not_without(running, trusting):
    answer, text = asked(running[0]["phone"], "/jobs", trusting)
    assert answer.status == 401
    assert "has not been let in" in text
    with pytest.raises(ssl.SSLCertVerificationError):
        asked(running[0]["phone"], "/jobs", ssl.create_default_context())
    place = urlsplit(running[0]["phone"])
    with socket.create_connection((place.hostname, place.port)) as raw:  # noqa: SIM117  # the handshake alone may fail
        with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
            trusting.wrap_socket(raw, server_hostname="127.0.0.3")


def test_the_code_lets_in_once(running, trusting):
    path = urlsplit(running[0]["code"]).path
    answer, _ = asked(running[0]["phone"], path, trusting)
    assert (answer.status, answer.getheader("location")) == (303, "/jobs")
    cookie = answer.getheader("set-cookie").split(";")[0]
    assert asked(running[0]["phone"], "/jobs", trusting, cookie=cookie)[0].status == 200
    assert asked(running[0]["phone"], path, trusting)[0].status == 403


def test_the_keys_lie_beside_the_store_and_are_its_owners(running):
    told, folder = running
    assert told["keys"] == str(folder / "counterpoise-keys")
    assert (folder / "counterpoise-keys" / "root.key").stat().st_mode & 0o777 == 0o600


def test_an_address_of_the_open_network_is_refused(tmp_path):
    words = ["serve", "--store", str(tmp_path / "a.db"), "--phone", "--host", "8.8.8.8"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "no address of a local network" in result.output
    assert not (tmp_path / "counterpoise-keys").exists()
