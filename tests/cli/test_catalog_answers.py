"""Catalog, case book, lives and version: JSON with its keys, the same in the terminal."""

import json
from importlib.metadata import version

import pytest
from tests.cli.refusals import invoke

from counterpoise.catalog.loader import families

FAMILIES = families()


@pytest.fixture
def both(tmp_path):
    """Runs a command as JSON and in words: (what it answers, what it prints)."""

    def call(line):
        answer, text = invoke(None, line, tmp_path, "--json"), invoke(None, line, tmp_path)
        assert answer.exit_code == text.exit_code
        return json.loads(answer.stdout), text.stdout

    return call


def test_the_families_are_counted_alike(both):
    rows, text = both("catalog families")
    assert [row["id"] for row in rows] == FAMILIES
    for row in rows:
        assert f"{row['id']}: {row['title']}." in text
        assert f"{row['faults']} faults" in text
        assert f"{row['checks']} checks" in text


@pytest.mark.parametrize("family", FAMILIES)
def test_a_family_lists_as_many_entries_as_are_counted(both, family):
    listing, text = both(f"catalog show {family}")
    row = next(row for row in both("catalog families")[0] if row["id"] == family)
    for section in ("faults", "checks", "repairs", "parts"):
        assert len(listing[section]) == row[section] > 0
        for entry in listing[section]:
            assert f"  {entry} " in text


def test_an_entry_is_shown_alike(both):
    entry, text = both("catalog show front_loader drain_pump")
    assert (entry["section"], entry["id"]) == ("parts", "drain_pump")
    assert text.startswith(f"{entry['title']} (parts: drain_pump)")
    assert entry["source"] in text


def test_a_mistake_in_a_family_is_told_alike(both, tmp_path):
    (tmp_path / "own.yaml").write_text("id: own\ntitel: My machine\n", encoding="utf-8")
    report, text = both("catalog check @/own.yaml")
    assert report["problems"]
    for problem in report["problems"]:
        assert "own.yaml" in problem
        assert problem in text
    counts = f"{len(report['problems'])} mistakes, {len(report['warnings'])} warnings."
    assert text.splitlines()[-1].startswith(counts)


def test_the_case_book_is_told_alike(both):
    cases, text = both("cases")
    assert len(cases) == len(text.splitlines()) > 20
    for case in cases:
        assert case["id"] in text
        assert case["title"] in text
    (case,), story = both(f"cases {cases[0]['id']}")
    assert case == cases[0]
    for field in ("title", "story", "why", "source"):
        assert case[field] in story


def test_the_life_of_machines_is_told_alike(both, tmp_path):
    (tmp_path / "lives.csv").write_text("years,failed\n3,yes\n8,yes\n12,yes\n9,no\n", "utf-8")
    fit, text = both("lives @/lives.csv")
    assert (fit["machines"], fit["failures"]) == (4, 3)
    assert f"{fit['life']['shape']:.2g}" in text or f"{fit['life']['shape']:.1f}" in text


def test_the_version_is_that_of_the_package(tmp_path):
    result = invoke(None, "--version", tmp_path)
    assert result.exit_code == 0
    assert result.stdout.strip().endswith(version("counterpoise"))
