"""The drawing of a family file: what is wrong is told with line and remedy, all of it at once."""

from pathlib import Path

import pytest

from counterpoise.catalog.drawing import LOOKS, SHAPES
from counterpoise.catalog.loader import inspect_family
from counterpoise.catalog.schema.drawing import Look, ShapeModel

SKELETON = Path(__file__).parents[3] / "src/counterpoise/catalog/data/skeleton/family.yaml"


def told(tmp_path, *swaps):
    text = SKELETON.read_text()
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = tmp_path / "my_machine.yaml"
    path.write_text(text)
    return inspect_family(path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("{rect: [40, 20, 120, 150]}", "{rekt: [40, 20, 120, 150]}", "unknown key rekt; did you mean rect?"),
        ("{rect: [40, 20, 120, 150]}", "{rect: [40, 20, 120]}", "rect has 3 numbers; give 4"),
        ("{rect: [40, 20, 120, 150]}", "{look: heavy}", "a shape is one thing, not none"),
        ("{rect: [40, 20, 120, 150]}", "{rect: [1, 1, 2, 2], circle: [9, 9, 3]}", "not rect and circle"),
        ("{rect: [40, 20, 120, 150]}", "{rect: [90, 20, 120, 150]}", "lies outside of 0..200 by 0..200"),
        ("{rect: [40, 20, 120, 150]}", "{line: [1, 2, 3]}", "line has 3 numbers; give x and y"),
        ("[100, 80, 5], look: solid", "[100, 80, 5], look: sollid", "did you mean solid?"),
        ("[100, 80, 5], look: solid", "[100, 80, 5], needs: {drive: belt}", "there is no feature drive"),
        ("      at: [100, 50]  ", "      at: [100]  ", "at has one number"),
        ("  high: 200\n", "  high: 20000\n", "outside its limits"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_line_and_what_to_do(tmp_path, old, new, said):
    report = told(tmp_path, (old, new))
    assert report.family is None
    (line,) = [one for one in report.problems if said in one]
    assert line.startswith("my_machine.yaml:")
    assert "drawing" in line


def test_a_place_or_small_drawing_that_is_not_there_is_refused(tmp_path):
    belt = "    assembly: drive\n    prior: 0.35\n    age: {0: 0.2"
    report = told(tmp_path, (belt, f"    place: drve\n{belt}"))
    assert "there is no place drve; did you mean drive?" in report.problems[0]
    caution = 'keep it where you can see it.", grave'
    report = told(tmp_path, (caution, caution.replace(", grave", ", sketch: plug, grave")))
    assert "there is no small drawing plug; did you mean plug_out?" in report.problems[0]


def test_without_a_drawing_places_are_free_words(tmp_path):
    text = SKELETON.read_text()
    start, end = text.index("\ndrawing:"), text.index("\nproof: ")
    belt = "    assembly: drive\n    prior: 0.35\n    age: {0: 0.2"
    report = told(tmp_path, (text[start:end], "\n"), (belt, f"    place: behind_it\n{belt}"))
    assert report.problems == ()
    assert report.family.drawing is None
    assert report.family.faults["belt_worn"].place == "behind_it"


def test_the_looks_and_shapes_are_those_that_are_drawn():
    assert set(Look.__args__) == set(LOOKS)
    assert set(SHAPES) == set(ShapeModel.model_fields) - {"look", "needs"}
