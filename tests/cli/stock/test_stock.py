import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.cli import main


@pytest.fixture
def call(workshop):
    shop = ForeseeableWorkshop(workshop.store, {"bench": STOCKED})
    shop.jobs.open(replace(INTAKE, owner="workshop", maker="Veltro"), "ada")

    def run(*words):
        result = CliRunner().invoke(main, [str(word) for word in words], obj=shop)
        assert result.exception is None or isinstance(result.exception, SystemExit), (
            result.exception
        )
        return result.exit_code, result.output

    return run


def test_a_part_from_coming_in_to_being_used(call, tmp_path):
    assert "Nothing lies on the shelf" in call("stock", "list")[1]
    code, text = call(
        "stock", "receive", "bench/damper_set", "--count", 2, "--kind", "used", "--place", "B2"
    )
    assert (code, "lot 1: 2 used, in B2; cost 0.00 EUR each" in text) == (0, True)
    assert "2  Set of dampers (bench/damper_set): used; B2" in call("stock", "list")[1]
    assert "1 reserved for job 1" in call("stock", "reserve", 1, "--job", 1)[1]
    assert call("stock", "reserve", 1, "--job", 1, "--count", 2)[0] == 2
    assert "0.00 EUR instead of 46.00 EUR" in call("job", "estimate", 1)[1]
    assert call("job", "repair", 1, "replace_dampers", "--from-shelf", "1:1")[0] == 0
    assert json.loads(call("stock", "list", "--json")[1])[0]["pieces"] == 1
    assert "1 to pattern" not in call("stock", "count", 1, 1)[1]
    assert "in C4" in call("stock", "move", 1, "C4")[1]
    assert call("stock", "write-off", 1, "--note", "cracked")[0] == 0
    shown = call("stock", "show", "bench/damper_set")[1]
    for said in (
        "1 written off",
        "moved to C4",
        "counted: right",
        "1 used for job 1",
        "2 came in, B2",
    ):
        assert said in shown
    assert "lot 1: 1 used" in call("stock", "undo", 6)[1]
    assert call("stock", "label", 1, tmp_path / "label.pdf")[0] == 0
    assert (tmp_path / "label.pdf").read_bytes().startswith(b"%PDF")


def test_what_is_worth_keeping_of_a_machine_goes_on_the_shelf(call):
    code, text = call("stock", "shelve", 1, "--place", "C1", "--json")
    assert (code, [lot["item"] for lot in json.loads(text)]) == (0, ["drum", "damper_set"])
    assert call("stock", "shelve", 1, "damper_set=2")[0] == 0
    assert call("stock", "use", 2, "--job", 1)[0] == 0
    assert call("stock", "release", 2, "--job", 1)[0] == 2


def test_an_estimate_reserves_on_request(call):
    call("stock", "receive", "bench/damper_set", "--kind", "used")
    assert "1 reserved for this job" in call("job", "estimate", 1, "--reserve")[1]
    assert "46.00 EUR" in call("job", "estimate", 1, "--part", "damper_set=new")[1]


def test_a_part_that_a_family_has_needs_no_family(call):
    assert call("stock", "receive", "pump")[0] == 0
    assert "bench/pump" in call("stock", "list")[1]


@pytest.mark.parametrize(
    "words",
    [
        ("receive", "bench/nothing"), ("receive", "nothing"), ("receive", "bench/pump", "--cost", "x"),
        ("show", "bench/x"),
        ("count", 9, 1), ("undo", 9), ("shelve", 1, "damper_set=x"), ("shelve", 1, "pump"), ("label", 9, "x.pdf"),
        ("reserve", 1, "--job", 9),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(call, words):
    code, text = call("stock", *words)
    assert code == 2
    assert text.startswith("Error: ")


def test_a_lot_that_is_none_is_said(call):
    assert call("job", "repair", 1, "replace_dampers", "--from-shelf", "x")[0] == 2
