"""Uploads as the phone sees them: any order gives one recording, what is missing is listed."""

import gzip
from itertools import permutations

import pytest
from tests.workshop.small import INTAKE

from counterpoise.errors import ConflictError, NotFoundError, RecordingError
from counterpoise.workshop.services import spin_readings
from counterpoise.workshop.services.uploads import FILE_NAME, HEADER

PHONE = "b" * 32
PIECES = [
    [(0.0, 0.1, -0.2, 9.81), (2.5, 0.3, 0.0, 9.79)],
    [(5.0, 0.2, 0.1, 9.8)],
    [(7.5, -0.12348, 0.0, 9.80672)],
]
TABLE = HEADER + (
    b"0.00,0.1000,-0.2000,9.8100\n2.50,0.3000,0.0000,9.7900\n"
    b"5.00,0.2000,0.1000,9.8000\n7.50,-0.1235,0.0000,9.8067\n"
)


@pytest.fixture
def readings(monkeypatch):
    """Readings asked for, as (bytes, top speed in rpm); every recording counts as readable."""
    asked = []
    monkeypatch.setattr(spin_readings, "read_bytes", lambda data, rpm, _: asked.append((data, rpm)))
    return asked


@pytest.fixture
def job(workshop):
    return workshop.jobs.open(INTAKE, "ada").number


def send(workshop, job, order=(0, 1, 2), upload=PHONE):
    for piece in order:
        workshop.uploads.keep_rows(job, upload, piece, PIECES[piece])


def test_the_order_of_the_pieces_does_not_change_the_recording(workshop, job, readings):
    ids = set()
    for index, order in enumerate(permutations(range(3))):
        upload = f"{index:032d}"
        send(workshop, job, order, upload)
        ids.add(workshop.uploads.finish(job, upload, 3, 1200.0))
    assert len(ids) == 1
    name, data = workshop.recordings.get(ids.pop())
    assert name == FILE_NAME
    assert gzip.decompress(data) == TABLE
    assert readings == [(data, 1200.0)] * 6


def test_finishing_twice_gives_the_same_recording_and_reads_it_once(workshop, job, readings):
    send(workshop, job)
    first = workshop.uploads.finish(job, PHONE, 3, None)
    assert workshop.uploads.finish(job, PHONE, 3, None) == first
    # the phone repeats its question, perhaps with another count: it is whole already
    assert workshop.uploads.finish(job, PHONE, 99, 1400.0) == first
    assert len(readings) == 1
    assert workshop.uploads.arrived(job, PHONE).recording == first
    assert workshop.uploads.unfinished(job) == {}


def test_each_answer_says_what_has_come_so_far(workshop, job):
    progress = [
        workshop.uploads.keep_rows(job, PHONE, piece, PIECES[piece]).parts for piece in (2, 0, 2)
    ]
    assert progress == [(2,), (0, 2), (0, 2)]
    assert workshop.uploads.unfinished(job) == {PHONE: 2}


@pytest.mark.parametrize(
    ("sent", "pieces", "said"),
    [
        ((0, 2), 3, "1 of 3 pieces have not come: 1. Send"),
        ((), 2, "2 of 2 pieces have not come: 0, 1. Send"),
        ((0,), 12, "11 of 12 pieces have not come: 1, 2, 3, 4, 5, 6, 7, 8 .... Send"),
        ((0, 1, 2), 2, "3 pieces have come, more than the 2"),
        ((), 0, "0 of 0 pieces"),
    ],
)
def test_what_is_not_whole_is_refused_and_keeps_its_pieces(
    workshop, job, readings, sent, pieces, said
):
    send(workshop, job, sent)
    with pytest.raises(ConflictError) as refusal:
        workshop.uploads.finish(job, PHONE, pieces, None)
    assert said in str(refusal.value)
    assert workshop.uploads.arrived(job, PHONE).parts == sent
    assert readings == []


def test_a_spin_that_cannot_be_read_stays_unfinished(workshop, job):
    send(workshop, job)
    with pytest.raises(RecordingError):
        workshop.uploads.finish(job, PHONE, 3, None)
    assert workshop.uploads.unfinished(job) == {PHONE: 3}


def test_nothing_is_kept_for_a_job_that_is_not_there(workshop, job):
    for ask in (
        lambda: workshop.uploads.keep_rows(job + 1, PHONE, 0, PIECES[0]),
        lambda: workshop.uploads.arrived(job + 1, PHONE),
        lambda: workshop.uploads.finish(job + 1, PHONE, 1, None),
    ):
        with pytest.raises(NotFoundError):
            ask()
    assert workshop.uploads.unfinished(job + 1) == {}


# --- recordings ---


def test_a_recording_is_known_by_its_bytes(workshop, job, readings):
    first = workshop.recordings.keep(job, ("spin.csv", b"1,2,3"), 1200.0)
    assert workshop.recordings.keep(job, ("again.csv", b"1,2,3"), None) == first
    assert workshop.recordings.keep(job, ("spin.csv", b"1,2,4"), None) != first
    assert workshop.recordings.get(first)[1] == b"1,2,3"
    assert workshop.recordings.metadata(first).top_rpm == 1200.0


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("/home/ada/spins/spin.csv", "spin.csv"),
        ("../../spin.csv", "spin.csv"),
        ("", "recording.csv"),
        ("/", "recording.csv"),
    ],
)
def test_only_the_last_part_of_a_name_is_kept(workshop, job, readings, sent, kept):
    recording = workshop.recordings.keep(job, (sent, b"1,2,3"), None)
    assert workshop.recordings.get(recording)[0] == kept


def test_the_speed_given_goes_before_the_speed_kept(workshop, job, readings):
    recording = workshop.recordings.keep(job, ("spin.csv", b"1,2,3"), 1200.0)
    readings.clear()
    workshop.recordings.reading(recording)
    workshop.recordings.reading(recording, 1400.0)
    workshop.recordings.reading(recording, 0.0)
    assert [rpm for _, rpm in readings] == [1200.0, 1400.0, 1200.0]


@pytest.mark.parametrize("data", [b"", b"\x00" * 64, b"time,x\n", b"no table at all"])
def test_what_cannot_be_read_is_not_kept(workshop, job, data, monkeypatch):
    kept = []
    monkeypatch.setattr(workshop.recordings, "add", lambda *given: kept.append(given))
    with pytest.raises(RecordingError):
        workshop.recordings.keep(job, ("spin.csv", data), None)
    assert kept == []


def test_a_sound_that_does_not_fit_its_spin_is_not_kept(workshop, job, readings):
    recording = workshop.recordings.keep(job, ("spin.csv", b"1,2,3"), None)
    with pytest.raises(NotFoundError):
        workshop.recordings.add_sound(job, "f" * 64, ("spin.wav", b"RIFF"))
    with pytest.raises(NotFoundError):
        workshop.recordings.add_sound(job + 1, recording, ("spin.wav", b"RIFF"))
    assert workshop.recordings.metadata(recording).sound == ""


def test_a_sound_is_added_beside_what_was_known(workshop, job, readings, monkeypatch):
    monkeypatch.setattr(spin_readings, "sound_of", lambda *_: None)
    recording = workshop.recordings.keep(job, ("spin.csv", b"1,2,3"), 1200.0)
    workshop.recordings.add_sound(job, recording, ("phone/spin.wav", b"RIFF"), 2.5)
    known = workshop.recordings.metadata(recording)
    assert (known.top_rpm, known.sound_start_s) == (1200.0, 2.5)
    assert workshop.recordings.get(known.sound) == ("spin.wav", b"RIFF")
