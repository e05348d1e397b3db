"""Three writers with keys, killed again and again, and the server too: nothing lost, nothing written twice."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]


@pytest.mark.slow
@pytest.mark.parametrize(
    "where", [(), ("--store", "server", "--crash-every", "8")], ids=["file", "server"]
)
def test_what_was_acknowledged_is_there_once(where):
    command = [sys.executable, "-m", "benchmarks.kills", "--kills", "20", *where]
    done = subprocess.run(
        command, check=False, cwd=ROOT, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    figures = json.loads(done.stdout)
    assert (figures["kills"], figures["lost"], figures["twice"], figures["halves"]) == (20, 0, 0, 0)
    # each kill came after an answer of the writer that was killed
    assert figures["acknowledged"] >= 20
    assert 0 <= figures["unanswered"] <= 3
