"""Before a migration touches a store a copy of it is kept beside it, checked."""

import itertools
import re
import sqlite3
import stat
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import inspect

from counterpoise.errors import StoreError
from counterpoise.workshop.store.engine import HEAD
from counterpoise.workshop.store.keeping import before
from counterpoise.workshop.store.keeping.before import copies_beside
from counterpoise.workshop.store.keeping.moving import move
from counterpoise.workshop.store.store import Store

DUMP = (Path(__file__).parent / "files" / "store_0_1_0.sql").read_text("utf-8")


def old_store(path):
    with sqlite3.connect(path) as raw:
        raw.executescript(DUMP)
    raw.close()
    return path


def revision(path):
    with sqlite3.connect(path) as raw:
        (answer,) = raw.execute("SELECT version_num FROM alembic_version").fetchone()
    raw.close()
    return answer


def test_an_old_file_is_copied_beside_itself_before_it_is_brought_up_to_date(tmp_path):
    path = old_store(tmp_path / "workshop.db")
    with Store(path) as store:
        store.settings.change({"people": 3})
    (copy,) = copies_beside(path)
    assert re.fullmatch(r"workshop\.before_0003_\d{8}T\d{6}Z\.db", copy.name)
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert (revision(copy), revision(path)) == ("0003", HEAD)
    # a store that is up to date, or new, is not copied
    Store(path).close()
    Store(tmp_path / "new.db").close()
    assert (copies_beside(path), copies_beside(tmp_path / "new.db")) == ([copy], [])
    # the copy is a store: put in the place of the other it is opened
    with Store(copy) as again:
        assert len(again.jobs.get(1).entries) == 7


def test_the_last_few_copies_are_kept(tmp_path, monkeypatch):
    path = tmp_path / "workshop.db"
    days = itertools.count(1)

    class Clock:
        @staticmethod
        def now(zone):
            return datetime(2026, 3, next(days), 9, tzinfo=zone)

    monkeypatch.setattr(before, "datetime", Clock)
    for _ in range(before.KEPT + 2):
        path.unlink(missing_ok=True)
        Store(old_store(path)).close()
    assert [copy.name[21:29] for copy in copies_beside(path)] == [
        "20260303",
        "20260304",
        "20260305",
    ]


def test_without_a_copy_nothing_is_changed(tmp_path, monkeypatch):
    path = old_store(tmp_path / "workshop.db")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(before, "_counts", full)
    with pytest.raises(StoreError, match=r"No space left.*Nothing was changed"):
        Store(path)
    assert revision(path) == "0003"


def test_a_copy_that_is_not_the_same_is_no_copy(tmp_path, monkeypatch):
    path = old_store(tmp_path / "workshop.db")
    counts = itertools.count()
    monkeypatch.setattr(before, "_counts", lambda _: {"entries": next(counts)})
    with pytest.raises(StoreError, match="not what it was made of"):
        Store(path)
    assert revision(path) == "0003"


def test_on_a_server_the_copy_is_a_schema_that_can_be_moved_out_of(tmp_path, server, monkeypatch):
    address = server.empty_database()
    old_store(tmp_path / "old.db")
    monkeypatch.setattr("counterpoise.workshop.store.keeping.moving.migrate", keep_revision)
    move(tmp_path / "old.db", address)
    monkeypatch.undo()
    with Store(address) as store:
        assert len(store.jobs.get(1).entries) == 7
        (copy,) = [
            name
            for name in inspect(store.database.engine).get_schema_names()
            if name.startswith("before_")
        ]
    assert copy.startswith("before_0003_")
    move(f"{address}&options=-csearch_path%3D{copy}", tmp_path / "out.db")
    with Store(tmp_path / "out.db") as out:
        assert len(out.jobs.get(1).entries) == 7


def keep_revision(connection, to="head", *, copied=False):
    """Leaves a moved store at the revision it came with."""
    from counterpoise.workshop.store.engine import migrate

    if to != "head":
        migrate(connection, to, copied=copied)
