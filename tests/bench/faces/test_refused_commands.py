"""Commands given nonsense: exit status 2 and a clear word, under ``--json`` as JSON."""

import json
import shlex

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

# line, field of the error, piece of what or remedy
REFUSED = [
    ("runout --gaps 9,8.5,8,7,6.8 --sd 1e-320", "sd_mm", "how far off one reading may be"),
    ("counterweight --mass 12 --nominal 0", "nominal_kg", "possible: 0.5 to 30 kg"),
    ("dampers --in N --damper left 49 49 --sd 0", "sd_n", "without doubt"),
    ("lift --reach 0", "reach_cm", "possible: 10 to 300 cm"),
    ("bearing-tones --size 6205 --rpm 0", "speed_rpm", "possible: 1 to 3000 rpm"),
    ("level --front 0.3 --left 0.2 --within-deg 0", "within_deg", "0.05 to 10 degrees"),
    ("bounce --push 40 --count 3 --stiffness inf", "stiffness_n_per_m", "3000 to 40000 N/m"),
    ("windings --ohm 5.1,5.2 --at=-300", "temperature_c", "read it again"),
    ("strike --walked 5,4,3,4 --play 40", "play_mm", "did you mean 4.0 mm?"),
    ("level --front 15 --left 0", "slope_deg", "did you mean 1.5 degrees?"),
]


def run(line, *more):
    return CliRunner().invoke(main, ["measure", *shlex.split(line), *more])


@pytest.mark.parametrize(("line", "field", "says"), REFUSED)
def test_nonsense_is_refused_in_words(line, field, says):
    told = run(line)
    assert told.exit_code == 2, told.output
    assert told.output.startswith("Error: ")
    assert says in told.output
    assert "did you mean inf" not in told.output
    assert "did you mean -3" not in told.output


@pytest.mark.parametrize(("line", "field", "says"), REFUSED)
def test_the_same_under_json_is_json(line, field, says):
    told = run(line, "--json")
    assert told.exit_code == 2
    error = json.loads(told.stdout)
    assert set(error) == {"what", "field", "remedy"}
    assert error["field"] == field
    assert error["what"]
    assert error["remedy"]
    assert says in f"{error['what']} {error['remedy']}"


@pytest.mark.parametrize(
    ("line", "field", "says"),
    [
        ("level --front x --left 0", "front", "'x' is no number"),
        ("bounce --count 3", "push_mm", "--push"),
        ("lift --grip weak", "grip", "weak"),
        ("play", "radial", "--radial"),
        ("level --colour red", "", "--colour"),
    ],
)
def test_a_mistake_of_the_command_line_is_json_too(line, field, says):
    told = run(line, "--json")
    assert told.exit_code == 2
    error = json.loads(told.stdout)
    assert error["field"] == field
    assert says in error["what"]
    assert run(line).exit_code == 2
    assert run(line).stdout == ""


def test_a_machine_that_needs_nothing_is_json_as_well():
    told = run("level --front 0.3 --left 0.2 --json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["advice"] | {"after_x_deg": 0, "after_y_deg": 0} == {
        "turns": [],
        "after_x_deg": 0,
        "after_y_deg": 0,
        "after_gap_mm": 0.0,
        "reachable": True,
    }


def test_a_near_reach_says_what_it_counts_as():
    assert "counts as 25 cm" in run("lift --mass 20 --reach 15").output
