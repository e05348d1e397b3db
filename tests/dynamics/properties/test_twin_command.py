"""The command: words, JSON, figure, refusals; and the catalog's link to the model."""

import json
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import families, load_family
from counterpoise.cli import main
from counterpoise.dynamics import build
from counterpoise.dynamics.answers.what_if import with_faults
from counterpoise.dynamics.machines.families import FAMILIES


def call(*arguments):
    return CliRunner().invoke(main, ["twin", *arguments])


def test_sound_beside_a_fault_in_words():
    told = call("--fault", "damper_dead", "--set", "spring_n_m=8500", "--load", "3")
    assert told.exit_code == 0
    assert "SOUND" in told.output
    assert "ONE DAMPER WITHOUT GRIP" in told.output
    assert "The tub moves at most" in told.output


def test_the_same_as_json_with_the_heaviest_thing():
    told = call("--family", "top_loader", "--fault", "ring_empty", "--heaviest", "--json")
    data = json.loads(told.output)
    assert set(data) == {"sound", "ring_empty"}
    assert data["sound"]["strikes"] is False
    walking = {name: one["heaviest_item"]["before_walking_kg"] for name, one in data.items()}
    assert walking["sound"] > walking["ring_empty"]


def test_the_figure_is_svg_that_any_reader_takes_and_the_same_each_time(tmp_path):
    first, again = tmp_path / "one.svg", tmp_path / "two.svg"
    for path in (first, again):
        assert call("--fault", "short_foot:0.5:2", "--figure", str(path)).exit_code == 0
    assert first.read_bytes() == again.read_bytes()
    texts = "".join(t for t in ET.parse(first).getroot().itertext())
    assert "Path of the tub" in texts
    assert "one foot short" in texts


def test_the_list_shows_each_value_with_its_range_and_source():
    data = json.loads(call("--list", "--json").output)
    assert data["values"]["spring_n_m"]["low"] == 4500.0
    assert "Sapre" in data["values"]["spring_n_m"]["source"]
    assert "spring_n_m" in call("--list").output


def test_a_measured_run_is_fitted_first(tmp_path):
    file = tmp_path / "travel.csv"
    file.write_text("rpm,mm rms\n130,0.6\n150,2.2\n166,3.1\n190,2.7\n600,2.3\n")
    told = CliRunner().invoke(
        main, ["twin", "--measured", str(file), "--unbalance", "0.5", "--set", "drum_radius_m=0.3"]
    )
    assert told.exit_code == 0
    assert "Fitted: spring_n_m" in told.stderr
    assert "Fitted" not in told.stdout


def test_a_measured_run_with_a_torn_row_is_refused(tmp_path):
    file = tmp_path / "travel.csv"
    file.write_text("130,0.6\n150\n")
    told = call("--measured", str(file))
    assert told.exit_code == 2
    assert "line 2" in told.output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--set", "spring_n_m"), "NAME=NUMBER"),
        (("--set", "spring_n_m=many"), "no number"),
        (("--fault", "gremlins"), "damper_dead"),
        (("--figure", "curves.pdf"), ".svg"),
        (("--point", "2,0"), "top panel"),
    ],
)
def test_what_cannot_be_is_answered_in_words(arguments, says):
    told = call(*arguments)
    assert told.exit_code == 2
    assert says in told.output
    assert "Traceback" not in told.output


@pytest.mark.parametrize("key", [key for key in families() if key in FAMILIES])
def test_every_change_the_catalog_names_is_in_the_model_and_the_family_can_have_it(key):
    faults = load_family(key).faults.values()
    named = {fault.twin_of(grade) for fault in faults for grade in fault.keys} - {None}
    assert named
    for twin in named:
        assert with_faults(build(key), twin) != build(key)
