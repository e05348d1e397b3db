"""The guide in docs/adding-a-family.md, proven on a small third family that needs no code of its own."""

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.catalog.bench_side import chances, suspects

from counterpoise.catalog.loader import inspect_family, load_family
from counterpoise.cli import main

SPIN_DRYER = Path(__file__).parent / "files" / "spin_dryer.yaml"
GUIDE = Path(__file__).parents[2] / "docs" / "adding-a-family.md"


@pytest.fixture(scope="module")
def spin_dryer():
    return load_family(SPIN_DRYER)


def test_the_third_family_is_read_without_mistake_or_warning():
    report = inspect_family(SPIN_DRYER)
    assert report.problems == ()
    assert report.warnings == ()


def test_the_commands_of_the_guide_read_it(tmp_path):
    path = shutil.copy(SPIN_DRYER, tmp_path)
    commands = re.findall(r"^counterpoise (catalog .*)$", GUIDE.read_text(), flags=re.MULTILINE)
    assert len(commands) >= 2
    for command in commands:
        words = [str(path) if word == "spin_dryer.yaml" else word for word in command.split()]
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, (command, result.output)


@pytest.mark.parametrize(
    ("complaints", "findings", "expected"),
    [
        (["shakes"], [], "lopsided"),
        (["shakes"], [("basket_hang", "touching")], "mounts_torn"),
        (["no_spin"], [("run_up", "dead")], "lid_switch"),
        (["wet"], [("turn_by_hand", "drags")], "brake_drags"),
    ],
)
def test_findings_move_the_suspects_of_the_new_family(spin_dryer, complaints, findings, expected):
    assert suspects(chances(spin_dryer, complaints, findings, age_years=8))[0] == expected


def test_a_mistake_in_a_new_family_is_told_with_its_line(tmp_path):
    text = SPIN_DRYER.read_text().replace("under: {brake_drags:", "under: {brake_dregs:")
    path = tmp_path / "spin_dryer.yaml"
    path.write_text(text)
    line = next(number for number, row in enumerate(text.splitlines(), 1) if "brake_dregs" in row)
    assert any(
        f":{line}:" in problem and "brake_dregs" in problem
        for problem in inspect_family(path).problems
    )
