"""The machine to tap on: a thumb's room each, over no other, tied to the boxes of the page."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from counterpoise.catalog.drawing import MACHINE_WIDE
from counterpoise.catalog.loader import families, load_family
from counterpoise.report.drawings.pictures import tap_machine
from counterpoise.report.drawings.taps import THUMB, tap_picture, taps


@pytest.mark.parametrize("name", families())
def test_each_complaint_with_a_place_can_be_tapped(name):
    family = load_family(name)
    spots = taps(family)
    assert {tap.complaint for tap in spots} == {c.id for c in family.complaints.values() if c.place}
    assert len(spots) >= 8
    for one in spots:
        assert 0 <= one.left <= MACHINE_WIDE - one.wide
        assert 0 <= one.top <= family.drawing.high - THUMB
        assert one.wide >= THUMB
        for other in spots:
            beside = one.left + one.wide <= other.left or other.left + other.wide <= one.left
            assert one is other or beside or abs(one.top - other.top) >= THUMB
    # 48 px and more, shown 306 px wide as the style sheet has it on a small phone
    assert THUMB * 306 / MACHINE_WIDE >= 48


def test_a_tap_is_the_label_of_a_box():
    family = load_family("front_loader")
    svg = str(tap_machine(family))
    ET.fromstring(svg)
    assert set(re.findall(r'for="said-(\w+)"', svg)) == {tap.complaint for tap in taps(family)}
    numbers = {key: i for i, key in enumerate(family.complaints)}
    assert f'class="tap tap-{numbers["knocks"]}" for="said-knocks"' in svg
    assert 'role="group"' in svg
    assert len(svg.encode()) < 20_000


def test_nothing_is_tapped_without_a_drawing_or_a_box():
    family = load_family("front_loader")
    assert tap_machine(replace(family, drawing=None)) == ""
    assert tap_picture(family, {}) == ""
