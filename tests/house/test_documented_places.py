"""Places that the documentation names exist, so that a newcomer is never sent to a file that moved."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").glob("*.md"))]
PLACE = re.compile(r"`((?:src/counterpoise/|tests/|docs/|tools/|benchmarks/)?[a-z_]+/[\w/.]*)`")
ROOMS = {folder.name for folder in (ROOT / "src" / "counterpoise").iterdir() if folder.is_dir()}


def places():
    for page in PAGES:
        for place in PLACE.findall(page.read_text("utf-8")):
            head = place.partition("/")[0]
            if "FAMILY" in place:
                continue
            if head in ROOMS:
                yield page.name, place, ROOT / "src" / "counterpoise" / place
            elif head in {"src", "tests", "docs", "tools", "benchmarks"}:
                yield page.name, place, ROOT / place


@pytest.mark.parametrize(("page", "place", "path"), list(places()))
def test_a_place_named_in_the_documentation_exists(page, place, path):
    assert path.exists(), f"{page} sends its reader to {place}"


def test_links_between_pages_lead_somewhere():
    broken = [
        (page.name, link)
        for page in PAGES
        for link in re.findall(r"\]\(([^)#:]+?)(?:#[^)]*)?\)", page.read_text("utf-8"))
        if not (page.parent / link).exists()
    ]
    assert not broken
