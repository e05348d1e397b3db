"""Measurements by hand as forms: what they ask, how they read what was typed, what they put down."""

import re
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.bench.readings import GAP_MM
from counterpoise.catalog.loader import load_family
from counterpoise.errors import CounterpoiseError, InputError, NotFoundError, ReadingError
from counterpoise.report.views.measures.fields import TypedReadings
from counterpoise.report.views.measures.forms import (
    FORMS,
    form_for,
    kind_for_check,
    values_to_confirm,
)
from counterpoise.report.views.measures.interpretation import (
    entry_bodies,
    evaluate,
    figure_address,
    interpret,
)
from counterpoise.workshop.jobs.entries import Finding, Note

FAMILIES = [load_family("front_loader"), load_family("top_loader")]
FRONT = FAMILIES[0]
LEVEL_READ = {"front.0": "1.2", "front.1": "1.0", "left.0": "0.4", "gap.0": "0"}
PLAIN = {
    "level": LEVEL_READ,
    "runout": {f"gaps.{place}": text for place, text in enumerate(["9", "8", "7", "8", "9", "10", "11", "10"])},
    "bounce": {"count.0": "5"},
    "play": {"radial.0": "0.2", "axial.0": "0.1"},
    "tip": {"mass.0": "70"},
    "lift": {"mass.0": "70"},
    "bearing_tones": {"speed.0": "1200"},
}  # fmt: skip


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_is_whole(kind):
    form = FORMS[kind]
    names = [name for field in form.fields for name in field.names]
    assert form.kind == kind
    assert form.title
    assert form.lead
    assert len(names) == len(set(names))
    for field in form.fields:
        assert not field.choices or field.count == 1
        assert len(field.boxes) in {0, field.count}
        values = [value for value, _ in field.choices]
        assert not field.default or not values or field.default in values


@pytest.mark.parametrize("kind", FORMS)
def test_whoever_touches_the_machine_is_cautioned_first(kind):
    assert FORMS[kind].cautions
    assert all(text.endswith(".") for text in FORMS[kind].cautions)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.id)
def test_a_check_is_answered_by_the_form_that_says_so(family):
    for check in family.checks:
        kind = kind_for_check(check, family)
        assert not kind or check in form_for(kind, family).checks
    assert kind_for_check("unheard_of", family) == ""


def test_only_lifting_and_tipping_know_the_mass_of_the_machine():
    usual = {
        kind: next((f.default for f in form_for(kind, FRONT).fields if f.id == "mass"), None)
        for kind in ("lift", "tip", "counterweight")
    }
    assert usual == {
        "lift": f"{FRONT.typical_mass_kg:g}",
        "tip": f"{FRONT.typical_mass_kg:g}",
        "counterweight": "",
    }
    with pytest.raises(NotFoundError):
        form_for("unheard_of", FRONT)


def test_a_check_of_another_sort_of_machine_is_left_out():
    every = set(form_for("windings", FRONT).checks)
    belt = set(form_for("windings", FRONT, {"drive": "belt"}).checks)
    assert belt <= every


@pytest.mark.parametrize("kind", PLAIN)
def test_what_was_measured_becomes_a_sentence_numbers_and_findings(kind):
    form = form_for(kind, FRONT)
    told = interpret(form, evaluate(form, PLAIN[kind]), FRONT)
    assert told.sentence.endswith(".")
    assert told.cautions[: len(form.cautions)] == form.cautions
    assert len(told.cautions) == len(set(told.cautions))
    for number in told.numbers:
        assert sum(share for _, share in number.words) == pytest.approx(1.0) or not number.words
    for finding in told.counts:
        reading = FRONT.checks[finding.check].reading
        assert reading.low <= finding.reading <= reading.high


@pytest.mark.parametrize("kind", PLAIN)
def test_its_figure_is_an_image_that_travels_with_the_page(kind):
    address = figure_address(evaluate(FORMS[kind], PLAIN[kind]))
    if not address:
        assert not evaluate(FORMS[kind], PLAIN[kind]).measures
        return
    head, _, drawn = address.partition(",")
    assert head == "data:image/svg+xml"
    assert ET.fromstring(unquote(drawn)).tag.endswith("svg")


def test_a_measurement_that_answers_a_check_is_put_down_where_it_is_ticked():
    form = form_for("level", FRONT)
    told = interpret(form, evaluate(form, LEVEL_READ), FRONT)
    check = told.counts[0].check
    (body,) = entry_bodies(told, (check,))
    assert isinstance(body, Finding)
    assert (body.check, body.reading, body.note) == (check, told.counts[0].reading, told.sentence)
    with pytest.raises(InputError, match="ticked"):
        entry_bodies(told, ())


def test_one_that_answers_none_becomes_a_note_with_its_numbers():
    told = interpret(FORMS["tip"], evaluate(FORMS["tip"], PLAIN["tip"]), FRONT)
    (body,) = entry_bodies(told, ())
    assert isinstance(body, Note)
    assert body.text.startswith("Tipping the machine. ")
    assert re.search(r"\n.*\d", body.text)


def test_a_box_that_is_not_asked_is_refused():
    with pytest.raises(InputError, match="is not asked here") as refused:
        evaluate(FORMS["play"], {"radial.7": "1"})
    assert refused.value.field == "radial.7"


@pytest.mark.parametrize("kind", FORMS)
@settings(max_examples=40, deadline=None)
@given(typed=st.data())
def test_no_typing_breaks_a_form(kind, typed):
    """Any text in any box gives a result or a refusal in words."""
    form = FORMS[kind]
    names = [name for field in form.fields for name in field.names]
    texts = typed.draw(
        st.dictionaries(
            st.sampled_from(names),
            st.sampled_from(["", "0", "1", "-3", "1e9", "x", "7,5", "nan"]),
            max_size=6,
        )
    )
    try:
        result = evaluate(form, texts)
    except CounterpoiseError as error:
        refused = error
    else:
        assert result.sentence
        return
    assert isinstance(refused, InputError)
    assert len(str(refused)) > 10


def test_the_second_level_keeps_the_first_readings_under_other_names():
    again = values_to_confirm(FORMS["level"], LEVEL_READ | {"unit.0": "degrees"})
    assert again["was_front.0"] == "1.2"
    assert again["unit.0"] == "degrees"
    assert values_to_confirm(FORMS["play"], LEVEL_READ) == {}
    names = {name for field in FORMS["level_again"].fields for name in field.names}
    assert set(again) <= names


def test_an_error_in_the_first_readings_is_marked_at_its_own_box():
    with pytest.raises(ReadingError) as refused:
        evaluate(FORMS["level_again"], {"was_front.0": "400", "front.0": "1"})
    assert refused.value.field == "was_front.0"


class TestTyped:
    def test_an_empty_box_is_none_in_a_row_and_missing_in_a_list(self):
        typed = TypedReadings({"gaps.0": "9", "gaps.1": " ", "gaps.2": "8,5"})
        assert typed.numbers("gaps", GAP_MM, 3) == (9.0, None, 8.5)
        assert typed.given_numbers("gaps", GAP_MM, 3) == (9.0, 8.5)

    def test_a_number_or_the_usual_one(self):
        typed = TypedReadings({"gap.0": "2"})
        assert typed.number("gap", GAP_MM) == 2.0
        assert typed.number("other", GAP_MM) is None
        assert typed.number_or("other", GAP_MM, 7.0) == 7.0

    def test_half_a_piece_is_refused_by_its_box(self):
        with pytest.raises(ReadingError) as refused:
            TypedReadings({"count.0": "2.5"}).whole("count", GAP_MM)
        assert refused.value.field == "count.0"

    def test_a_word_that_is_not_offered_is_refused(self):
        typed = TypedReadings({"unit.0": "furlongs"})
        assert typed.choice("other", ("a", "b"), "a") == "a"
        with pytest.raises(ReadingError, match="furlongs is not offered"):
            typed.choice("unit", ("degrees",), "degrees")
