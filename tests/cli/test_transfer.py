"""``export`` and ``import``: a job goes out, comes in elsewhere, and is the same job."""

import io
import itertools
import json

import pytest
from click.testing import CliRunner
from PIL import Image
from tests.web.workbench import FAMILY, ForeseeableWorkshop

from counterpoise.cli.main import main
from counterpoise.workshop.store.store import Store


@pytest.fixture
def elsewhere(tmp_path):
    """Runs a command in another workshop, where a job stands already: (exit code, output)."""
    hours = itertools.count(10)
    with Store(tmp_path / "other.db", lambda: f"2027-01-01T{next(hours) % 24}:00:00Z") as store:
        shop = ForeseeableWorkshop(store, {"bench": FAMILY})

        def call(*words):
            result = CliRunner().invoke(main, [str(word) for word in words], obj=shop)
            if result.exception is not None and not isinstance(result.exception, SystemExit):
                raise result.exception
            return result.exit_code, result.output

        call.workshop = shop
        assert call("job", "new", "--family", "bench", "--complaint", "shakes")[0] == 0
        yield call


@pytest.fixture
def full_job(ask, number, tmp_path):
    """A job with one entry of every kind, a photo among them."""
    file = tmp_path / "foot.png"
    Image.new("RGB", (8, 6), "grey").save(file)
    for words in (
        ("record", number, "new_place", "no", "--minutes", 2, "--note", "écoute, 洗"),
        ("record", number, "play", "--reading", 0.2, "--photo", file),
        ("note", number, "line\nbreak \x1b[31m", "--parts-due", "2026-03-09"),
        ("retract", number, 4, "--why", "wrong machine"),
        ("decide", number, "repair_hand_back", "--agreed", "120", "--why", "by telephone"),
        ("repair", number, "replace_dampers", "--minutes", 40),
        ("proof", number, "--passed"),
        ("close", number, "repair_hand_back", "--fault", "damper_worn:gone", "--received", "120"),
        ("came-back", number, "--why", "walks"),
    ):
        assert ask("job", *words)[0] == 0
    return number


def test_out_in_and_out_again_is_equal_but_for_the_number(
    full_job, ask, run, elsewhere, workshop, tmp_path
):
    file = tmp_path / "job.json"
    assert run("export", full_job, file) == (0, f"Job {full_job} written to {file}.\n")
    first = json.loads(file.read_text("utf-8"))
    code, answer = elsewhere("import", file, "--json")
    answer = json.loads(answer)
    assert (code, answer["stored"], answer["count"], answer["jobs"]) == (0, True, 1, [2])
    second = json.loads(elsewhere("export", 2, "--json")[1])
    assert first.pop("number") == 1
    assert second.pop("number") == 2
    assert second == first
    photo = workshop.jobs.get(1).entries[2].body.photos[0]
    kept = elsewhere.workshop.photos.get(photo)
    assert kept == workshop.photos.get(photo)
    assert Image.open(io.BytesIO(kept)).size == (8, 6)


def test_file_terminal_and_json_hold_the_same(full_job, ask, run, tmp_path):
    code, printed = run("export", full_job)
    assert code == 0
    code, answer = ask("export", full_job, tmp_path / "job.json")
    assert code == 0
    assert json.loads(printed) == answer == json.loads((tmp_path / "job.json").read_text("utf-8"))
    assert {"format", "version", "number", "entries"} <= set(answer)
    assert [entry["number"] for entry in answer["entries"]] == list(range(1, 11))


def test_a_dry_run_stores_nothing(full_job, run, elsewhere, tmp_path):
    file = tmp_path / "job.json"
    run("export", full_job, file)
    assert elsewhere("import", file, "--dry-run") == (
        0,
        "1 job can be taken in; nothing was stored.\n",
    )
    answer = json.loads(elsewhere("import", file, "--dry-run", "--json")[1])
    assert (answer["stored"], answer["count"], answer["jobs"]) == (False, 1, [])
    assert len(elsewhere.workshop.jobs.lines()) == 1


def test_the_terminal_names_the_number_that_was_given(full_job, run, elsewhere, tmp_path):
    run("export", full_job, tmp_path / "job.json")
    assert "1 job taken in, number 2 to 2." in elsewhere("import", tmp_path / "job.json")[1]


@pytest.mark.parametrize("cut", [1, 40, 400, -3])
def test_a_file_broken_off_is_refused_whole(full_job, run, elsewhere, tmp_path, cut):
    file = tmp_path / "job.json"
    run("export", full_job, file)
    file.write_bytes(file.read_bytes()[:cut])
    code, text = elsewhere("import", file)
    assert (code, text.startswith("Error: "), len(text.splitlines())) == (2, True, 1)
    assert len(elsewhere.workshop.jobs.lines()) == 1


@pytest.mark.parametrize(
    "change",
    [
        {"format": "something else"},
        {"version": 0},
        {"entries": []},
        {"entries": None},
        {"entries": [{"number": 1}]},
    ],
)
def test_a_file_that_is_another_is_refused_whole(full_job, ask, elsewhere, tmp_path, change):
    data = ask("export", full_job)[1] | change
    (tmp_path / "job.json").write_text(json.dumps(data), encoding="utf-8")
    code, answer = elsewhere("import", tmp_path / "job.json", "--json")
    problem = json.loads(answer)
    assert code == 2
    assert set(problem) == {"what", "field", "remedy"}
    assert len(elsewhere.workshop.jobs.lines()) == 1
