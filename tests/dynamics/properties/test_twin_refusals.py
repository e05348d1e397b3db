"""The twin command given nonsense: a clear word, under ``--json`` as JSON; nothing is guessed."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main
from counterpoise.dynamics import build
from counterpoise.dynamics.answers.what_if import WhatIf, case_machines, finite_number, with_faults
from counterpoise.dynamics.fitting.measured_run import (
    MeasuredRun,
    check_fit,
    check_level,
    fittable,
)
from counterpoise.errors import InputError


def call(*arguments):
    return CliRunner().invoke(main, ["twin", *arguments])


REFUSED = [
    (("--set", "dampers=2.5"), "dampers", "whole number from 2 to 4"),
    (("--set", "spring_pairs=1.5"), "spring_pairs", "whole number from 1 to 2"),
    (("--set", "dampers=nan"), "dampers", "no number"),
    (("--point", "abc"), "point", "X,Y in m"),
    (("--point", "0.1"), "point", "X,Y in m"),
    (("--fault", "short_foot:nan"), "severity", "write severity like 0.5"),
    (("--fault", "short_foot:0.5:x"), "part", "write part like 1"),
    (("--fault", "short_foot:0.5:1.5"), "part", "whole number"),
    (("--fault", "short_foot:0.5:1:9"), "fault", "short_foot:0.5:2"),
    (("--fault", "short_foot:2"), "severity", "0 (sound) to 1 (gross)"),
    (("--top-rpm", "5000"), "top_rpm", "100 to 2000 rpm"),
]


@pytest.mark.parametrize(("arguments", "field", "says"), REFUSED)
def test_nonsense_is_refused_in_words_and_json(arguments, field, says):
    told = call(*arguments)
    assert told.exit_code == 2
    assert says in told.output
    error = json.loads(call(*arguments, "--json").stdout)
    assert error["field"] == field
    assert says in f"{error['what']} {error['remedy']}"


@pytest.mark.parametrize(
    ("rows", "line", "says"),
    [
        ("130,0.6\n150,-2\n600,2.3\n", 2, "a measured travel of -2 mm"),
        ("130,0.6\n150,2\n600,1e9\n", 3, "a measured travel of 1e+09 mm"),
        ("130,0.6\n0,2\n600,2.3\n", 2, "a measured speed of 0 rpm"),
        ("130,0.6\n150,2\n90000,2.3\n", 3, "a measured speed of 90000 rpm"),
        ("-130,0.6\n150,2\n600,2.3\n", 1, "a measured speed of -130 rpm"),
        ("rpm,mm\n130,0.6\n150,nan\n", 3, "'nan' is no number"),
        ("130\n150,2\n", 1, "'' is no number"),
    ],
)
def test_a_measured_row_that_cannot_be_names_file_line_and_why(tmp_path, rows, line, says):
    file = tmp_path / "travel.csv"
    file.write_text(rows, encoding="utf-8")
    told = call("--measured", str(file), "--unbalance", "0.5", "--json")
    assert told.exit_code == 2
    error = json.loads(told.stdout)
    assert f"travel.csv, line {line}:" in error["what"]
    assert says in error["what"]
    assert error["remedy"] == "write rpm,mm like 166,3.15"


def test_a_file_that_is_no_text_is_refused(tmp_path):
    file = tmp_path / "travel.csv"
    file.write_bytes("130,0.6\n150,2\n".encode("utf-16"))
    told = call("--measured", str(file))
    assert told.exit_code == 2
    assert "UTF-8" in told.output


def test_a_run_that_stands_still_everywhere_fits_any_machine_and_is_refused():
    still = MeasuredRun(0.3, levels=((150.0, 0.0), (600.0, 0.0)))
    with pytest.raises(InputError, match="no travel was measured"):
        check_fit("front_loader", still, ["spring_n_m"])


def test_pieces_cannot_be_fitted():
    run = MeasuredRun(0.3, levels=((150.0, 2.0), (600.0, 2.0)))
    with pytest.raises(InputError, match="whole pieces"):
        check_fit("front_loader", run, ["dampers"])
    assert not {"dampers", "spring_pairs"} & set(fittable("front_loader"))
    assert "spring_n_m" in fittable("front_loader")


@pytest.mark.parametrize("level", [(150.0, 0.0), (2000.0, 100.0), (0.1, 3.0)])
def test_what_can_be_measured_is_taken(level):
    check_level(*level)


@pytest.mark.parametrize("count", [2.0, 3.0, 4.0])
def test_whole_pieces_are_as_many_as_were_asked_for(count):
    assert len(build("front_loader", {"dampers": count}).dampers) == count


@pytest.mark.parametrize("text", ["", "abc", "nan", "inf", "-inf", "1,5"])
def test_what_is_no_number_says_how_to_write_one(text):
    with pytest.raises(InputError, match=r"like 0\.5"):
        finite_number(text, "severity", "0.5")


def test_a_fault_without_severity_is_the_gross_one_and_two_may_be_joined():
    machine = build("front_loader")
    assert with_faults(machine, "short_foot") == with_faults(machine, "short_foot:1:0")
    both = with_faults(machine, "short_foot:0.5:2+damper_dead")
    assert both.feet[2].length_m == pytest.approx(-0.0015)
    assert both.dampers[0].friction_n == 0.0


def test_a_what_if_names_its_machines_by_fault_and_keeps_their_order():
    machines = case_machines(WhatIf(faults=("spring_off", "short_foot:0.5")))
    assert list(machines) == ["sound", "spring_off", "short_foot:0.5"]
    assert len(machines["spring_off"].springs) == 1


def test_weights_and_drum_alone_are_no_tub():
    light = (("oscillating_kg", 38.0), ("upper_weight_kg", 14.0), ("front_weight_kg", 14.0))
    with pytest.raises(InputError, match="at least 41 kg must hang"):
        case_machines(WhatIf(values=light))
