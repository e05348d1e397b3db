"""The terminal face: every documented example runs, every option is documented, JSON is whole."""

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterpoise.cli import main
from counterpoise.cli.measure.commands import measure

DOC = (Path(__file__).parents[3] / "docs" / "bench.md").read_text(encoding="utf-8")
EXAMPLES = [
    line
    for line in DOC.splitlines()
    if line.startswith("counterpoise measure") and "first.json" not in line
]


def run(line):
    return CliRunner().invoke(main, shlex.split(line)[1:])


@pytest.mark.parametrize("line", EXAMPLES)
def test_examples_of_the_guide_run_in_words_and_json(line):
    told, data = run(line), run(f"{line} --json")
    assert told.exit_code == 0, told.output
    assert told.output.startswith("! "), "cautions come first"
    found = json.loads(data.output)
    assert found["sentence"] in told.output
    assert found["cautions"]


def test_every_command_and_option_is_in_the_guide():
    for name, command in measure.commands.items():
        assert f"measure {name}" in DOC
        for option in command.params:
            for spelling in option.opts:
                assert re.search(rf"{re.escape(spelling)}\b", DOC), f"{name} {spelling}"


def test_every_command_has_an_example():
    assert {shlex.split(line)[2] for line in EXAMPLES} == set(measure.commands)


def test_the_error_in_the_guide_is_the_one_given():
    line, answer = re.search(r"\$ (counterpoise measure .*)\n(Error: .*)\n", DOC).groups()
    result = run(line)
    assert result.exit_code == 2
    assert result.output.strip() == answer


def test_the_check_afterwards_reads_the_first_measurement(tmp_path):
    first = tmp_path / "first.json"
    stands = run("counterpoise measure level --front 1.2 --left 0 --out 8,8,8,8 --json")
    first.write_text(stands.output, encoding="utf-8")
    foreseen = json.loads(stands.output)["advice"]["after_x_deg"]
    good = run(f"counterpoise measure level --front {foreseen} --left 0 --before {first}")
    assert "did what was foreseen" in good.output
    wrong = run(f"counterpoise measure level --front {2.4 - foreseen} --left 0 --before {first}")
    assert "wrong way round" in wrong.output
    first.write_text("[]", encoding="utf-8")
    assert (
        "no level measurement"
        in run(f"counterpoise measure level --front 0 --left 0 --before {first}").output
    )


def test_reversal_in_a_reading():
    found = json.loads(
        run("counterpoise measure level --front 1.3,-0.3 --left 0.5,0.5 --json").output
    )
    assert found["slope_x"]["value"] == pytest.approx(0.8)
    assert found["slope_y"]["value"] == pytest.approx(0.0)
    assert found["slope_x"]["sd"] == pytest.approx(0.05 / 2**0.5)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("level --front x --left 0", "'x' is no number"),
        ("level --front 1,2,3 --left 0", "turned end for end"),
        ("level --front 1 --left 0 --out 1,2", "give 4 with commas"),
        ("level --front 15 --left 0", "did you mean 1.5 degrees?"),
        ("dampers --damper left -7 7", "did you mean 7.0 kg?"),
        ("dampers --in N --damper left -60 60", "did you mean 60.0 N?"),
        ("bounce --push 40", "--last with --after"),
        ("bearing-tones --size 9999 --rpm 800", "one of 6203"),
        ("play --radial 40", "did you mean 4.0 mm?"),
        ("strike --walked 5,4,3,4 --play 40", "did you mean 4.0 mm?"),
    ],
)
def test_slips_are_told_in_words(line, says):
    result = run(f"counterpoise measure {line}")
    assert result.exit_code == 2
    assert says in result.output


def test_an_open_winding_survives_json():
    found = json.loads(run("counterpoise measure windings --ohm 5,open,5.1 --json").output)
    assert found["open_phases"] == [2]


@pytest.mark.parametrize("line", EXAMPLES)
def test_every_measurement_draws_a_figure(line, tmp_path):
    target = tmp_path / "figure.svg"
    assert run(f"{line} --figure {target}").exit_code == 0
    assert "<svg" in target.read_text(encoding="utf-8")
