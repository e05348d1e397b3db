"""Figures as SVG: well-formed, the same each time, with what a reader needs to make sense of them."""

import re
from xml.etree import ElementTree as ET

import pytest

from counterpoise.dynamics.answers.what_if import WhatIf
from counterpoise.report.figures import dynamics, style
from counterpoise.report.figures.dynamics import (
    feet_figure,
    lower_envelope,
    paper_figure,
    path_figure,
    save_svg,
    speed_figure,
    svg,
    twin_figure,
)
from counterpoise.report.views.twin import pictures, simulated
from counterpoise.report.views.twin_question import read_question

SVG = "{http://www.w3.org/2000/svg}"
QUESTION = read_question("front_loader", {}, ("damper_weak",))


@pytest.fixture(scope="module")
def studies():
    return {case.words: case.study for case in simulated(QUESTION)}


def words(drawn):
    return " ".join("".join(text.itertext()) for text in ET.fromstring(drawn).iter(f"{SVG}text"))


@pytest.mark.parametrize(
    ("build", "said"),
    [
        (path_figure, ("to the right, mm", "up, mm", "sound")),
        (speed_figure, ("drum speed, rpm", "m/s²")),
        (feet_figure, ("drum speed, rpm", "N", "sound: ")),
    ],
    ids=["path", "speed", "feet"],
)
def test_a_drawing_names_its_axes_units_and_machines(studies, build, said):
    drawn = words(svg(build(studies)))
    for word in said:
        assert word in drawn


def test_all_three_stand_on_one_sheet(studies):
    axes = twin_figure(studies).axes
    titles = [axis.get_title(loc="left") for axis in axes]
    assert len(axes) == 3
    assert titles[0].startswith("Path of the tub")


def test_on_paper_the_legend_is_one_and_the_ground_white(studies):
    figure = paper_figure(studies)
    assert len(figure.legends) == 1
    assert [text.get_text() for text in figure.legends[0].get_texts()] == list(studies)
    assert all(axis.get_legend() is None for axis in figure.axes)
    assert {axis.get_facecolor()[:3] for axis in figure.axes} == {(1.0, 1.0, 1.0)}


def test_the_same_machines_give_the_same_bytes(studies):
    assert svg(speed_figure(studies)) == svg(speed_figure(studies))


def test_no_place_is_finer_than_a_hundredth_of_a_point(studies):
    drawn = svg(path_figure(studies))
    assert not re.search(rb"\d\.\d{3}", drawn.split(b"</metadata>")[-1])


def test_drawn_letters_keep_their_scale(studies):
    drawn = svg(speed_figure(studies), letters="path")
    assert b"<text" not in drawn
    scales = [float(s) for s in re.findall(rb"scale\((0\.\d+)", drawn)]
    assert scales
    assert min(scales) > 0


def test_lines_differ_without_colour():
    assert len({line for _, line, _ in dynamics.STYLES}) == len(dynamics.STYLES)
    assert {style.INK, style.PAPER} <= {"#1c1b19", "#fdfcf8"}


def test_a_figure_on_the_page_needs_no_second_request_and_has_words(studies):
    for picture in pictures(QUESTION):
        assert picture.address.startswith("data:image/svg+xml;base64,")
        assert len(picture.words.split()) > 5
    assert len(pictures(QUESTION)) == 3


def test_a_file_holds_what_was_drawn(tmp_path, studies):
    save_svg(speed_figure(studies), tmp_path / "speed.svg")
    assert (tmp_path / "speed.svg").read_bytes() == svg(speed_figure(studies))


def test_the_lower_envelope_keeps_every_dip():
    import numpy as np

    rpm = np.linspace(0, 1200, 1200)
    load = np.full(1200, 100.0)
    load[600] = -5.0
    at, least = lower_envelope(rpm, load, 40)
    assert at.size == least.size == 40
    assert least.min() == -5.0
    assert abs(at[least.argmin()] - rpm[600]) < 30
    short = lower_envelope(rpm[:3], load[:3], 40)
    assert short[0].size == 3


def test_a_question_is_asked_of_the_model_once():
    asked = WhatIf(unbalance_kg=QUESTION.unbalance_kg, faults=("damper_weak",))
    assert simulated(QUESTION) is simulated(asked)


def test_the_sketch_of_the_level_is_a_drawing_that_asks_for_nothing_from_outside():
    from xml.etree import ElementTree as ET

    from counterpoise.report.figures.level_sketch import WORDS, level_sketch

    root = ET.fromstring(level_sketch())
    texts = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    assert [text[:7] for text in texts if "box" in text] == ["1st box", "2nd box"]
    # the example is a pair of a sound tool, as the form reads it
    from counterpoise.bench.slopes import reversal, tool_questions

    pair = reversal(0.8, -0.4)
    assert {"shows +0.8", "shows −0.4"} <= set(texts)
    assert tool_questions({"front": pair.own_error}) == ()
    assert "0.8" in WORDS
    assert "0.4" in WORDS
    assert "href" not in level_sketch()
