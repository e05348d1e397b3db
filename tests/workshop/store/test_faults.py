"""A full disk, a file that may only be read, a lock, damage: said in words, nothing half written."""

import itertools
import os
import sqlite3
import subprocess
import sys

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import StoreError
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.store import engine as opening
from counterpoise.workshop.store.store import Store

# A file that may grow no further: what a disk does that fills up while the program runs.
_GROWS_NO_FURTHER = """
import resource, signal, sys
from tests.workshop.small import INTAKE
from counterpoise.errors import StoreError
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.store.store import Store
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with Store(sys.argv[1]) as store:
    number = store.jobs.open(INTAKE).number
    resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, resource.RLIM_INFINITY))
    try:
        for count in range(400):
            store.jobs.append(number, Note("x" * 4000))
    except StoreError as error:
        print(count, error)
"""


def test_a_disk_that_fills_up_loses_nothing_that_was_acknowledged(tmp_path):
    command = [sys.executable, "-c", _GROWS_NO_FURTHER, str(tmp_path / "workshop.db")]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    written, _, words = said.partition(" ")
    assert "The store could not be written: the disk " in words
    assert "Nothing was changed" in words
    with Store(tmp_path / "workshop.db") as store:
        assert len(store.jobs.get(1).entries) == 1 + int(written)


def test_somebody_who_writes_for_long_is_no_trouble_with_the_disk(tmp_path, monkeypatch):
    monkeypatch.setattr(opening, "BUSY_SECONDS", 0.1)
    with Store(tmp_path / "workshop.db") as store:
        store.jobs.open(INTAKE)
        other = sqlite3.connect(tmp_path / "workshop.db", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="somebody else is writing") as caught:
            store.jobs.append(1, Note("not now"))
        assert "nothing is wrong with the disk" in caught.value.remedy
        # whoever only reads waits for nobody
        assert len(store.jobs.get(1).entries) == 1
        other.execute("ROLLBACK")
        other.close()
        assert store.jobs.append(1, Note("now")).number == 2


def test_the_same_on_a_server(server, monkeypatch):
    monkeypatch.setattr(opening, "_SESSION", ("SET lock_timeout = '100ms'",))
    address = server.database()
    with Store(address) as store, Store(address) as other:
        store.jobs.open(INTAKE)
        with (
            other.database.writing(),
            pytest.raises(StoreError, match="somebody else is writing"),
        ):
            store.jobs.append(1, Note("not now"))
        assert store.jobs.append(1, Note("now")).number == 2
    server.drop(address)


def test_a_store_that_may_only_be_read_is_said_and_read(sqlite_store):
    number = sqlite_store.jobs.open(INTAKE).number
    with sqlite_store.database.reading() as connection:
        connection.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match=r"may only be read here .*the right to write"):
        sqlite_store.jobs.append(number, Note("not here"))
    assert len(sqlite_store.jobs.get(number).entries) == 1


_AS_NOBODY = """
import os, sys
from counterpoise.errors import StoreError
from counterpoise.workshop.store.store import Store
Store(sys.argv[2]).close()  # loads all that only root may read here
os.setgroups([]); os.setgid(65534); os.setuid(65534)
try:
    Store(sys.argv[1])
except StoreError as error:
    print(error)
"""


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
@pytest.mark.parametrize("there", [True, False])
def test_a_folder_of_somebody_else_is_said_in_words(tmp_path, there):
    path = tmp_path / "kept" / "workshop.db"
    path.parent.mkdir()
    if there:
        Store(path).close()
    # every folder above can be walked through; this one and its file cannot be written
    for folder in (path.parent, *itertools.takewhile(lambda f: f.name != "tmp", tmp_path.parents)):
        folder.chmod(0o755)
    if there:
        path.chmod(0o444)
    tmp_path.chmod(0o755)
    command = [sys.executable, "-c", _AS_NOBODY, str(path), str(tmp_path / "own.db")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd="/")
    assert done.stdout.startswith("The store at ")
    assert "write" in done.stdout
    assert "Traceback" not in done.stderr


def test_a_damaged_file_says_so_and_what_to_do(tmp_path):
    path = tmp_path / "workshop.db"
    with Store(path) as store:
        for _ in range(40):
            store.jobs.open(INTAKE)
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + b"\xee" * (len(whole) - 4096))
    with pytest.raises(StoreError, match=r"damaged .*newest copy"), Store(path) as store:
        store.jobs.get(7)


def test_time_that_goes_back_turns_nothing_round(tmp_path):
    # the clock was set back by two days between the second and the third entry
    now = ["2026-03-03T10:00:00Z"]
    with Store(tmp_path / "workshop.db", lambda: now[0]) as store:
        store.jobs.open(INTAKE)
        now[0] = "2026-03-03T10:05:00Z"
        store.jobs.append(1, Note("second"))
        now[0] = "2026-03-01T09:00:00Z"
        store.jobs.append(1, Note("third"))
        job = store.jobs.get(1)
        assert [entry.number for entry in job.entries] == [1, 2, 3]
        assert [entry.body.text for entry in job.entries[1:]] == ["second", "third"]
        (line,) = store.jobs.lines()
        assert (line.opened_at, line.last_at) == ("2026-03-03T10:00:00Z", "2026-03-03T10:05:00Z")
