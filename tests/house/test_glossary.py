"""Every term of the glossary is used by the program, so that the glossary is the code's own."""

import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# how a term is spelt where it is a name with its unit
SPELT = {"oscillating mass": "oscillating kg"}
TERMS = [
    line.split("|")[1].strip()
    for line in (ROOT / "docs" / "glossary.md").read_text("utf-8").splitlines()
    if line.startswith("| ") and not line.startswith("| term ")
]


@cache
def source():
    kinds = ("*.py", "*.yaml", "*.html", "*.typ")
    files = [file for kind in kinds for file in (ROOT / "src").rglob(kind)]
    text = "\n".join(file.read_text("utf-8") for file in files).lower()
    return re.sub(r"[\s_]+", " ", text.replace("-", " "))


@pytest.mark.parametrize("term", TERMS)
def test_a_term_of_the_glossary_is_used(term):
    words = re.escape(re.sub(r"[\s_-]+", " ", SPELT.get(term, term).lower()))
    assert re.search(rf"\b{words}", source()), f"nothing in src says {term!r}"


def test_the_glossary_is_read():
    assert len(TERMS) > 50
    assert len(set(TERMS)) == len(TERMS)
