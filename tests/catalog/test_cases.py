import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterpoise.catalog.cases import ENDINGS, load_cases, shipped_cases
from counterpoise.catalog.loader import families, load_family
from counterpoise.catalog.places import DATA, case_files
from counterpoise.cli import main
from counterpoise.errors import CatalogError
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.casebook import job_of, play_case


def test_the_case_book_is_long_enough_and_every_story_is_short():
    cases = shipped_cases()
    assert len(cases) >= 25
    assert all(12 <= len(case.story.split()) <= 80 for case in cases)
    assert all(case.do_next and case.blunder for case in cases)


def test_every_family_has_its_stories_beside_it_and_no_name_comes_twice():
    assert list(case_files(DATA)) == families()
    for family, path in case_files(DATA).items():
        assert {case.family for case in load_cases(path)} == {family}
    names = [case.id for case in shipped_cases()]
    assert len(names) == len(set(names))


def test_every_kind_of_trouble_has_a_case():
    family = load_family("front_loader")
    first = {
        fault
        for case in shipped_cases()
        if case.family == family.id
        for fault in case.suspect_first
    }
    assert {family.faults[fault].assembly for fault in first} >= {
        "load", "feet", "place", "drain", "lock", "dampers", "springs", "weights", "tub", "bellows",
    }  # fmt: skip


def test_every_case_can_be_entered_as_evidence():
    for case in shipped_cases():
        job = job_of(case, load_family(case.family))
        assert len(job.standing) == 1 + len(case.findings)


def test_stories_that_wait_can_be_entered_and_stand_in_no_book():
    waiting = load_cases(Path(__file__).parents[2] / "docs" / "stories-that-wait.yaml")
    assert waiting
    assert not {case.id for case in waiting} & {case.id for case in shipped_cases()}
    for case in waiting:
        job = job_of(case, load_family(case.family))
        assert len(job.standing) == 1 + len(case.findings)


@pytest.mark.slow
@pytest.mark.parametrize("case", shipped_cases(), ids=lambda case: case.id)
def test_the_bench_goes_as_a_seasoned_hand_would_have_it(case):
    verdict = play_case(case, load_family(case.family), assess, Settings())
    assert not verdict.objections


def test_an_answer_against_the_judgement_is_objected_to():
    case = replace(
        next(case for case in shipped_cases() if case.id == "rumbles_wobbles_crumbs"),
        suspect_first=("suds",),
        blunder=("part_out",),
        decision="scrap",
    )
    told = play_case(case, load_family(case.family), assess, Settings()).objections
    assert told[0].endswith("first, not suds")
    assert told[1:] == ("goes on with part_out, a blunder", "would decide for part_out, not scrap")
    told = play_case(
        replace(case, blunder=(), do_next=("scrap",)), load_family(case.family), assess, Settings()
    ).objections
    assert told[1] == "goes on with part_out, not with one of scrap"


def test_the_ways_out_are_those_of_the_record():
    assert set(ENDINGS) == set(OPTIONS)


MISTAKES = [
    ("[transit_bolts]", "[transit_bolt]", "there is no fault transit_bolt; did you mean transit_bolts?"),
    ("look_transit_bolts, remove", "look_bolts, remove", "do_next.1: there is no check, repair or way out look_bolts"),
    ("ask_since_when: from_new", "ask_since_when: new", "there is no outcome of ask_since_when 'new'"),
    ("ask_since_when: from_new", "ask_since: from_new", "there is no check ask_since; did you mean ask_since_when?"),
    ("complaints: [shakes, walks]", "complaints: [shake]", "there is no complaint shake; did you mean shakes?"),
    ("owner: customer", "owner: costumer", "'costumer' is not allowed; did you mean customer?"),
    ("age: 0", "age: -1", "age: -1 is outside its limits"),
    ("blunder: [empty_spin", "blunder: [look_transit_bolts", "look_transit_bolts is right and a blunder at once"),
    ("family: front_loader", "family: front", "there is no family 'front'; known: front_loader"),
    ("  owner: customer", "  features: {drive: chain}\n  owner: customer", "there is no value of drive chain"),
    ("  owner: customer", "  ower: customer", "unknown key ower; did you mean owner?"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), MISTAKES)
def test_a_mistake_in_a_case_is_told_with_its_line(tmp_path, old, new, message):
    path = tmp_path / "front_loader.cases.yaml"
    text = case_files(DATA)["front_loader"].read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(CatalogError) as caught:
        load_cases(path)
    (problem,) = [one for one in caught.value.problems if message in one]
    line = text[: text.index(old)].count("\n") + 1
    assert re.match(rf"front_loader\.cases\.yaml:({line}|{line + 1}): delivered_yesterday", problem)


def run(*arguments):
    return CliRunner().invoke(main, ["cases", *arguments])


def test_cases_are_listed_and_shown():
    assert len(run().output.splitlines()) == len(shipped_cases())
    shown = run("lurch_then_quiet").output
    assert "Suspect first: normal" in shown
    assert "A blunder: " in shown
    rows = json.loads(run("--json").output)
    assert [row["id"] for row in rows] == [case.id for case in shipped_cases()]


def test_an_unknown_case_is_told():
    result = run("lurch_then_quite")
    assert result.exit_code == 2
    assert "Did you mean lurch_then_quiet?" in result.stderr
