import copy
import json
from io import BytesIO

import pytest
from PIL import Image
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Closed, Finding, Note, Retraction
from counterpoise.workshop.jobs.job_file import digest
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


@pytest.fixture
def sent(workshop):
    out = BytesIO()
    Image.new("RGB", (12, 8), "red").save(out, "PNG")
    photo, spin = (
        workshop.photos.add(out.getvalue()),
        workshop.recordings.add("spin.csv", b"t,x,y,z\n0,0,0,9.81\n"),
    )
    number = workshop.jobs.open(INTAKE, by="Ada").number
    workshop.jobs.record(
        number, Finding("play", "", 2.0, photos=(photo,), recording=spin), by="Ada"
    )
    workshop.jobs.record(number, Note("not so"))
    workshop.jobs.record(number, Retraction(3, "a slip"))
    workshop.jobs.record(number, Closed("part_out", ("support_cracked",), 6000))
    return json.loads(json.dumps(workshop.jobs.export(number)))


@pytest.fixture
def other(tmp_path):
    with Store(tmp_path / "other.db") as opened:
        yield Workshop(opened, {"small": FAMILY})


def test_a_job_arrives_whole_in_another_store_under_a_number_of_its_own(workshop, other, sent):
    other.jobs.open(INTAKE)
    arrived = other.jobs.take_in(sent)
    assert arrived.number == 2
    assert arrived.entries == workshop.jobs.get(1).entries
    finding = arrived.entries[1].body
    assert other.photos.get(finding.photos[0]) == workshop.photos.get(finding.photos[0])
    assert other.recordings.get(finding.recording) == ("spin.csv", b"t,x,y,z\n0,0,0,9.81\n")
    assert other.jobs.export(2) == {**sent, "number": 2}


def _at(path, value):
    def change(data):
        *way, last = path
        for step in way:
            data = data[step]
        data[last] = value

    return change


PHOTO_WITH_LOCATION = BytesIO()
_exif = Image.Exif()
_exif[0x010E] = "where it was"
Image.new("RGB", (8, 8)).save(PHOTO_WITH_LOCATION, "JPEG", exif=_exif)


def _smuggle(data):
    import base64

    raw = PHOTO_WITH_LOCATION.getvalue()
    data["photos"][digest(raw)] = base64.b64encode(raw).decode()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (_at(["format"], "other"), "not a job as exported"),
        (_at(["version"], 2), "version: 2 cannot be read"),
        (_at(["extra"], 1), "extra: is not part"),
        (_at(["entries"], []), "entries: a list with at least the intake"),
        (
            _at(["entries", 0, "body", "kind"], "intke"),
            r"entries\[0\].body.kind: 'intke' is no.*mean intake",
        ),
        (_at(["entries", 0, "body", "owner"], "x"), r"entries\[0\].body.owner"),
        (
            _at(["entries", 1, "body", "reading"], "2"),
            r"entries\[1\].body.reading: a number is expected, not a text",
        ),
        (
            _at(["entries", 1, "body", "outcom"], "2"),
            r"body.outcom: is not a field.*Did you mean outcome",
        ),
        (
            _at(["entries", 1, "body", "reading"], 200),
            r"entries\[1\].body.*200 mm cannot be. Did you mean 20 mm",
        ),
        (
            _at(["entries", 1, "body", "check"], "ply"),
            r"entries\[1\].body: check: there is no.*Did you mean play",
        ),
        (_at(["entries", 1, "number"], 7), r"entries\[1\].number: must be 2"),
        (_at(["entries", 1, "at"], "yesterday"), r"entries\[1\].at: a time"),
        (_at(["entries", 1, "at"], "2026-03-01T09:00:00"), r"entries\[1\].at: a time"),
        (_at(["entries", 1, "at"], "0001-01-01T00:00:00+14:00"), r"entries\[1\].at: a time"),
        (
            _at(["entries", 3, "body", "entry"], 9),
            r"entries\[3\].body.entry: there is no earlier entry 9",
        ),
        (_at(["entries", 3, "body", "entry"], 1), "no intake is left standing"),
        (_at(["photos"], {}), r"entries\[1\].body.photos: [0-9a-f]{32} is not among the photos"),
        (_at(["recordings"], {}), r"entries\[1\].body.recording: [0-9a-f]{32} is not among"),
        (_at(["photos"], {"0" * 32: "aGVsbG8="}), "do not belong to this id"),
        (_at(["photos"], {"0" * 32: "%"}), "is not base64"),
        (_smuggle, "not a JPEG free of metadata"),
    ],
)
def test_a_damaged_parcel_is_refused_whole_and_says_where(other, sent, change, message):
    damaged = copy.deepcopy(sent)
    change(damaged)
    with pytest.raises(InputError, match=message):
        other.jobs.take_in(damaged)
    assert other.jobs.lines() == []


def test_all_mistakes_are_named_at_once(other, sent):
    for entry in sent["entries"]:
        entry["at"] = "yesterday"
    with pytest.raises(InputError, match="5 mistakes found"):
        other.jobs.take_in(sent)


def test_times_of_another_zone_arrive_in_utc(other, sent):
    sent["entries"][4]["at"] = "2026-03-01T23:30:00.25+02:00"
    assert other.jobs.take_in(sent).entries[4].at == "2026-03-01T21:30:00Z"
    assert other.jobs.lines()[0].last_at == "2026-03-01T21:30:00Z"


@pytest.mark.parametrize("data", [None, [], "x", {}, {"format": "counterpoise-job", "version": 1}])
def test_what_is_no_parcel_is_refused(other, data):
    with pytest.raises(InputError):
        other.jobs.take_in(data)
    assert other.jobs.lines() == []
