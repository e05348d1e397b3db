"""The store by noun: transactions, names, ids, and what two writers do to one another."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import text
from tests.workshop.small import INTAKE

from counterpoise.errors import ConflictError, InputError, NotFoundError, StoreError
from counterpoise.workshop.jobs.entries import Closed, Finding, Note, Retraction
from counterpoise.workshop.jobs.job_file import JobFile, RecordingMetadata, digest
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.store.database import LONGEST_NAME, utc_now
from counterpoise.workshop.store.store import Store


def test_a_transaction_that_fails_leaves_nothing(store):
    def fail_half_way():
        with store.database.writing() as connection:
            connection.execute(text("INSERT INTO jobs (opened_at) VALUES ('2026-03-01T09:00:00Z')"))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert store.jobs.lines() == []


def test_an_error_of_the_database_is_told_in_words(store):
    with pytest.raises(StoreError, match="could not be read"), store.database.reading() as one:
        one.execute(text("SELECT * FROM nowhere"))
    with pytest.raises(StoreError, match="could not be written"), store.database.writing() as two:
        two.execute(text("INSERT INTO nowhere VALUES (1)"))


def test_a_reader_sees_one_state_while_somebody_writes(sqlite_store):
    number = sqlite_store.jobs.open(INTAKE).number
    count = text("SELECT count(*) FROM entries")
    with sqlite_store.database.reading() as connection:
        before = connection.execute(count).scalar()
        sqlite_store.jobs.append(number, Note("meanwhile"))
        assert connection.execute(count).scalar() == before
    assert len(sqlite_store.jobs.get(number).entries) == before + 1


def test_the_time_is_utc_to_the_second():
    assert len(utc_now()) == 20
    assert utc_now().endswith("Z")


def test_of_two_who_change_settings_at_once_neither_undoes_the_other(store):
    changes = [
        {"people": 5}, {"tax_percent": 7.0}, {"tools": ["torx"]}, {"careful": True},
        {"warranty_months": 3}, {"labour_rate_minor": 1000}, {"workshop_name": "Bench"},
        {"days_to_sell": 4.0}, {"small.days_to_sell": 3.0}, {"other.days_to_sell": 2.0},
    ]  # fmt: skip
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(store.settings.change, changes))
    settings = store.settings.get()
    for change in changes:
        ((name, value),) = change.items()
        family, _, of_family = name.rpartition(".")
        kept = settings.set_for(family, of_family) if family else getattr(settings, name)
        assert kept == (tuple(value) if isinstance(value, list) else value)


def test_what_is_taken_back_for_a_family_is_gone_from_the_store(store):
    store.settings.change({"small.days_to_sell": 3.0, "small.scrap_minor": -200})
    store.settings.change({"small.days_to_sell": None})
    settings = store.settings.get()
    assert [each.key for each in settings.by_family] == ["small.scrap_minor"]
    assert type(settings.set_for("small", "scrap_minor")) is int
    store.settings.change({"small.scrap_minor": None})
    assert store.settings.get() == Settings()


def test_a_setting_put_back_to_its_default_is_the_default(store):
    store.settings.change({"people": 5})
    store.settings.change({"people": Settings().people})
    assert store.settings.get() == Settings()


def test_a_long_name_is_cut_and_a_broken_one_refused(store):
    number = store.jobs.open(INTAKE, by="A" * 500).number
    assert store.jobs.get(number).entries[0].by == "A" * LONGEST_NAME
    for wrong in ("\0", "\ud800"):
        with pytest.raises(InputError) as caught:
            store.jobs.append(number, Note("x"), by=wrong)
        assert caught.value.field == "by"
    assert len(store.jobs.get(number).entries) == 1


def test_several_jobs_come_in_together_or_not_at_all(store):
    good = JobFile(store.jobs.open(INTAKE).entries)
    bad = JobFile((*good.entries, good.entries[0].__class__(2, "", "", Note("\0"))))
    with pytest.raises(InputError):
        store.jobs.add_all([good, bad])
    assert len(store.jobs.lines()) == 1
    assert [job.number for job in store.jobs.add_all([good, good])] == [2, 3]


def test_the_same_photo_and_recording_are_kept_once_whoever_sends_them(store):
    first, second = (store.recordings.add(name, b"t,x\n") for name in ("a.csv", "b.csv"))
    assert first == second == digest(b"t,x\n")
    assert store.recordings.get(first) == ("a.csv", b"t,x\n")


@pytest.mark.parametrize(
    ("metadata", "json"),
    [
        (RecordingMetadata(), {}),
        (RecordingMetadata(1100.0), {"top_rpm": 1100.0}),
        (RecordingMetadata(None, "s" * 32, 0.0), {"sound": "s" * 32, "sound_start_s": 0.0}),
    ],
)
def test_of_a_recording_only_what_is_known_is_written(store, metadata, json):
    assert metadata.to_json() == json
    key = store.recordings.add("spin.csv", b"t,x,y,z\n", metadata)
    assert store.recordings.metadata(key) == metadata


def test_files_that_are_not_there_are_not_found(store):
    for attempt in (store.photos.get, store.recordings.get):
        with pytest.raises(NotFoundError, match="nothing"):
            attempt("nothing")
    assert store.recordings.metadata("nothing") == RecordingMetadata()


def test_of_two_retractions_of_one_entry_only_one_is_taken(store):
    number = store.jobs.open(INTAKE).number
    store.jobs.append(number, Finding("play", "some"))

    def take_back(_):
        try:
            return store.jobs.retract(number, 2).number
        except (InputError, ConflictError):
            return None

    with ThreadPoolExecutor(4) as pool:
        numbers = list(pool.map(take_back, range(4)))
    assert [each for each in numbers if each] == [3]


def test_a_closing_lets_go_of_what_is_held_and_a_retraction_gives_back_what_was_used(store):
    number = store.jobs.open(INTAKE).number
    (lot,) = store.stock.receive([Receipt("small", "damper", "new", 3)], "ada")
    used = store.jobs.append(number, Note("fitted"), taken=[(lot, 2)])
    assert store.stock.book().lot(lot).used == ((number, 2),)
    store.jobs.append(number, Retraction(used.number))
    assert store.stock.book().lot(lot).used == ()
    store.jobs.append(number, Closed("scrap"))
    assert store.stock.book().lot(lot).held == ()


def test_a_piece_that_is_not_there_keeps_its_entry_out(store):
    number = store.jobs.open(INTAKE).number
    (lot,) = store.stock.receive([Receipt("small", "damper", "new", 1)], "ada")
    with pytest.raises(InputError):
        store.jobs.append(number, Note("fitted"), taken=[(lot, 2)])
    with pytest.raises(NotFoundError, match="no lot 99"):
        store.jobs.append(number, Note("fitted"), taken=[(99, 1)])
    assert len(store.jobs.get(number).entries) == 1


def test_a_book_is_read_anew_only_where_something_moved(store):
    store.stock.receive([Receipt("small", "damper", "new", 1)], "ada")
    first = store.stock.book()
    assert store.stock.book() is first
    store.stock.receive([Receipt("small", "damper", "new", 1)], "ada")
    assert store.stock.book() is not first
    assert store.prices.book() is store.prices.book()


def test_a_closed_store_opens_again_when_it_is_asked(tmp_path):
    store = Store(tmp_path / "workshop.db")
    number = store.jobs.open(INTAKE).number
    store.close()
    assert store.jobs.get(number).intake == INTAKE
    store.close()


def test_a_setting_that_an_older_version_stored_and_this_one_refuses_is_the_usual_one(store):
    store.settings.change({"people": 3, "new_machine_minor": 50000})
    with store.database.writing() as connection:
        connection.execute(text("UPDATE settings SET value = '0' WHERE key = 'new_machine_minor'"))
    settings = store.settings.get()
    assert settings.people == 3
    assert settings.new_machine_minor == Settings().new_machine_minor
