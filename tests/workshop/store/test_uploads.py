"""Pieces of a recording from a phone: late, twice, in any order; and what was told of a recording."""

from dataclasses import replace

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import ConflictError, InputError
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.jobs.job_file import RecordingMetadata
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.uploads import MOST_OPEN

CAPTURE = "a" * 32


def test_pieces_come_in_any_order_and_twice(store):
    job = store.jobs.open(INTAKE).number
    for number in (2, 0, 1, 0, 2):
        store.uploads.keep_part(job, CAPTURE, (number, b"%d\n" % number))
    assert store.uploads.arrived(job, CAPTURE).parts == (0, 1, 2)
    assert store.uploads.lines(CAPTURE) == b"0\n1\n2\n"
    assert store.uploads.unfinished(job) == {CAPTURE: 3}


def test_a_different_piece_under_a_known_number_is_refused(store):
    job = store.jobs.open(INTAKE).number
    store.uploads.keep_part(job, CAPTURE, (0, b"one\n"))
    with pytest.raises(ConflictError, match="other readings"):
        store.uploads.keep_part(job, CAPTURE, (0, b"two\n"))
    assert store.uploads.lines(CAPTURE) == b"one\n"


def test_a_capture_belongs_to_one_job(store):
    first, second = (store.jobs.open(INTAKE).number for _ in range(2))
    store.uploads.keep_part(first, CAPTURE, (0, b"one\n"))
    with pytest.raises(ConflictError, match="another job"):
        store.uploads.keep_part(second, CAPTURE, (1, b"two\n"))
    assert store.uploads.arrived(second, CAPTURE).parts == ()
    assert store.uploads.unfinished(second) == {}


def test_what_is_whole_lets_its_pieces_go_and_takes_no_more(store):
    job = store.jobs.open(INTAKE).number
    store.uploads.keep_part(job, CAPTURE, (0, b"one\n"))
    store.uploads.complete(CAPTURE, "whole")
    store.uploads.keep_part(job, CAPTURE, (0, b"late\n"))
    assert store.uploads.arrived(job, CAPTURE).recording == "whole"
    assert store.uploads.lines(CAPTURE) == b""
    assert store.uploads.unfinished(job) == {}


def test_pieces_outlive_the_program(sqlite_store, tmp_path):
    job = sqlite_store.jobs.open(INTAKE).number
    sqlite_store.uploads.keep_part(job, CAPTURE, (0, b"one\n"))
    sqlite_store.close()
    with Store(tmp_path / "workshop.db") as again:
        assert again.uploads.lines(CAPTURE) == b"one\n"


def test_a_flood_of_captures_is_refused_and_old_ones_make_room(store):
    now = ["2026-03-01T09:00:00Z"]
    store.database.clock = lambda: now[0]
    job = store.jobs.open(INTAKE).number
    for number in range(MOST_OPEN):
        store.uploads.keep_part(job, f"{number:032x}", (0, b"x\n"))
    with pytest.raises(InputError, match="unfinished already"):
        store.uploads.keep_part(job, CAPTURE, (0, b"x\n"))
    now[0] = "2026-05-01T09:00:00Z"
    store.uploads.keep_part(job, CAPTURE, (0, b"x\n"))
    assert store.uploads.unfinished(job) == {CAPTURE: 1}


def test_what_was_told_is_kept_and_can_be_told_later(store):
    key = store.recordings.add("spin.csv", b"t,x,y,z\n", RecordingMetadata(top_rpm=1100))
    assert store.recordings.metadata(key) == RecordingMetadata(top_rpm=1100)
    store.recordings.add(
        "spin.csv", b"t,x,y,z\n", RecordingMetadata(sound="s" * 32, sound_start_s=-1.5)
    )
    store.recordings.add("spin.csv", b"t,x,y,z\n")
    assert store.recordings.metadata(key) == RecordingMetadata(1100, "s" * 32, -1.5)
    assert store.recordings.metadata("nothing") == RecordingMetadata()


def test_it_goes_along_when_a_job_is_exported(store):
    job = store.jobs.open(INTAKE).number
    sound = store.recordings.add("spin.wav", b"RIFF")
    key = store.recordings.add("spin.csv", b"t,x,y,z\n", RecordingMetadata(1100, sound, 2.0))
    store.jobs.append(job, Note("healthy", recording=key))
    data = store.jobs.export_json(job)
    assert data["recordings"][key].keys() == {"name", "data", "top_rpm", "sound", "sound_start_s"}
    assert set(data["recordings"]) == {key, sound}
    store.recordings.add("spin.csv", b"t,x,y,z\n", RecordingMetadata(900))
    store.jobs.import_json(data)
    assert store.recordings.metadata(key) == RecordingMetadata(1100, sound, 2.0)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"top_rpm": 9000}, "top_rpm: a speed"),
        ({"top_rpm": "fast"}, "top_rpm: a speed"),
        ({"sound": "nothing"}, "nothing is not among the recordings"),
        ({"sound_start_s": 1e9}, "sound_start_s: a number"),
        ({"colour": "red"}, "a name and data are expected"),
    ],
)
def test_what_was_told_wrongly_is_refused_on_import(store, wrong, message):
    job = store.jobs.open(replace(INTAKE)).number
    key = store.recordings.add("spin.csv", b"t,x,y,z\n")
    store.jobs.append(job, Note("healthy", recording=key))
    data = store.jobs.export_json(job)
    data["recordings"][key] |= wrong
    with pytest.raises(InputError, match=message):
        store.jobs.import_json(data)
