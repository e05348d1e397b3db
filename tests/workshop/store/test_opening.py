"""What lies where the store should be: empty, another program's, somebody else's to read."""

import os
import signal
import sqlite3
import stat
import subprocess
import sys

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import StoreError
from counterpoise.workshop.store.opening.files import MARK
from counterpoise.workshop.store.store import Store


def _mode(path):
    return oct(stat.S_IMODE(path.stat().st_mode))


def _tables(path):
    raw = sqlite3.connect(path)
    names = {name for (name,) in raw.execute("SELECT name FROM sqlite_master")}
    raw.close()
    return names


def test_a_store_and_what_lies_beside_it_are_its_owners_alone(tmp_path):
    path = tmp_path / "kept" / "here" / "workshop.db"
    before = os.umask(0)
    try:
        with Store(path) as store:
            store.jobs.open(INTAKE)
            there = {each.name: _mode(each) for each in path.parent.iterdir()}
            folders = _mode(path.parent), _mode(path.parent.parent)
    finally:
        os.umask(before)
    assert there == dict.fromkeys(["workshop.db", "workshop.db-wal", "workshop.db-shm"], "0o600")
    assert folders == ("0o700", "0o700")


def test_a_store_that_others_could_read_is_closed_to_them(tmp_path):
    Store(tmp_path / "workshop.db").close()
    (tmp_path / "workshop.db").chmod(0o644)
    Store(tmp_path / "workshop.db").close()
    assert _mode(tmp_path / "workshop.db") == "0o600"
    # two who share a store by a group were given it on purpose
    (tmp_path / "workshop.db").chmod(0o664)
    Store(tmp_path / "workshop.db").close()
    assert _mode(tmp_path / "workshop.db") == "0o660"


def test_an_empty_file_is_not_filled(tmp_path):
    path = tmp_path / "workshop.db"
    path.touch()
    with pytest.raises(StoreError, match=r"it is an empty file\. Name the right file"):
        Store(path)
    assert path.read_bytes() == b""


def test_a_file_of_another_kind_and_a_folder_are_left_alone(tmp_path):
    path = tmp_path / "letter.txt"
    path.write_text("Dear Sir or Madam")
    with pytest.raises(StoreError, match="another kind of file"):
        Store(path)
    assert path.read_text() == "Dear Sir or Madam"
    with pytest.raises(StoreError, match="it is a folder"):
        Store(tmp_path)


@pytest.mark.parametrize(
    ("laid_down", "said"),
    [
        ("CREATE TABLE recordings (theirs INTEGER)", "another program's: it holds recordings"),
        ("CREATE TABLE alembic_version (version_num TEXT)", "another program's"),
        ("PRAGMA user_version = 7", "empty and was not begun by this program"),
    ],
)
def test_another_programs_database_is_left_as_it_is(tmp_path, laid_down, said):
    path = tmp_path / "theirs.db"
    raw = sqlite3.connect(path)
    raw.execute(laid_down)
    raw.close()
    before = path.read_bytes()
    with pytest.raises(StoreError, match=said):
        Store(path)
    assert path.read_bytes() == before


def test_another_programs_database_on_a_server_is_left_as_it_is(server):
    from sqlalchemy import create_engine, inspect, text

    address = server.database()
    engine = create_engine(address.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        # what the test's server put into it goes: a database of somebody else's is wanted
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
        connection.execute(text("CREATE TABLE theirs (number INTEGER)"))
    with pytest.raises(StoreError, match="another program's: it holds theirs"):
        Store(address)
    assert inspect(engine).get_table_names() == ["theirs"]
    engine.dispose()
    server.drop(address)


_KILLED = """
import os, signal, sys
from counterpoise.workshop.store.store import Store
import alembic.op as op
made = op.create_table
def create_table(name, *rest, **more):
    if name == sys.argv[2]:
        os.kill(os.getpid(), signal.SIGKILL)
    return made(name, *rest, **more)
op.create_table = create_table
Store(sys.argv[1])
"""


def _killed_at(path, table):
    done = subprocess.run([sys.executable, "-c", _KILLED, str(path), table], check=False)
    assert done.returncode == -signal.SIGKILL


def test_a_first_start_that_was_killed_starts_again(tmp_path):
    path = tmp_path / "workshop.db"
    _killed_at(path, "kept")
    with Store(path) as store:
        assert store.jobs.open(INTAKE).number == 1
    # nothing half made is left behind
    assert {each.name for each in tmp_path.iterdir()} == {"workshop.db"}


def test_a_migration_that_was_killed_starts_again_and_loses_nothing(tmp_path):
    from tests.workshop.store.test_old_store import DUMP

    path = tmp_path / "workshop.db"
    raw = sqlite3.connect(path)
    raw.executescript(DUMP)
    raw.close()
    tables = _tables(path)
    _killed_at(path, "job_lines")
    # the whole upgrade happens, or nothing of it
    assert _tables(path) == tables
    with Store(path) as store:
        assert len(store.jobs.get(1).entries) == 7
        assert len(store.jobs.lines()) == 1


def test_a_migration_that_fails_leaves_nothing_half_done(tmp_path, monkeypatch):
    from alembic import op

    made = op.create_table

    def create_table(name, *rest, **more):
        if name == "kept":
            raise sqlite3.OperationalError("something is wrong with it")
        return made(name, *rest, **more)

    monkeypatch.setattr(op, "create_table", create_table)
    with pytest.raises(StoreError, match="something is wrong"):
        Store(tmp_path / "workshop.db")
    assert _tables(tmp_path / "workshop.db") == set()
    raw = sqlite3.connect(tmp_path / "workshop.db")
    assert raw.execute("PRAGMA application_id").fetchone() == (MARK,)
    raw.close()
    monkeypatch.undo()
    with Store(tmp_path / "workshop.db") as store:
        assert store.jobs.lines() == []
