"""The store as a whole in the terminal: a backup is restored elsewhere and shows the same pages."""

import csv
import io
import itertools
import json
import stat
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.web.stores.playing import opened, play, shown

from counterpoise.catalog.places import OWN_FOLDER
from counterpoise.cli import main
from counterpoise.workshop.store.store import Store


def run(*words, **environment):
    result = CliRunner().invoke(main, [str(word) for word in words], env=environment)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


def ask(*words):
    code, output = run(*words, "--json")
    return code, json.loads(output)


def pages_of(where):
    with Store(where, lambda: "2026-03-02T09:00:00Z") as store, opened(store) as client:
        return shown(client)


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """A workshop with two jobs, files, money, stock, and a family of its own beside it."""
    folder = tmp_path_factory.mktemp("played")
    ticks = itertools.count()
    where = folder / "workshop.db"
    with (
        Store(where, lambda: f"2026-03-01T09:{next(ticks) // 60 % 60:02}:00Z") as store,
        opened(store) as client,
    ):
        play(client)
    (folder / OWN_FOLDER).mkdir()
    (folder / OWN_FOLDER / "mangle.yaml").write_text("title: Ä mangle\n", "utf-8")
    return where


@pytest.fixture(scope="module")
def pages(played):
    return pages_of(played)


@pytest.fixture(scope="module")
def made(played):
    return ask("store", "backup", "--store", played)[1]


def test_a_backup_says_what_is_in_it_and_that_it_was_restored(played, tmp_path):
    code, said = run("store", "backup", tmp_path / "kept", "--store", played)
    assert code == 0
    assert "2 photos and recordings, 1 files of own families" in said
    assert "Restored beside it and compared row by row: the same." in said
    (file,) = (tmp_path / "kept").iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


def test_without_a_folder_it_lies_beside_the_store(played, made):
    file = Path(made["file"])
    assert file.parent == played.parent / "counterpoise-backups"
    assert (made["files"], made["families"], made["tables"]["jobs"]["rows"]) == (2, 1, 2)
    assert made["size"] == file.stat().st_size


def test_restored_in_another_folder_the_pages_are_the_same(made, pages, tmp_path):
    where = tmp_path / "other" / "workshop.db"
    code, said = run("store", "restore", made["file"], "--store", where)
    assert code == 0, said
    assert pages_of(where) == pages
    assert (where.parent / OWN_FOLDER / "mangle.yaml").read_text("utf-8") == "title: Ä mangle\n"


def test_restored_on_a_server_and_moved_back_the_pages_are_the_same(made, pages, server, tmp_path):
    address = server.empty_database()
    families = ("--families", tmp_path / "families")
    code, answer = ask("store", "restore", made["file"], "--store", address, *families)
    assert (code, answer["tables"]) == (0, made["tables"])
    # a backup of the server's store is the same again
    code, again = ask("store", "backup", tmp_path / "kept", "--store", address)
    assert (code, again["tables"]) == (0, made["tables"])
    code, back = ask("store", "move", address, tmp_path / "back.db")
    assert (code, back) == (0, answer)
    # looked at last: what pages work out they keep
    assert pages_of(address) == pages
    assert pages_of(tmp_path / "back.db") == pages


def test_everything_is_there_in_open_formats(made):
    with zipfile.ZipFile(made["file"]) as archive:
        names = archive.namelist()
        entries = [json.loads(line) for line in archive.read("tables/entries.jsonl").splitlines()]
        sheet = list(csv.DictReader(io.StringIO(archive.read("csv/entries-finding.csv").decode())))
        (photo,) = [name for name in names if name.startswith("photos/")]
        (spin,) = [name for name in names if name.startswith("recordings/")]
        assert archive.read(photo)[:2] == b"\xff\xd8"
        assert archive.read(spin).startswith(b"t,x,y,z\n")
    assert spin.endswith(".csv")
    assert entries[0]["body"]["contact"] == "Mrs Ode, 555 0143"
    assert [(row["job"], row["check"], row["outcome"]) for row in sheet][:2] == [
        ("1", "new_place", "no"),
        ("1", "play", "some"),
    ]
    assert {"csv/jobs.csv", "csv/movements.csv", "families/mangle.yaml"} <= set(names)


def test_a_restore_over_something_is_refused_and_changes_nothing(made, played):
    before = pages_of(played)
    code, answer = ask("store", "restore", made["file"], "--store", played)
    assert code == 2
    assert "is there already" in answer["what"]
    assert answer["remedy"] == "Give a file that does not exist, or an empty database"
    assert pages_of(played) == before


def test_families_that_are_other_ones_are_not_written_over(made, tmp_path):
    (tmp_path / OWN_FOLDER).mkdir()
    (tmp_path / OWN_FOLDER / "mangle.yaml").write_text("title: mine\n")
    code, said = run("store", "restore", made["file"], "--store", tmp_path / "workshop.db")
    assert (code, "other files of these names: mangle.yaml" in said) == (2, True)
    assert not (tmp_path / "workshop.db").exists()


def changed(made, tmp_path, name, data):
    """A copy of the backup with one file of it changed, or taken out."""
    path = tmp_path / "changed.zip"
    with zipfile.ZipFile(made["file"]) as old, zipfile.ZipFile(path, "w") as new:
        for each in old.namelist():
            content = old.read(each)
            if each == name and data is None:
                continue
            new.writestr(each, data(content) if each == name else content)
    return path


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("tables/entries.jsonl", lambda lines: lines[: lines[:-1].rindex(b"\n") + 1], "not what it was"),
        ("tables/entries.jsonl", lambda lines: lines.replace(b"555 0143", b"555 0144"), "not what it was"),
        ("tables/jobs.jsonl", None, "no backup, or it is damaged"),
        ("manifest.json", None, "no backup, or it is damaged"),
        ("manifest.json", lambda text: text.replace(b'"mangle.yaml"', b'"../mangle.yaml"'), "impossible name"),
        ("manifest.json", lambda text: text.replace(b'"version": 1', b'"version": 2'), "newer version"),
    ],
)  # fmt: skip
def test_a_damaged_backup_is_refused_and_leaves_nothing(made, tmp_path, name, data, said):
    path = changed(made, tmp_path, name, data)
    code, output = run("store", "restore", path, "--store", tmp_path / "workshop.db")
    assert code == 2
    assert said in output
    assert list(tmp_path.iterdir()) == [path]


def test_a_backup_cut_short_is_refused(made, tmp_path):
    path = tmp_path / "short.zip"
    path.write_bytes(Path(made["file"]).read_bytes()[:-500])
    code, output = run("store", "restore", path, "--store", tmp_path / "workshop.db")
    assert (code, "no backup, or it is damaged" in output) == (2, True)


def test_a_copy_that_is_not_the_same_becomes_no_backup(played, tmp_path, monkeypatch):
    from counterpoise.workshop.store.keeping import restoring

    real = restoring._rows

    def losing(archive, table):
        rows = list(real(archive, table))
        return rows[:-1] if table.name == "movements" else rows

    monkeypatch.setattr(restoring, "_rows", losing)
    code, said = run("store", "backup", tmp_path, "--store", played)
    assert (code, "not what it was" in said) == (2, True)
    assert list(tmp_path.iterdir()) == []


def test_older_backups_make_room_on_request(played, tmp_path):
    for stamp in ("20250101T000000Z", "20250102T000000Z"):
        (tmp_path / f"counterpoise-{stamp}.zip").write_bytes(b"")
    (tmp_path / "holiday.zip").write_bytes(b"")
    code, answer = ask("store", "backup", tmp_path, "--keep", "2", "--store", played)
    assert (code, len(answer["removed"])) == (0, 1)
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left[0] == "counterpoise-20250102T000000Z.zip"
    assert (len(left), left[-1]) == (3, "holiday.zip")


def test_an_upgrade_says_what_it_did(played):
    code, answer = ask("store", "upgrade", "--store", played)
    assert (code, answer["copy"]) == (0, "")
    assert answer["before"] == answer["after"]


@pytest.mark.parametrize("command", ["upgrade", "backup"])
def test_where_there_is_no_store_none_is_made(tmp_path, command):
    code, said = run("store", command, "--store", tmp_path / "nothing.db")
    assert (code, "There is no store at" in said) == (2, True)
    assert list(tmp_path.iterdir()) == []
