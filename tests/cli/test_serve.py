import json
import os
import signal
import socket
import subprocess
import sys
import urllib.request

import pytest
from click.testing import CliRunner

from counterpoise.cli import main
from counterpoise.workshop.store.store import Store


def test_a_port_in_use_is_said_in_words(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        words = ["serve", "--store", str(tmp_path / "a.db"), "--port", str(port)]
        result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "--port 0" in result.output


@pytest.mark.slow
def test_the_demo_workshop_is_served_and_left_as_it_is(tmp_path):
    where = tmp_path / "demo.sqlite3"
    for _ in range(2):
        with _serving(where) as address:
            with urllib.request.urlopen(f"{address}/jobs") as answer:
                page = answer.read().decode()
            assert "The Back Bench" in page
        with Store(where) as store:
            assert len(store.jobs.lines()) >= 12


class _serving:  # noqa: N801  # reads as a word in a with statement
    def __init__(self, where):
        self.where = where

    def __enter__(self):
        command = [sys.executable, "-m", "counterpoise", "serve", "--demo", "--port", "0", "--json"]
        surroundings = os.environ | {
            "PYTHONPATH": os.pathsep.join(sys.path),
            "COUNTERPOISE_STORE": str(self.where),
        }
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, env=surroundings
        )
        return json.loads(self.process.stdout.readline())["address"]

    def __exit__(self, *_):
        self.process.send_signal(signal.SIGINT)
        self.process.stdout.close()
        self.process.wait(60)
