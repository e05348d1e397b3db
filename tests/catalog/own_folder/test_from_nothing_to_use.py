"""A family of one's own by the commands: begun, tried, added, listed; and a job of it to its quote."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import Catalog
from counterpoise.cli import main


@pytest.fixture(autouse=True)
def bench(tmp_path, monkeypatch):
    """A folder of one's own, with no store and no families named from outside."""
    monkeypatch.chdir(tmp_path)
    for name in ("COUNTERPOISE_STORE", "COUNTERPOISE_FAMILIES"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def run(line, code=0):
    result = CliRunner().invoke(main, line.split())
    assert result.exit_code == code, result.output + result.stderr
    return result.output + result.stderr


def ask(line, code=0):
    result = CliRunner().invoke(main, [*line.split(), "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


def rewrite(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def test_what_new_writes_is_sound_and_its_stories_go_as_they_say(bench):
    begun = ask("catalog new dishwasher")
    assert begun == {"id": "dishwasher", "files": ["dishwasher.yaml", "dishwasher.cases.yaml"]}
    assert ask("catalog check dishwasher.yaml")["problems"] == []
    assert ask("catalog check dishwasher.cases.yaml") == {"problems": [], "warnings": []}
    tried = ask("catalog try dishwasher.yaml --complaint stands_still --age 9")
    assert [row["objections"] for row in tried["stories"]] == [[], []]
    assert tried["first"]["step"]
    assert tried["first"]["complaints"] == ["stands_still"]
    assert tried["first"]["suspects"][0][0] in {"belt_worn", "motor_burnt"}
    # and nothing was put anywhere
    assert not (bench / "counterpoise-families").exists()


def test_a_story_that_goes_otherwise_is_said_and_the_status_is_1(bench):
    run("catalog new dishwasher")
    rewrite(
        bench / "dishwasher.cases.yaml",
        "suspect_first: [uneven_feet]",
        "suspect_first: [motor_burnt]",
    )
    text = run("catalog try dishwasher.yaml", 1)
    assert "off     rocks_since_the_move" in text
    assert "suspects uneven_feet first, not motor_burnt" in text
    assert "1 of 2 stories go as they say." in text


def test_an_added_family_is_listed_worked_with_and_quoted(bench):
    run("catalog new dishwasher --title Dishwasher")
    added = ask("catalog add dishwasher.yaml")
    folder = bench / "counterpoise-families"
    assert added["folder"] == str(folder)
    assert sorted(path.name for path in folder.iterdir()) == [
        "dishwasher.cases.yaml",
        "dishwasher.yaml",
    ]
    (row,) = [row for row in ask("catalog families") if row["id"] == "dishwasher"]
    assert row["origin"] == "the workshop's own"
    assert row["file"] == str(folder / "dishwasher.yaml")
    assert "The workshop's own" in run("catalog families")
    assert "rocks_since_the_move" in run("cases")
    run("job new --family dishwasher --complaint shakes --age 4")
    assert "rock_it" in json.dumps(ask("job next 1"))
    run("job record 1 rock_it rocks")
    assert "set_feet" in json.dumps(ask("job next 1"))
    assert ask("job quote 1")


def test_a_mistake_is_refused_with_line_and_remedy_and_nothing_is_added(bench):
    run("catalog new dishwasher")
    rewrite(bench / "dishwasher.yaml", "prior: 0.35", "prior: 3.5")
    for line in ("catalog add dishwasher.yaml", "catalog try dishwasher.yaml"):
        text = run(line, 2)
        assert "dishwasher.yaml:" in text
        assert "prior: 3.5 is outside its limits; it must be less than 1" in text
        assert set(ask(line, 2)) == {"what", "field", "remedy"}
    assert "3.5 is outside" in run("catalog check dishwasher.yaml", 1)
    assert not (bench / "counterpoise-families").exists()


def test_a_mistake_in_the_stories_beside_it_is_refused_too(bench):
    run("catalog new dishwasher")
    rewrite(bench / "dishwasher.cases.yaml", "do_next: [rock_it,", "do_next: [rok_it,")
    assert "did you mean rock_it?" in run("catalog add dishwasher.yaml", 2)
    assert not (bench / "counterpoise-families").exists()


REFUSED = [
    ("catalog new front_loader", "there is a family front_loader already (shipped)"),
    ("catalog new Dish-washer", "Use 2 to 40 small letters"),
    ("catalog new sources", "cannot be one"),
    ("catalog new dishwasher --changes", "is not shipped"),
    ("catalog add nothing.yaml", "There is no file nothing.yaml"),
    ("catalog try nothing.yaml", "There is no file nothing.yaml"),
    ("job new --family dishwasher --complaint shakes", "dishwasher.yaml in "),
    ("study --family dishwasher", "catalog add dishwasher.yaml"),
    ("calibrate --family dishwasher", "catalog add dishwasher.yaml"),
]


@pytest.mark.parametrize(("line", "said"), REFUSED)
def test_what_cannot_be_is_said_with_what_to_do(line, said):
    assert said in " ".join(run(line, 2).split())


def test_nothing_is_written_over_unasked(bench):
    run("catalog new dishwasher")
    assert "exists already" in run("catalog new dishwasher", 2)
    run("catalog add dishwasher.yaml")
    # the same once more changes nothing
    run("catalog add dishwasher.yaml")
    rewrite(bench / "dishwasher.yaml", "prior: 0.35", "prior: 0.3")
    assert "Give --replace to write over it" in run("catalog add dishwasher.yaml", 2)
    run("catalog add dishwasher.yaml --replace")
    assert "prior: 0.3\n" in (bench / "counterpoise-families" / "dishwasher.yaml").read_text()
    there = "catalog add counterpoise-families/dishwasher.yaml"
    assert "What is changed there counts at once" in run(there, 2)


def test_a_shipped_family_steps_back_only_where_it_is_told_to(bench):
    run("catalog new dishwasher")
    text = (
        (bench / "dishwasher.yaml")
        .read_text()
        .replace("family: dishwasher", "family: top_loader", 1)
    )
    (bench / "mine.yaml").write_text(text)
    assert "A family top_loader is shipped" in run("catalog add mine.yaml", 2)
    assert "steps back for it" in run("catalog add mine.yaml --replace")
    assert Catalog(bench / "counterpoise-families").origins()["top_loader"].instead


def test_sources_beside_a_family_go_with_it(bench):
    run("catalog new dishwasher")
    (bench / "sources.yaml").write_text("smith: {title: Notes of our own}\n")
    rewrite(bench / "dishwasher.yaml", "source: invented", "source: smith")
    run("catalog add dishwasher.yaml")
    folder = bench / "counterpoise-families"
    assert (folder / "dishwasher.sources.yaml").read_text() == "smith: {title: Notes of our own}\n"
    assert Catalog(folder)["dishwasher"].sources["smith"].title == "Notes of our own"


@pytest.mark.usefixtures("small")
def test_changes_are_begun_tried_added_and_shown_with_where_they_are_from(bench):
    (file,) = ask("catalog new my_machine --changes")["files"]
    report = ask(f"catalog check {file}")
    assert report["problems"] == []
    assert "changes nothing" in report["warnings"][0]
    rewrite(bench / file, "to: 0.1", "to: 0.4")
    tried = ask(f"catalog try {file}")
    assert tried["kind"] == "changes"
    assert tried["shipped"]["suspects"] != tried["first"]["suspects"]
    run(f"catalog add {file}")
    said = "changed by this workshop from 0.1 to 0.4, workshop"
    assert said in run("catalog families")
    assert said in run("catalog show my_machine nothing_wrong")
    assert said in json.dumps(ask("catalog show my_machine faults.nothing_wrong"))
    # and where a step says why
    run("job new --family my_machine --complaint loud")
    assert any(said in text for text in ask("job next 1")["assessment"]["changed"])
    assert said in " ".join(run("job next 1").split())


def test_stories_of_ones_own_for_a_family_that_is_there_are_added(bench):
    run("catalog new dishwasher")
    stories = (bench / "dishwasher.cases.yaml").read_text()
    (bench / "dishwasher.cases.yaml").unlink()
    run("catalog add dishwasher.yaml")
    (bench / "more.yaml").write_text(stories)
    assert ask("catalog try more.yaml")["kind"] == "stories"
    run("catalog add more.yaml")
    assert (bench / "counterpoise-families" / "dishwasher.cases.yaml").read_text() == stories


def test_the_folder_is_named_by_option_before_the_environment(bench, monkeypatch):
    run("catalog new dishwasher")
    monkeypatch.setenv("COUNTERPOISE_FAMILIES", str(bench / "ours"))
    assert ask("catalog add dishwasher.yaml")["folder"] == str(bench / "ours")
    assert ask("catalog add dishwasher.yaml --families mine")["folder"] == str(bench / "mine")
    assert "dishwasher" in [row["id"] for row in ask("catalog families")]
    assert "dishwasher" not in [row["id"] for row in ask("catalog families --families none")]


def test_a_store_elsewhere_has_its_families_beside_it(bench, monkeypatch):
    (bench / "shop").mkdir()
    monkeypatch.setenv("COUNTERPOISE_STORE", str(bench / "shop" / "jobs.db"))
    run("catalog new dishwasher")
    assert ask("catalog add dishwasher.yaml")["folder"] == str(
        bench / "shop" / "counterpoise-families"
    )
    run("job new --family dishwasher --complaint loud")


def test_a_folder_that_cannot_be_written_is_said(bench):
    run("catalog new dishwasher")
    (bench / "taken").write_text("no folder")
    assert "cannot be written" in run("catalog add dishwasher.yaml --families taken", 2)
