"""A workshop's own folder: its families, what it changed of shipped ones, and files that break."""

import shutil
from pathlib import Path

import pytest

from counterpoise.catalog import loader
from counterpoise.catalog.cases import known_cases, shipped_cases
from counterpoise.catalog.loader import Catalog, families
from counterpoise.catalog.places import own_folder
from counterpoise.errors import CatalogError, NotFoundError

SPIN_DRYER = Path(__file__).parents[1] / "files" / "spin_dryer.yaml"
PRIOR = "  faults.damper_worn.prior: {was: 0.11, to: 0.2, source: workshop, why: 12 of 60 jobs}\n"


@pytest.fixture
def folder(tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    return own


def add_dryer(folder, name="dryer"):
    text = SPIN_DRYER.read_text().replace("family: spin_dryer", f"family: {name}", 1)
    (folder / f"{name}.yaml").write_text(text)


def change(folder, text, family="front_loader"):
    path = folder / f"{family}.changes.yaml"
    path.write_text(f"changes: {family}\n{text}")
    return path


def problems(folder, family="front_loader"):
    return Catalog(folder).inspect(family).problems


# --- where the folder is ---


def test_the_folder_is_the_one_given_else_beside_the_store(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert own_folder("mine", "a/b.db") == tmp_path / "mine"
    assert own_folder(None, "a/b.db") == tmp_path / "a" / "counterpoise-families"
    assert own_folder("", "postgresql://host/x") == tmp_path / "counterpoise-families"


def test_without_a_folder_or_with_one_that_is_not_there_only_shipped_families_are_known(tmp_path):
    for known in (Catalog(), Catalog(tmp_path / "none")):
        assert list(known) == families()
        assert all(origin.text == "shipped" for origin in known.origins().values())
        assert not known.broken()


# --- families of its own ---


def test_an_own_family_stands_beside_the_shipped_ones(folder):
    add_dryer(folder)
    known = Catalog(folder)
    assert sorted(known) == sorted([*families(), "dryer"])
    assert known["dryer"].id == "dryer"
    assert known.origins()["dryer"].text == "the workshop's own"


def test_an_own_family_goes_before_a_shipped_one_of_its_id_and_says_so(folder):
    add_dryer(folder, "top_loader")
    known = Catalog(folder)
    assert known["top_loader"].title == Catalog(folder).load(SPIN_DRYER).title
    assert known.origins()["top_loader"].text == "the workshop's own, in place of the shipped one"
    # the stories shipped are about another machine
    assert "top_loader" not in {case.family for case in known_cases(known)[0]}


def test_files_that_come_change_and_go_are_noticed(folder):
    known = Catalog(folder)
    assert "dryer" not in known
    add_dryer(folder)
    first = known["dryer"]
    assert known["dryer"] is first
    path = folder / "dryer.yaml"
    path.write_text(path.read_text().replace("typical_mass_kg: 12", "typical_mass_kg: 13", 1))
    assert known["dryer"].typical_mass_kg != first.typical_mass_kg
    assert known["dryer"].digest != first.digest
    path.unlink()
    assert "dryer" not in known


def test_sources_beside_a_family_are_its_own_and_part_of_what_it_is(folder):
    add_dryer(folder)
    path = folder / "dryer.yaml"
    path.write_text(path.read_text().replace("source: from memory", "source: smith", 1))
    assert "no source smith" in problems(folder, "dryer")[0]
    (folder / "dryer.sources.yaml").write_text("smith: {title: Notes of our own}\n")
    known = Catalog(folder)
    before = known["dryer"]
    assert before.sources["smith"].title == "Notes of our own"
    (folder / "dryer.sources.yaml").write_text("smith: {title: Notes of another}\n")
    assert known["dryer"].digest != before.digest


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (
            lambda text: text.replace("family: dryer", "family: drier", 1),
            "name the file drier.yaml",
        ),
        (lambda text: text.replace("prior: ", "prior: x", 1), "is not a number"),
        (lambda _: "", "is empty"),
        (lambda _: "family: [", "is not YAML"),
        (lambda _: "\x00\x01", "is not YAML"),
    ],
)
def test_a_broken_file_is_named_and_takes_nothing_else_down(folder, harm, said):
    add_dryer(folder)
    path = folder / "dryer.yaml"
    path.write_text(harm(path.read_text()))
    known = Catalog(folder)
    assert list(known) == families()
    assert len(known) == len(families())
    assert "dryer" not in known
    (problem, *_) = known.broken()["dryer"].problems
    assert problem.startswith("dryer.yaml:")
    assert said in problem
    assert known["front_loader"].changes == ()
    with pytest.raises(KeyError):
        known["dryer"]
    with pytest.raises(CatalogError):
        known.load("dryer")


def test_an_unknown_name_is_told_with_where_its_file_belongs(folder):
    with pytest.raises(NotFoundError) as caught:
        Catalog(folder).load("dishwasher")
    assert f"dishwasher.yaml in {folder}" in str(caught.value)
    assert "catalog add" in str(caught.value)


# --- changes to shipped families ---


def test_a_changed_figure_holds_and_says_where_it_is_from(folder):
    change(folder, "figures:\n" + PRIOR + "  proof.misses: {to: 0.1, source: from memory}\n")
    known = Catalog(folder)
    changed, shipped = known["front_loader"], Catalog()["front_loader"]
    assert changed.faults["damper_worn"].prior == 0.2
    assert changed.faults["damper_worn"].source.endswith(
        "; prior: changed by this workshop from 0.11 to 0.2, workshop (12 of 60 jobs)"
    )
    assert changed.proof_misses == 0.1
    assert "misses: changed by this workshop from 0.06 to 0.1" in changed.proof_source
    assert [one.place for one in changed.changes] == ["faults.damper_worn.prior", "proof.misses"]
    # and nothing else moved
    assert {k: v for k, v in changed.faults.items() if k != "damper_worn"} == {
        k: v for k, v in shipped.faults.items() if k != "damper_worn"
    }
    assert changed.checks == shipped.checks
    assert changed.digest != shipped.digest
    assert known.origins()["front_loader"].text == "shipped, with figures changed by this workshop"
    # its stories are still those shipped
    assert {case.id for case in known_cases(known)[0]} == {case.id for case in shipped_cases()}


def test_a_figure_that_the_file_leaves_out_can_be_given(folder):
    change(
        folder,
        "figures:\n  checks.drum_by_hand.slip: {to: 0.02, source: workshop}\n"
        "  checks.drum_by_hand.under.belt_worn.on_its_own: {to: 0.02, source: workshop}\n",
    )
    entry = Catalog(folder)["front_loader"].checks["drum_by_hand"]
    assert entry.slip == 0.02
    assert entry.under["belt_worn"] == {"on_its_own": 0.02}
    assert entry.source.count("changed by this workshop to 0.02, workshop") == 2


def test_a_caution_of_ones_own_is_added_before_those_shipped_are_touched(folder):
    change(
        folder,
        "cautions:\n  ramp: {text: Mind the ramp., grave: true, source: common practice}\n"
        "add_cautions:\n  checks.drum_by_hand: [ramp]\n  proof: [ramp]\n",
    )
    changed, shipped = Catalog(folder)["front_loader"], Catalog()["front_loader"]
    before = shipped.checks["drum_by_hand"].cautions
    assert changed.checks["drum_by_hand"].cautions == (*before, "ramp")
    assert changed.proof_cautions == (*shipped.proof_cautions, "ramp")
    assert changed.cautions["ramp"].grave


REFUSED = [
    ("figures:\n  faults.belt_wrn.prior: {to: 0.2, source: workshop}\n", 3, "did you mean belt_worn?"),
    ("figures:\n  faults.belt_worn.piror: {to: 0.2, source: workshop}\n", 3, "did you mean prior?"),
    ("figures:\n  faults.belt_worn.prior: {to: 0.2}\n", 3, "source is missing"),
    ("figures:\n  faults.belt_worn.prior: {to: 0.2, source: hearsay}\n", 3, "no source hearsay"),
    ("figures:\n  faults.belt_worn.prior: {to: 2, source: workshop}\n", 3, "outside its limits"),
    ("figures:\n  faults.belt_worn.prior: 0.2\n", 3, "is not a table"),
    ("figures:\n  faults.belt_worn.title: {to: 2, source: workshop}\n", 3, "not a figure"),
    ("figures:\n  faults.belt_worn: {to: 2, source: workshop}\n", 3, "not a figure"),
    ("figures:\n  faults.belt_worn.alone: {to: 1, source: workshop}\n", 3, "not true or false"),
    ("figures:\n  checks.short_run.under.belt_worn.dead: {to: 0.9, source: workshop}\n", 3, "chances sum to"),
    ("figures:\n  repairs.new_belt.parts.belt: {to: 1.5, source: workshop}\n", 3, "whole number"),
    ("figures:\n  cautions.unplug.grave: {to: 0, source: workshop}\n", 3, "a caution cannot be changed"),
    ("figures:\n  checks.look_belt.cautions.0: {to: 0, source: workshop}\n", 3, "a caution cannot be changed"),
    ("figures:\n  repairs.new_belt.people: {to: 0, source: workshop}\n", 3, "outside its limits"),
    ("cautions:\n  unplug: {text: x, source: workshop}\n", 3, "cannot be changed"),
    ("add_cautions:\n  checks.look_blt: [unplug]\n", 3, "did you mean checks.look_belt?"),
    ("add_cautions:\n  checks.look_belt: [unplugg]\n", 3, "did you mean unplug?"),
    ("add_cautions:\n  checks.look_belt: unplug\n", 3, "is not a list"),
    ("figure:\n  faults.belt_worn.prior: {to: 0.2, source: workshop}\n", 2, "did you mean figures?"),
    ("figures: [1]\n", 2, "holds a list"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line", "said"), REFUSED)
@pytest.mark.usefixtures("small")
def test_what_cannot_be_changed_is_refused_with_line_reason_and_remedy(folder, text, line, said):
    change(folder, text, "my_machine")
    told = [one for one in problems(folder, "my_machine") if said in one]
    assert told
    assert told[0].startswith(f"my_machine.changes.yaml:{line}: ")
    assert "; " in told[0]
    # the family is named broken, and the others work
    known = Catalog(folder)
    assert list(known.broken()) == ["my_machine"]
    assert list(known) == ["other"]


def test_nobody_is_asked_to_do_with_fewer_hands_and_more_may_be_asked_for(folder):
    change(folder, "figures:\n  access.tipped.people: {to: 1, source: workshop}\n")
    (problem,) = problems(folder)
    assert "so that nobody gets hurt" in problem
    change(folder, "figures:\n  access.tipped.people: {to: 3, source: workshop}\n")
    assert Catalog(folder)["front_loader"].access["tipped"].people == 3


def test_a_shipped_figure_that_moved_since_is_warned_of(folder):
    change(folder, PRIOR.replace("0.11", "0.1").join(["figures:\n", ""]))
    report = Catalog(folder).inspect("front_loader")
    assert report.family is not None
    assert "shipped is 0.11 now, not 0.1" in report.warnings[0]
    assert report.warnings[0].startswith("front_loader.changes.yaml:3: ")


def test_changes_of_a_family_that_is_not_shipped_are_named_broken(folder):
    change(folder, "", "dishwasher")
    add_dryer(folder)
    change(folder, "", "dryer")
    broken = Catalog(folder).broken()
    assert set(broken) == {"dishwasher", "dryer"}
    assert "no family dishwasher to change" in broken["dishwasher"].problems[0]
    assert "change its own file" in broken["dryer"].problems[0]


def test_changes_can_be_looked_at_before_they_are_in_the_folder(folder, tmp_path):
    path = change(tmp_path, "figures:\n" + PRIOR)
    assert Catalog(folder).load(path).faults["damper_worn"].prior == 0.2
    assert Catalog(folder)["front_loader"].changes == ()


# --- what was parsed is kept, and never used for another text ---


def test_an_own_family_is_parsed_once(folder, monkeypatch):
    add_dryer(folder)
    change(folder, "figures:\n" + PRIOR)
    first = [Catalog(folder)[key].digest for key in ("dryer", "front_loader")]
    loader._inspect.cache_clear()

    def parse(*_):
        raise AssertionError("parsed again")

    monkeypatch.setattr("counterpoise.catalog.schema.parsing.parse_family", parse)
    assert [Catalog(folder)[key].digest for key in ("dryer", "front_loader")] == first
    assert not (folder / "__pycache__").exists()


def test_changed_text_under_an_old_date_is_read_anew(folder):
    add_dryer(folder)
    path = folder / "dryer.yaml"
    kept = shutil.copy2(path, folder / "kept")
    first = Catalog(folder)["dryer"]
    path.write_text(path.read_text().replace("typical_mass_kg: 12", "typical_mass_kg: 13", 1))
    shutil.copystat(kept, path)
    assert Catalog(folder)["dryer"].typical_mass_kg != first.typical_mass_kg


def test_stories_of_ones_own_are_known_and_a_broken_book_is_left_out(folder):
    add_dryer(folder)
    story = {
        "title": "Wobbles", "story": "It wobbles and stops, as lopsided loads do.", "owner": "customer",
        "family": "dryer", "complaints": "[shakes]", "suspect_first": "[lopsided]",
        "do_next": "[scrap]", "why": "Load first.", "source": "from memory",
    }  # fmt: skip
    lines = "".join(f"  {key}: {value}\n" for key, value in story.items())
    (folder / "dryer.cases.yaml").write_text("wobbles:\n" + lines)
    cases, wrong = known_cases(Catalog(folder))
    assert "wobbles" in {case.id for case in cases}
    assert not wrong
    (folder / "dryer.cases.yaml").write_text("wobbles:\n" + lines.replace("lopsided", "lopsidet"))
    cases, wrong = known_cases(Catalog(folder))
    assert [case.id for case in cases] == [case.id for case in shipped_cases()]
    assert "did you mean lopsided?" in wrong[0]
    (folder / "dryer.yaml").write_text("")
    assert "mend its file" in known_cases(Catalog(folder))[1][0]
