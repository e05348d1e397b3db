"""What the commands share: texts read into values, errors told as JSON, answers made plain."""

from dataclasses import dataclass

import click
import pytest
from click.testing import CliRunner

from counterpoise.cli.common import (
    hand,
    money,
    numbers,
    pairs,
    plain,
    problem,
    workshop_command,
)
from counterpoise.errors import ConflictError, InputError, NotFoundError


@dataclass
class Lot:
    number: int
    place: str


def test_pairs_split_at_the_first_sign_only():
    assert pairs(["drive=belt", "note=a=b"], "feature", "drive=belt") == {
        "drive": "belt",
        "note": "a=b",
    }


def test_of_pairs_with_one_name_the_last_holds():
    assert pairs(["drive=belt", "drive=direct"], "feature", "drive=belt") == {"drive": "direct"}


@pytest.mark.parametrize("text", ["", "drive", "=belt", "drive=", "="])
def test_what_is_no_pair_is_refused_with_the_name_of_the_option(text):
    with pytest.raises(InputError, match="not name=value") as refused:
        pairs(["a=b", text], "feature", "drive=belt")
    assert refused.value.field == "feature"
    assert refused.value.remedy == "Write it like drive=belt."


def test_numbers_take_comma_and_point():
    assert numbers(["mass=70,5", "springs=4.0"], "set", "mass=70") == {"mass": 70.5, "springs": 4.0}


@pytest.mark.parametrize("text", ["mass=heavy", "mass=nan", "mass=inf", "mass=1e10", "mass=-1e10"])
def test_what_is_no_figure_of_a_machine_is_refused_by_its_name(text):
    with pytest.raises(InputError) as refused:
        numbers([text], "set", "mass=70")
    assert refused.value.field == "mass"


def test_an_amount_that_was_not_typed_is_none_and_not_nothing():
    assert money("", "cost") is None
    assert money("0", "cost") == 0
    assert money("48,50", "cost") == 4850


def test_amounts_below_zero_are_taken_only_where_they_can_be():
    assert money("-5", "received", negative=True) == -500
    with pytest.raises(InputError) as refused:
        money("-5", "cost")
    assert refused.value.field == "cost"


def test_the_hand_is_the_one_given_then_the_user_then_the_bench(monkeypatch):
    monkeypatch.setenv("USER", "ada")
    assert hand("grace") == "grace"
    assert hand("") == "ada"
    monkeypatch.delenv("USER")
    assert hand("") == "bench"


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (
            InputError("age: is odd", field="age", remedy="Give years."),
            {"what": "age: is odd", "field": "age", "remedy": "Give years."},
        ),
        (
            NotFoundError("No job 7", remedy="The last is 3."),
            {"what": "No job 7", "field": "", "remedy": "The last is 3."},
        ),
        (ConflictError("Too late"), {"what": "Too late", "field": "", "remedy": ""}),
    ],
)
def test_every_error_is_told_in_the_same_three_fields(error, told):
    assert problem(error) == told


@pytest.mark.parametrize(
    ("value", "made"),
    [
        (Lot(1, "B2"), {"number": 1, "place": "B2"}),
        ((Lot(1, "B2"), Lot(2, "")), [{"number": 1, "place": "B2"}, {"number": 2, "place": ""}]),
        ([], []),
        ("text", "text"),
        (None, None),
        ({"count": 3}, {"count": 3}),
        ([1, [Lot(1, "")]], [1, [{"number": 1, "place": ""}]]),
    ],
)
def test_answers_are_made_plain(value, made):
    assert plain(value) == made


def test_a_class_is_no_answer_and_stays_what_it_is():
    assert plain(Lot) is Lot


@click.command()
@click.argument("number", type=int)
@workshop_command
def shelf(workshop, number, *, in_words):
    """A command of a workshop."""
    if number < 0:
        raise InputError("number: is below zero", field="number", remedy="Count from 1.")
    if in_words:
        click.echo(f"lot {number} of {workshop}")
    return Lot(number, "B2")


def test_a_command_says_it_in_words_or_prints_its_answer_as_json():
    said = CliRunner().invoke(shelf, ["3"], obj="the yard")
    assert (said.exit_code, said.output) == (0, "lot 3 of the yard\n")
    data = CliRunner().invoke(shelf, ["3", "--json"], obj="the yard")
    assert (data.exit_code, data.output) == (0, '{\n  "number": 3,\n  "place": "B2"\n}\n')


@pytest.mark.parametrize("words", [["--", "-3"], ["--json", "--", "-3"]])
def test_an_error_goes_on_to_the_group_that_tells_it(words):
    said = CliRunner().invoke(shelf, words, obj="the yard")
    assert isinstance(said.exception, InputError)
