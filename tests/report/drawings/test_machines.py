"""Drawn machines: well-formed, light, every place drawn, every step marked where it is done."""

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from tests.report.drawings.steps import all_steps, step_of, suspects_of

from counterpoise.catalog.loader import families, load_family
from counterpoise.catalog.sites import place_of_access, place_of_fault, place_of_work
from counterpoise.report.drawings.labels import RIGHT
from counterpoise.report.drawings.machine import features_shown, machine, visible
from counterpoise.report.drawings.marks import (
    MOST_NAMED,
    Marks,
    marks_of_repairs,
    marks_of_step,
    place_of_step,
)
from counterpoise.report.drawings.pictures import step_machine, step_sketches
from counterpoise.report.drawings.strokes import ACCENT, path
from counterpoise.report.drawings.tools import SIGNS, sign_for
from counterpoise.workshop.diagnosis.assessment import Step, Suspect

SVG = "{http://www.w3.org/2000/svg}"
# of all drawings of a page together
MOST_BYTES = 30_000
# the content of a page 360 px wide, between its margins of a rem of 18 px
CONTENT_PX = 360 - 2 * 18


@pytest.fixture(scope="module", params=families())
def family(request):
    return load_family(request.param)


@pytest.fixture(scope="module")
def pictures(family):
    suspects = suspects_of(family)
    return {
        step.kind + step.id: (step, str(step_machine(family, step, suspects, {})))
        for step in all_steps(family)
    }


def outlined(svg):
    """The outlines drawn in the strong stroke of what is marked or opened."""
    return [
        one.get("d") for one in ET.fromstring(svg).iter(SVG + "path")
        if one.get("stroke") == ACCENT and one.get("stroke-width") == "2.6"
    ]  # fmt: skip


def of(family, place, needs=None):
    shapes = visible(place, features_shown(family, needs or {})) or place.shapes
    return "".join(path(shape) for shape in shapes)


def test_each_place_of_faults_panels_and_steps_is_drawn(family):
    drawn = family.drawing.places.keys()
    for fault in family.faults.values():
        assert place_of_fault(family, fault) in drawn, fault.id
    for panel in family.access:
        assert place_of_access(family, panel) in drawn, panel
    for work in (*family.checks.values(), *family.repairs.values()):
        assert place_of_work(family, work) in drawn, work.id
    assert {c.place for c in family.complaints.values()} - {""} <= drawn


def test_each_step_is_marked_at_its_place_with_a_hand_or_tool(family, pictures):
    for step, svg in pictures.values():
        entry = (family.checks if step.kind == "check" else family.repairs)[step.id]
        place = family.drawing.places[place_of_step(family, step)]
        assert of(family, place, entry.needs) in outlined(svg), step.id
        kind = entry.kind if step.kind == "check" else ""
        assert SIGNS[sign_for(step, kind)][1] in svg, step.id
        told = ET.fromstring(svg).find(SVG + "desc").text
        assert told.startswith(f"Here now: {place.title}"), step.id


def test_each_panel_still_shut_is_outlined_and_named(family, pictures):
    for step, svg in pictures.values():
        told = ET.fromstring(svg).find(SVG + "desc").text
        for opening in step.openings:
            place = family.drawing.places[place_of_access(family, opening.access)]
            marks = marks_of_step(family, step)
            assert of(family, place, marks.has) in outlined(svg), (step.id, opening.access)
        assert ("To be opened first" in told) == bool(step.openings)


def test_a_picture_is_well_formed_light_and_the_same_each_time(family, pictures):
    for step, svg in pictures.values():
        tree = ET.fromstring(svg)
        assert tree.get("role") == "img"
        ids = [one.get("id") for one in tree.iter() if one.get("id")]
        assert len(ids) == len(set(ids))
        assert tree.get("aria-labelledby").split() == ids
        assert all(tree.find(SVG + name).text for name in ("title", "desc"))
        # a page may carry no style of its own, and nothing comes from elsewhere
        assert not re.search(r"style=|href|<image|<script", svg)
        small = step_sketches(family, step)
        assert len(svg.encode()) + sum(len(one.svg.encode()) for one in small) < MOST_BYTES
    again = str(step_machine(family, step, suspects_of(family), {}))
    assert again == svg


def test_letters_are_read_on_a_small_phone_and_lie_in_the_picture(family, pictures):
    for _, svg in pictures.values():
        tree = ET.fromstring(svg)
        wide, high = (float(value) for value in tree.get("viewBox").split()[2:])
        sizes = [float(one.get("font-size")) for one in tree.iter() if one.get("font-size")]
        assert min(sizes) * CONTENT_PX / wide >= 12
        for text in tree.iter(SVG + "text"):
            assert 0 < float(text.get("y")) < high
            # the label's own width was reckoned for the widest usual face
            assert float(text.get("x")) + 5 * len(text.text) < RIGHT + 1


def test_labels_lie_over_no_other(family, pictures):
    for step, svg in pictures.values():
        boxes = [
            [float(v) for v in re.findall(r"[-\d.]+", one.get("d"))]
            for one in ET.fromstring(svg).iter(SVG + "path") if one.get("d", "").startswith("M207 ")
        ]  # fmt: skip
        spans = sorted((box[3], box[5]) for box in boxes)
        assert len(spans) >= 1
        for (_, end), (start, _) in itertools.pairwise(spans):
            assert start >= end, step.id


def test_suspects_are_tinted_by_chance_and_three_are_named(family):
    faults = [f for f in family.faults.values() if not f.alone]
    sites = {}
    for fault in faults:
        sites.setdefault(place_of_fault(family, fault), fault)
    picked = list(sites.values())[:5]
    chances = (0.6, 0.3, 0.15, 0.1, 0.05)
    suspects = [
        Suspect(f.id, f.title, f.means, c, "likely") for f, c in zip(picked, chances, strict=False)
    ]
    marks = marks_of_step(family, None, suspects)
    assert [tag.kind for tag in marks.tags] == ["suspect"] * MOST_NAMED
    assert marks.chances == {
        place_of_fault(family, f): c for f, c in zip(picked, chances, strict=True)
    }
    svg = machine(family, marks)
    depth = {float(v) for v in re.findall(r'(?:fill|stroke)-opacity="([.\d]+)"', svg)}
    # five chances, five depths, and none hides what lies below it
    assert len(depth) == len(picked)
    assert max(depth) < 0.9
    told = ET.fromstring(svg).find(SVG + "desc").text
    assert all(f.title.partition(":")[0] in told for f in picked[:MOST_NAMED])


def test_a_sound_machine_colours_nothing(family):
    sound = next(f for f in family.faults.values() if f.alone)
    marks = marks_of_step(family, None, [Suspect(sound.id, sound.title, "", 0.7, "likely")])
    assert marks.chances == {}
    assert "opacity" not in machine(family, marks)


def test_what_the_machine_is_known_not_to_have_is_not_drawn():
    family = load_family("front_loader")
    belt = path(family.drawing.places["belt"].shapes[0])
    assert belt in machine(family, Marks(has={"drive": "belt"}))
    assert belt not in machine(family, Marks(has={"drive": "direct"}))
    # a step at a belt shows one all the same
    step = step_of(family, family.checks["look_belt"])
    assert belt in machine(family, marks_of_step(family, step, (), {"drive": "direct"}))


def test_words_of_a_family_do_not_break_the_picture():
    family = load_family("front_loader")
    check = replace(family.checks["look_springs"], place="nowhere<&>")
    odd = replace(family, drawing=None, checks={"look_springs": check}, title="<b>& co")
    svg = machine(odd, marks_of_step(odd, step_of(family, check)))
    told = ET.fromstring(svg)
    assert "plain box" in told.find(SVG + "title").text
    assert "Nowhere<&>" in told.find(SVG + "desc").text
    assert "Top cover" in told.find(SVG + "desc").text


def test_a_family_without_a_drawing_gets_a_box_with_its_places():
    plain = replace(load_family("spin_dryer"), drawing=None)
    entry = replace(plain.checks["look_mounts"], place="mounts")
    svg = machine(plain, marks_of_step(plain, step_of(plain, entry)))
    told = ET.fromstring(svg)
    assert "as a plain box" in told.find(SVG + "title").text
    assert told.find(SVG + "desc").text == (
        "Here now: Mounts, torch and eye. To be opened first: On its side, base plate off."
    )
    assert len(outlined(svg)) == 2


def test_the_work_of_a_quote_is_shown_and_unknown_work_left_out():
    family = load_family("top_loader")
    marks = marks_of_repairs(family, ["replace_rods", "replace_pump", "gone"], {})
    assert marks.here == ("rods", "pump")
    assert [tag.text for tag in marks.tags] == [
        "Put in a new set of rods", "Put in a new drain pump",
    ]  # fmt: skip
    assert len(outlined(machine(family, marks))) == 2


def test_an_ending_marks_nothing_and_a_proof_what_turns():
    family = load_family("front_loader")
    ending = Step("ending", "scrap", "Scrap", 0, 1, (), (), (), ())
    proof = replace(ending, kind="proof", id="proof")
    assert marks_of_step(family, ending).here == ()
    assert marks_of_step(family, proof).here == ("drum",)
    assert marks_of_step(load_family("spin_dryer"), proof).here == ("basket",)
