"""A customer's own is taken away on request; the job, its figures and its guards stay."""

import io
from dataclasses import replace

import pytest
from PIL import Image
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from tests.workshop.small import INTAKE

from counterpoise.errors import NotFoundError
from counterpoise.workshop.jobs.entries import KINDS, Closed, Decision, Finding, Note, Retraction
from counterpoise.workshop.jobs.entry_json import body_to_json
from counterpoise.workshop.jobs.job_file import RecordingMetadata
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.store.job_lines import LineQuery
from counterpoise.workshop.store.keeping.moving import move
from counterpoise.workshop.store.keeping.personal import GONE, without_personal

SECRET = "Ms Ode-Marker"


def photo(colour):
    with io.BytesIO() as file:
        Image.new("RGB", (40, 30), (colour, 90, 40)).save(file, "PNG")
        return file.getvalue()


@pytest.fixture
def number(store):
    intake = replace(
        INTAKE, title=f"Machine of {SECRET}", contact=SECRET, story=f"{SECRET} said so", maker="Veltro", model="W 6",
        serial="S-1 Marker", promised="2026-03-09", age_years=6.0,
    )  # fmt: skip
    own, shared = store.photos.add(photo(10)), store.photos.add(photo(200))
    sound = store.recordings.add("voice.wav", b"RIFF" + SECRET.encode())
    spin = store.recordings.add(f"{SECRET}.csv", b"t,x,y,z\n", RecordingMetadata(1100, sound, 0.5))
    with store.writes.under("key", "digest") as unit:
        number = store.jobs.open(intake, "ada").number
        store.writes.finish(unit, {"answer": {"title": SECRET}})
    store.jobs.append(
        number,
        Finding("play", "much", reading=2.0, note=SECRET, photos=(own, shared), recording=spin),
    )
    store.jobs.append(
        number, Decision("repair_hand_back", 12000, SECRET, agreed_by=SECRET, quote_words=(SECRET,))
    )
    store.jobs.append(number, Note(SECRET, parts_due="2026-03-05"))
    store.jobs.append(number, Retraction(4, SECRET))
    store.jobs.append(number, Closed("repair_hand_back", ("damper_worn",), 12000, note=SECRET))
    store.jobs.append(store.jobs.open(INTAKE).number, Note("mine too", photos=(shared,)))
    store.jobs.lines()
    return number


def test_texts_photos_and_sounds_go_and_all_figures_stay(store, number):
    before = store.jobs.get(number)
    taken = store.personal.of(number)
    assert taken.fields == (
        "agreed_by",
        "contact",
        "note",
        "quote_words",
        "serial",
        "story",
        "text",
        "title",
        "why",
    )
    assert (taken.entries, taken.photos, taken.sounds) == (6, 2, 1)
    assert store.jobs.get(number) == before
    assert store.personal.take_away(number, "ada") == taken
    after = store.jobs.get(number)
    assert [(e.number, e.at, e.by, type(e.body)) for e in after.entries[:-1]] == [
        (e.number, e.at, e.by, type(e.body)) for e in before.entries
    ]
    assert after.entries[-1].body == Note(taken.sentence)
    assert "agreed by, contact, note" in taken.sentence
    assert after.intake == replace(
        before.intake, title="Veltro W 6", contact="", story="", serial=""
    )
    assert after.entries[1].body == replace(before.entries[1].body, note="", photos=())
    assert (after.decision.agreed_minor, after.closed.received_minor) == (12000, 12000)
    assert (after.entries[3].body.text, after.entries[3].body.parts_due) == (GONE, "2026-03-05")
    assert "Marker" not in str(store.jobs.export_json(number))
    assert store.jobs.lines(LineQuery(words="marker")) == []
    assert store.jobs.lines(LineQuery(words="veltro"))[0].title == "Veltro W 6"
    assert store.writes.known("key").answer is None
    # twice does no harm
    assert store.personal.take_away(number, "ada").fields == ("text",)


def test_files_of_other_jobs_stay(store, number):
    own, shared = store.jobs.get(number).entries[1].body.photos
    spin = store.jobs.get(number).entries[1].body.recording
    sound = store.recordings.metadata(spin).sound
    store.personal.take_away(number, "ada")
    assert store.photos.get(shared)
    assert store.recordings.get(spin) == ("recording.csv", b"t,x,y,z\n")
    for gone in (lambda: store.photos.get(own), lambda: store.recordings.get(sound)):
        with pytest.raises(NotFoundError):
            gone()


def change_behind_its_back(store, table):
    with store.database.engine.connect().execution_options(writes=True) as raw:
        raw.execute(text(f"UPDATE {table} SET by = 'x'"))


def test_the_guards_are_back_afterwards(store, number):
    store.stock.receive([Receipt("small", "pump", "new", 1, "B2")], "ada")
    store.personal.take_away(number, "ada")
    for table in ("entries", "movements"):
        with pytest.raises(DBAPIError, match="append-only"):
            change_behind_its_back(store, table)


def test_what_fails_half_way_takes_nothing_away(store, number, monkeypatch):
    from counterpoise.workshop.store.keeping import personal

    before = store.jobs.get(number)

    def failing(*_):
        raise ZeroDivisionError

    monkeypatch.setattr(personal, "_add", failing)
    with pytest.raises(ZeroDivisionError):
        store.personal.take_away(number, "ada")
    assert store.jobs.get(number) == before
    with pytest.raises(DBAPIError, match="append-only"):
        change_behind_its_back(store, "entries")


def test_nothing_of_it_is_left_on_the_disk(sqlite_store, tmp_path, request):
    number = sqlite_store.jobs.open(replace(INTAKE, contact=SECRET), "ada").number
    sqlite_store.jobs.append(number, Note(f"{SECRET} " * 300))
    on_disk = lambda: b"".join(path.read_bytes() for path in sorted(tmp_path.glob("workshop.db*")))  # noqa: E731
    assert SECRET.encode() in on_disk()
    sqlite_store.personal.take_away(number, "ada")
    assert SECRET.encode() not in on_disk()


def test_a_store_with_a_job_made_bare_moves_like_any_other(store, number, tmp_path):
    store.personal.take_away(number, "ada")
    url = store.database.engine.url.render_as_string(hide_password=False)
    assert move(url, tmp_path / "moved.db")["entries"].rows == 9


def test_every_kind_of_entry_loses_every_typed_text():
    for kind in KINDS.values():
        body = _filled(kind)
        assert "Marker" not in str(body_to_json(without_personal(body))), kind


def _filled(kind):
    """An entry of a kind with the mark in every field that takes a text somebody types."""
    from counterpoise.workshop.jobs.fields import PLAIN_LETTERS, Text, fields_of, mark_of

    given = {}
    for field in fields_of(kind):
        mark = mark_of(field.hint, Text)
        typed = mark is not None and mark.letters == PLAIN_LETTERS
        if typed and field.name not in {"maker", "model", "promised", "parts_due"}:
            given[field.name] = SECRET
        elif field.required:
            given[field.name] = {
                "complaints": (),
                "values": {"mass": 1.0},
                "passed": True,
                "entry": 1,
            }.get(field.name, "id")
    assert SECRET in given.values() or kind is KINDS["proof"]
    return kind(**given)


def test_a_job_that_is_not_there(store):
    with pytest.raises(NotFoundError):
        store.personal.take_away(7, "ada")
