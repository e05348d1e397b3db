"""Killed at any moment, the store holds all that it acknowledged; two writers neither lose nor double an entry."""

import os
import signal
import sqlite3
import subprocess
import sys

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.workshop.small import INTAKE

from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.store.store import Store

ROUNDS = 12
_WRITE = """
import sys
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.jobs.entries import Note
who = sys.argv[2]
with Store(sys.argv[1]) as store:
    for count in range(int(sys.argv[3])):
        entry = store.jobs.append(1, Note(f"{who} {count} " + "x" * 3000), by=who)
        print(entry.number, flush=True)
"""


def _writer(path, who, count=1_000_000):
    command = [sys.executable, "-c", _WRITE, str(path), who, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def _sound(path):
    with sqlite3.connect(path) as raw:
        answer = (
            raw.execute("PRAGMA integrity_check").fetchone()[0],
            raw.execute("PRAGMA foreign_key_check").fetchall(),
        )
    raw.close()
    return answer == ("ok", [])


@pytest.mark.slow
@given(after=st.integers(1, 60), delay=st.floats(0, 0.004))
@settings(
    max_examples=ROUNDS, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
def test_what_was_acknowledged_survives_a_kill(tmp_path_factory, after, delay):
    """The writer is killed a hair after its ``after``-th acknowledgement, wherever it then is."""
    path = tmp_path_factory.mktemp("killed") / "workshop.db"
    with Store(path) as store:
        store.jobs.open(INTAKE)
    writer = _writer(path, "writer")
    acknowledged = [int(writer.stdout.readline()) for _ in range(after)]
    signal.sigtimedwait([], delay)
    os.kill(writer.pid, signal.SIGKILL)
    acknowledged += [int(line) for line in writer.communicate()[0].splitlines() if line]
    assert writer.returncode == -signal.SIGKILL
    with Store(path) as store:
        numbers = [entry.number for entry in store.jobs.get(1).entries]
        assert set(acknowledged) <= set(numbers)
        assert len(numbers) - 1 - len(acknowledged) in {
            0,
            1,
        }  # at most the one written but not yet told
        assert store.jobs.append(1, Note("goes on")).number == numbers[-1] + 1
    assert _sound(path)


def test_two_processes_writing_to_one_job_lose_and_double_nothing(tmp_path):
    path = tmp_path / "workshop.db"
    with Store(path) as store:
        store.jobs.open(INTAKE)
    writers = [_writer(path, who, 60) for who in ("one", "two")]
    told = [[int(line) for line in writer.communicate(timeout=60)[0].split()] for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    with Store(path) as store:
        entries = store.jobs.get(1).entries
    assert (
        sorted(told[0] + told[1]) == [entry.number for entry in entries[1:]] == list(range(2, 122))
    )
    for who, numbers in zip(("one", "two"), told, strict=True):
        mine = [entry for entry in entries if entry.by == who]
        assert [entry.number for entry in mine] == numbers
        assert [entry.body.text.split()[1] for entry in mine] == [str(count) for count in range(60)]
    assert _sound(path)


def test_threads_may_share_a_store(store):
    from concurrent.futures import ThreadPoolExecutor

    number = store.jobs.open(INTAKE).number
    with ThreadPoolExecutor(4) as pool:
        numbers = list(
            pool.map(lambda count: store.jobs.append(number, Note(str(count))).number, range(40))
        )
    assert sorted(numbers) == list(range(2, 42))
