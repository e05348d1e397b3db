"""A workshop moved to another store and back: nothing lost, nothing half there."""

import itertools
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import text
from tests.workshop.small import INTAKE

from counterpoise.errors import InputError, StoreError
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.jobs.job_file import RecordingMetadata
from counterpoise.workshop.parts.price_list import PriceLine
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.store.engine import HEAD, revision_of
from counterpoise.workshop.store.keeping import moving
from counterpoise.workshop.store.keeping.archive import back_up
from counterpoise.workshop.store.keeping.moving import move, reading_store
from counterpoise.workshop.store.keeping.restoring import restore
from counterpoise.workshop.store.keeping.rows import compare, read, tables
from counterpoise.workshop.store.store import Store

DUMP = (Path(__file__).parent / "files" / "store_0_1_0.sql").read_text("utf-8")


def fill(store):
    """A little of everything, with what stores tell apart: letters, times, floats, no value."""
    number = store.jobs.open(INTAKE, by="Åda")
    for key, name in (("b-key", "Zoë"), ("B-key", "ärmel"), ("a_key", "„quoted“ 0.1")):
        with store.writes.under(key, "digest") as unit:
            store.jobs.append(number.number, Note(f"{name} — 水"), by=name)
            store.writes.finish(unit, {"answer": {"n": 1e-7, "last": None, "b": 2**40}})
    key = store.recordings.add("spin.csv", bytes(range(256)), RecordingMetadata(1100, None, -0.1))
    store.jobs.append(number.number, Note("healthy", recording=key))
    store.uploads.keep_part(number.number, "c" * 32, (0, b"\0\xff"))
    store.settings.change({"tools": ["torx", "ß"], "tax_percent": 19.5, "careful": True})
    line = PriceLine(2, "small", "pump", "new", 1234, 1, None, "", "N1", "Pump")
    store.prices.add("Farnholm", "list.csv", [line], "ada")
    store.prices.take_back(1, "ada")
    store.stock.receive([Receipt("small", "pump", "used", 3, "B2", 500, good=0.8)], "ada")
    store.stock.move([Move(1, "reserved", 1, number.number)], "ada")
    store.stock.undo(2, "ada")
    store.learning.decide("small", "take_back", "checks.play", "ada")
    store.people.add("Åda", "owner", b"$argon2id$")
    store.jobs.lines()
    return store


@pytest.fixture
def other(request, store, tmp_path):
    """An address of the other kind, with nothing there yet."""
    if "server_store" in request.fixturenames:
        return str(tmp_path / "moved.db")
    server = request.getfixturevalue("server")
    return server.empty_database()


def where(store):
    url = store.database.engine.url
    return url.render_as_string(hide_password=False)


def test_a_workshop_moves_to_the_other_kind_and_back_and_is_the_same(store, other, tmp_path):
    fill(store)
    sums = move(where(store), other)
    assert sums["entries"].rows == 5
    assert all(sums[name].rows for name in sums if name not in {"kept", "learned", "photos"})
    back = tmp_path / "back.db"
    assert move(other, back) == sums
    with reading_store(back) as here, reading_store(where(store)) as there:
        assert compare(here, there) == sums
    for place in (other, back):
        with Store(place) as moved:
            assert moved.jobs.get(1) == store.jobs.get(1)
            # and it counts on where it stood
            assert moved.jobs.open(INTAKE).number == 2
            assert moved.stock.receive([Receipt("small", "pump", "used", 1, "B2", 500)], "ada") == (
                2,
            )
            moved.learning.decide("small", "give_back", "checks.play", "ada")
            assert moved.writes.known("a_key").answer["answer"] == {
                "n": 1e-7,
                "last": None,
                "b": 2**40,
            }


def test_a_target_with_anything_in_it_is_refused_and_stays(store, other):
    fill(store)
    with Store(other) as target:
        target.jobs.open(INTAKE)
    with pytest.raises(InputError, match="is there already"):
        move(where(store), other)
    with Store(other) as target:
        assert len(target.jobs.lines()) == 1


def test_an_empty_store_may_be_moved_into(store, other):
    fill(store)
    Store(other).close()
    assert move(where(store), other)["jobs"].rows == 1


def test_what_fails_half_way_leaves_nothing(store, other, monkeypatch):
    fill(store)
    real, calls = moving.write, itertools.count()

    def failing(*args):
        if next(calls) == 5:
            raise StoreError("the mains went")
        real(*args)

    monkeypatch.setattr(moving, "write", failing)
    with pytest.raises(StoreError, match="mains"):
        move(where(store), other)
    if "://" not in other:
        assert not Path(other).exists()
    monkeypatch.undo()
    assert move(where(store), other)["jobs"].rows == 1


def test_a_row_that_does_not_arrive_as_it_was_is_named(store, other, monkeypatch):
    fill(store)
    real = moving.write

    def losing(connection, table, rows):
        rows = [dict(row) for row in rows]
        if table.name == "entries":
            rows[1]["by"] = "somebody else"
        real(connection, table, rows)

    monkeypatch.setattr(moving, "write", losing)
    with pytest.raises(StoreError, match=r"differs at entries \(1, 2\)"):
        move(where(store), other)


def test_what_is_no_store_is_not_moved(tmp_path, server):
    with pytest.raises(StoreError, match="no store at"):
        move(tmp_path / "nothing.db", tmp_path / "to.db")
    with pytest.raises(StoreError, match="no store of this program"):
        move(server.empty_database(), tmp_path / "to.db")
    assert not list(tmp_path.iterdir())
    foreign = server.empty_database()
    name = foreign.split("?")[0].rsplit("/", 1)[1]
    server.sql("CREATE TABLE theirs (n integer)", name=name)
    with Store(tmp_path / "here.db") as store:
        store.jobs.open(INTAKE)
    with pytest.raises(InputError, match="Another program's tables"):
        move(tmp_path / "here.db", foreign)


def test_a_store_of_0_1_0_moves_and_stays_as_it_is(tmp_path, server):
    old = tmp_path / "old.db"
    with sqlite3.connect(old) as raw:
        raw.executescript(DUMP)
    raw.close()
    address = server.empty_database()
    sums = move(old, address)
    assert "writes" not in sums
    with Store(address) as moved:
        assert [entry.number for entry in moved.jobs.get(1).entries] == [1, 2, 3, 4, 5, 6, 7]
        with moved.database.reading() as connection:
            assert (
                connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD
            )
    with reading_store(old) as still:
        assert "writes" not in {table.name for table in tables(still)}
        assert (
            sum(1 for _ in read(still, next(t for t in tables(still) if t.name == "entries"))) == 7
        )


@pytest.mark.parametrize("onto", ["file", "server"])
def test_a_backup_of_0_1_0_is_brought_up_to_date_where_it_is_restored(tmp_path, server, onto):
    old, target = tmp_path / "old.db", tmp_path / "new.db"
    with sqlite3.connect(old) as raw:
        raw.executescript(DUMP)
    raw.close()
    made = back_up(old, tmp_path / "kept", tmp_path / "none", "2026-03-02T12:00:00Z")
    assert made.revision == "0003"
    where = target if onto == "file" else server.empty_database()
    assert restore(Path(made.file), where, tmp_path / "none") == made.tables
    with Store(where) as store:
        assert [entry.number for entry in store.jobs.get(1).entries] == [1, 2, 3, 4, 5, 6, 7]
        assert store.settings.get().labour_rate_minor == 5200
        with store.database.reading() as connection:
            assert revision_of(connection) == HEAD
