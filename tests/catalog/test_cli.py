import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import families
from counterpoise.cli import main

SMALL = str(Path(__file__).parent / "files" / "small.yaml")


def run(*arguments):
    return CliRunner().invoke(main, ["catalog", *arguments])


def test_check_passes_a_sound_file():
    result = run("check", SMALL)
    assert result.exit_code == 0
    assert "0 mistakes, 0 warnings. 3 faults" in result.output


def test_check_lists_mistakes_and_exits_with_1(tmp_path):
    path = tmp_path / "broken.yaml"
    path.write_text(Path(SMALL).read_text().replace("prior: 0.2", "prior: 2"))
    result = run("check", str(path))
    assert result.exit_code == 1
    assert "faults.bearing.prior: 2 is outside its limits" in result.output
    data = json.loads(run("check", str(path), "--json").output)
    assert len(data["problems"]) >= 1
    assert data["warnings"] == []


def test_check_of_no_file_says_so():
    result = run("check", "nowhere.yaml")
    assert result.exit_code == 2
    assert "There is no family or file nowhere.yaml" in result.stderr


def test_families_lists_what_is_shipped():
    rows = json.loads(run("families", "--json").output)
    assert [row["id"] for row in rows] == families()
    assert run("families").exit_code == 0


def test_show_puts_cautions_before_steps():
    text = run("show", SMALL, "push").output
    assert text.index("! Pull the plug.") < text.index("1. Push it down.")
    assert "damper:early: twice 0.5, often 0.1" in text


@pytest.mark.parametrize("entry", ["damper", "damper:gone", "faults.damper"])
def test_show_finds_an_entry_by_id_fault_key_or_section(entry):
    data = json.loads(run("show", SMALL, entry, "--json").output)
    assert (data["section"], data["id"], data["prior"]) == ("faults", "damper", 0.1)


def test_show_of_a_whole_family_lists_all_ids():
    data = json.loads(run("show", SMALL, "--json").output)
    assert list(data["repairs"]) == ["new_dampers", "new_belt"]
    assert "push" in run("show", SMALL).output


def test_show_of_an_unknown_entry_suggests_one():
    result = run("show", SMALL, "dampr")
    assert result.exit_code == 2
    assert "Did you mean damper?" in result.stderr
