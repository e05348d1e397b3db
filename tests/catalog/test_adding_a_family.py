"""The guide in docs/adding-a-family.md, proven on a small third family that needs no code of its own."""

import re
import shlex
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


def walk():
    """(command, lines of its answer) of the guide, in order."""
    blocks = re.findall(r"^```\n(.*?)^```", GUIDE.read_text(), flags=re.MULTILINE | re.DOTALL)
    steps = []
    for block in blocks:
        for line in block.splitlines():
            if line.startswith("$ "):
                steps.append((line[2:], []))
            # a block without a prompt shows what is not run here
            elif block.startswith("$ "):
                steps[-1][1].append(line)
    return steps


def test_the_walk_of_the_guide_answers_as_the_guide_says(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("COUNTERPOISE_STORE", "COUNTERPOISE_FAMILIES"):
        monkeypatch.delenv(name, raising=False)
    assert len(walk()) >= 9
    for command, answer in walk():
        program, *words = shlex.split(command)
        assert program == "counterpoise"
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, (command, result.output)
        at, said = 0, " ".join(result.output.split())
        # every piece between the gaps, in the order of the page
        for piece in "\n".join(answer).split("..."):
            wanted = " ".join(piece.split())
            at = said.find(wanted, at)
            assert at >= 0, (command, wanted, result.output)


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
