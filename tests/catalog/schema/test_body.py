"""What a family says of the machine as a thing: body, proof and measurements, and what is assumed without them."""

from pathlib import Path

import pytest

from counterpoise.bench.evidence import ANSWERS
from counterpoise.catalog.body import MEASUREMENTS, Body
from counterpoise.catalog.loader import families, inspect_family, load_family
from counterpoise.report.views.measures.forms import FORMS

FILES = Path(__file__).parents[1] / "files"
SMALL = (FILES / "small.yaml").read_text()


def report(tmp_path, *changes):
    text = SMALL
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "small.yaml"
    file.write_text(text)
    (tmp_path / "sources.yaml").write_text((FILES / "sources.yaml").read_text())
    return inspect_family(file)


@pytest.mark.parametrize("name", families())
def test_a_shipped_family_says_all_of_it(name):
    family = load_family(name)
    assert family.body.source
    assert any(check.measures for check in family.checks.values())
    assert family.proof_word in {"spin", "run"}
    assert family.body.spins or family.proof_word == "run"
    # a panel that a machine is laid down for says so, or what that takes would not be said before it
    for access in family.access.values():
        if access.id in {"tipped", "on_side"}:
            assert access.tips, access.id
    assert family.body.tips or not any(access.tips for access in family.access.values())


def test_what_is_left_out_is_assumed_and_said(tmp_path):
    body = SMALL[SMALL.index("body:") :]
    found = report(tmp_path, (body, ""), ("    measures: bounce\n", ""))
    assert found.family.body == Body()
    assert found.family.proof_title == "Proof spin"
    told = " ".join(found.warnings)
    assert (
        "body is missing; assumed: a drum behind a door, 4 feet that screw in and out, up to 1900 rpm"
        in told
    )
    assert "no check names its measurement" in told


def test_a_kind_that_does_not_spin_is_proved_by_a_run(tmp_path):
    found = report(tmp_path, ("top_rpm: 1400", "top_rpm: null")).family
    assert not found.body.spins
    assert (found.proof_title, found.proof_word) == ("Proof run", "run")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            ("measures: bounce", "measures: bounces"),
            "there is no measurement bounces; did you mean bounce?",
        ),
        (
            ("measures: bounce", "measures: level.gaps"),
            "there is no number of level gaps; did you mean gap?",
        ),
        (("top_rpm: 1400", "top_rpm: 3001"), "it must be 3000 or less"),
        (("number: 4", "number: 0"), "it must be 1 or more"),
        (("turns: drum, ", ""), "turns is missing"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, change, told):
    assert told in " ".join(report(tmp_path, change).problems)


@pytest.mark.parametrize(
    "feet", [("number: 4", "number: 3"), ("adjustable: true", "adjustable: false")]
)
def test_only_four_feet_that_screw_can_be_levelled(tmp_path, feet):
    level = ("measures: bounce", "measures: level")
    (problem,) = report(tmp_path, level, feet).problems
    assert "checks.push.measures: level says which of four feet to turn" in problem
    assert report(tmp_path, level).problems == ()


def test_the_measurements_of_the_catalog_are_those_of_the_bench():
    assert list(MEASUREMENTS) == list(FORMS)
    # the number of each check that the bench knows by its id is one that a check may name
    known = {number for numbers in MEASUREMENTS.values() for number in numbers}
    assert {number for _, number in ANSWERS.values()} <= known


def test_texts_are_put_into_the_words_of_the_kind():
    other = Body(turns="basket", opens="lid")
    assert other.spoken("Drum still, door wide open: the drum's own, two drums.") == (
        "Basket still, lid wide open: the basket's own, two baskets."
    )
    assert other.spoken("An eardrum in the doorway") == "An eardrum in the doorway"
    assert Body().spoken("Drum still, door open") == "Drum still, door open"
