"""Small drawings: one for each measurement by hand and each grave danger, readable and light."""

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from tests.report.drawings.steps import all_steps

from counterpoise.catalog.body import MEASUREMENTS
from counterpoise.catalog.drawing import LOOKS, SHAPES, SKETCHES
from counterpoise.catalog.loader import families, load_family
from counterpoise.report.drawings.sketch_lines import ALL_LINES, CARE_LINES, HAND_LINES
from counterpoise.report.drawings.sketches import (
    MOST_BESIDE,
    beside_form,
    beside_measure,
    beside_step,
    sketch,
)
from counterpoise.report.drawings.strokes import LETTER
from counterpoise.report.views.measures.forms import FORMS

SVG = "{http://www.w3.org/2000/svg}"


def test_the_catalog_knows_the_small_drawings_and_no_other():
    assert ALL_LINES.keys() == SKETCHES
    assert len(ALL_LINES) == len(HAND_LINES) + len(CARE_LINES)


@pytest.mark.parametrize("name", sorted(ALL_LINES))
def test_a_small_drawing_is_well_formed_told_in_words_and_light(name):
    svg = sketch(name)
    tree = ET.fromstring(svg)
    assert tree.get("role") == "img"
    assert tree.find(SVG + "title").text == ALL_LINES[name].title
    assert tree.find(SVG + "desc").text.endswith(".")
    assert len(svg.encode()) < 1800
    # shown one unit a pixel: letters of 12 px or more
    assert LETTER >= 12
    assert [one.get("font-size") for one in tree.iter() if one.get("font-size")] == [str(LETTER)]
    # something of it is in the accent or in ink, and nothing is styled inside
    assert len(list(tree.iter(SVG + "path"))) >= 3
    assert "style=" not in svg


def test_every_measurement_by_hand_has_one():
    for kind, numbers in MEASUREMENTS.items():
        assert beside_measure(kind), kind
        assert all(beside_measure(f"{kind}.{number}") for number in numbers)
    for kind in FORMS:
        assert beside_form(kind), kind
    assert beside_measure("level.gap") == ("feeler_gauge", "feet_above")
    assert beside_form("level") == ("level_turned", "feet_above", "feeler_gauge")
    assert beside_measure("none_such") == ()


@pytest.mark.parametrize("name", families())
def test_every_grave_caution_on_the_way_to_a_step_is_pictured(name):
    family = load_family(name)
    by_text = {caution.text: caution for caution in family.cautions.values()}
    for step in all_steps(family):
        texts = [*step.cautions, *(t for o in step.openings for t in o.cautions)]
        wanted = {by_text[t].sketch for t in texts if by_text[t].grave}
        shown = beside_step(family, step)
        assert len(shown) == len(set(shown)) <= MOST_BESIDE
        # with more dangers than room, the room is full of them
        assert wanted <= set(shown) or len(shown) == MOST_BESIDE, step.id


def test_the_drawings_a_seasoned_hand_would_ask_for():
    family = load_family("front_loader")
    steps = {step.id: step for step in all_steps(family)}
    assert beside_step(family, steps["rehang_spring"])[:2] == ("spring_hook", "tub_block")
    assert "transit_bolts" in beside_step(family, steps["remove_transit_bolts"])
    assert {"damper_push", "lift_two", "tip_block"} <= set(
        beside_step(family, steps["measure_damper_push"])
    )
    assert "runout_clock" in beside_step(family, steps["measure_rim_runout"])
    assert beside_step(family, None) == ()


def test_the_manual_names_each_small_drawing_shape_and_look():
    manual = (Path(__file__).parents[3] / "docs" / "drawings.md").read_text()
    for name, lines in ALL_LINES.items():
        assert f"| `{name}` | {lines.title} |" in manual
    assert all(f"`{name}`" in manual for name in (*SHAPES, *LOOKS))
