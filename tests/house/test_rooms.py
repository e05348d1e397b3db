"""The house: every folder says what it is for, nothing is crowded, nothing has a name that says nothing."""

import ast
from pathlib import Path

import pytest
from tools import house, picture

ROOT = Path(__file__).parents[2]
FOLDERS = sorted({file.parent for file in (ROOT / "src" / "counterpoise").rglob("*.py")})


@pytest.mark.parametrize(
    "folder", FOLDERS, ids=lambda folder: str(folder.relative_to(ROOT / "src"))
)
def test_every_room_says_in_a_sentence_what_it_is_for(folder):
    purpose = ast.get_docstring(ast.parse((folder / "__init__.py").read_text("utf-8")))
    assert purpose
    assert purpose.split("\n")[0].endswith((".", ":"))


def test_the_house_keeps_its_bounds():
    figures = house.measure([ROOT / "src"], [ROOT / "tests"])
    assert house.broken_bounds(figures) == []
    assert house.crowded(ROOT) == []


def test_the_picture_is_what_the_imports_say():
    assert picture.PICTURE.read_text("utf-8") == picture.picture()


def test_what_the_measures_count():
    text = 'def f(found):\n    """Length (n,) in mm."""\n    # why\n    return found  # noqa: X\n'
    tree = ast.parse(text)
    assert house.comments_and_code(text) == (1, 2)
    assert house.banned_names(tree) == [(1, "found"), (4, "found")]
    assert house.length(tree.body[0]) == 3
    assert [bool(house.NAMED.search(d)) for d in house.public_docstrings(tree)] == [True]
