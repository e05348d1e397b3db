"""A store as version 0.1.0 left it is opened, read, and written on."""

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.jobs.entries import Decision, Finding, Note
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.job_file import RecordingMetadata
from counterpoise.workshop.parts.stock import Move
from counterpoise.workshop.store.engine import HEAD
from counterpoise.workshop.store.store import Store

# A dump of a store that version 0.1.0 wrote: a job that came back, a list, a lot, settings.
DUMP = (Path(__file__).parent / "files" / "store_0_1_0.sql").read_text("utf-8")


@pytest.fixture
def old(tmp_path):
    path = tmp_path / "workshop.db"
    with sqlite3.connect(path) as raw:
        raw.executescript(DUMP)
    raw.close()
    with Store(path, lambda: "2026-04-01T09:00:00Z") as opened:
        yield opened


def test_its_job_is_all_there(old):
    job = old.jobs.get(1)
    assert [entry.number for entry in job.entries] == [1, 2, 3, 4, 5, 6, 7]
    assert job.intake.title == "Quarrow 714"
    assert job.entries[1].body.reading == 2.0
    assert [entry.number for entry in job.standing] == [1, 2, 5]
    assert (job.came_back, job.closed) == (7, None)
    assert isinstance(job.decision, Decision)
    assert job.decision.quote_words == ("What it costs: 120.00 EUR.",)
    (line,) = old.jobs.lines()
    assert (line.entries, line.open, line.decision) == (7, True, "repair_hand_back")


def test_its_recording_settings_prices_and_stock_are_all_there(old):
    recording = old.jobs.get(1).entries[1].body.recording
    assert old.recordings.get(recording) == ("spin.csv", b"t,x,y,z\n0,0,0,9.81\n")
    assert old.recordings.metadata(recording) == RecordingMetadata(1100.0)
    settings = old.settings.get()
    assert (settings.labour_rate_minor, settings.tools, settings.careful) == (5200, ("torx",), True)
    (price,) = old.prices.book().prices
    assert (price.supplier, price.line.price_minor, price.stands) == ("Farnholm", 1900, True)
    (lot,) = old.stock.book().lots
    assert (lot.pieces, lot.held, lot.place, lot.donor, lot.good) == (3, ((1, 1),), "B2", 1, 0.8)


def test_it_is_written_on_as_if_nothing_had_happened(old):
    assert old.jobs.append(1, Finding("play", "some"), expected_last=7).number == 8
    old.stock.move([Move(1, "used", 1, 1)], "ada")
    assert old.stock.book().lot(1).pieces == 2
    old.settings.change({"people": 3})
    assert old.settings.get().labour_rate_minor == 5200


def test_its_job_moves_on_to_another_store(old, tmp_path):
    exported = old.jobs.export_json(1)
    assert exported["entries"][4]["body"]["told"] == ["What it costs: 120.00 EUR."]
    with Store(tmp_path / "other.db") as other:
        arrived = other.jobs.import_json(exported)
        assert arrived.entries == old.jobs.get(1).entries
        assert other.jobs.export_json(arrived.number) == exported


def test_its_entries_are_still_guarded(old, tmp_path):
    old.close()
    with sqlite3.connect(tmp_path / "workshop.db", isolation_level=None) as raw:
        for statement in ("UPDATE entries SET by = 'x'", "DELETE FROM movements"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                raw.execute(statement)
        version = raw.execute("SELECT version_num FROM alembic_version").fetchone()
    raw.close()
    assert version == (HEAD,)
    assert old.jobs.append(1, Note("still here")).number == 8


def test_what_was_set_for_all_machines_holds_for_the_families_that_were_there(tmp_path):
    path = tmp_path / "workshop.db"
    with sqlite3.connect(path) as raw:
        raw.executescript(DUMP)
        for key, value in (("resale_new_minor", "40000"), ("life_shape", "3.5")):
            raw.execute("INSERT INTO settings VALUES (?, ?, '2026-03-01T09:00:09Z')", (key, value))
    raw.close()
    with Store(path) as opened:
        settings = opened.settings.get()
    for family in ("front_loader", "top_loader"):
        money = money_of(load_family(family), settings)
        assert (money.resale_new_minor, money.life_shape) == (40000, 3.5)
        # what was not touched is the family's own
        assert settings.set_for(family, "scrap_minor") is None
    # a kind that was not there brings its own; one that says nothing, what was set for all
    dryer = replace(load_family("front_loader"), id="dryer")
    assert money_of(dryer, settings).resale_new_minor == dryer.money.resale_new_minor
    assert money_of(replace(dryer, money=None), settings).resale_new_minor == 40000
    # brought on once: opened again, nothing is laid over what is set since
    with Store(path) as again:
        again.settings.change({"front_loader.life_shape": None, "top_loader.life_shape": 2.0})
    with Store(path) as again:
        assert again.settings.get().set_for("front_loader", "life_shape") is None
        assert again.settings.get().set_for("top_loader", "life_shape") == 2.0
