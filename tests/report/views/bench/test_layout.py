"""Which answers take a row alone, and when the text of a step is folded so that they stay in sight."""

from dataclasses import replace

import pytest
from tests.web.workbench import FAMILY

from counterpoise.report.views.bench.care import Care, Mark
from counterpoise.report.views.bench.layout import Layout, asked_only, layout, wide_answers
from counterpoise.workshop.diagnosis.assessment import Answer
from counterpoise.workshop.diagnosis.steps import StepBuilder

BUILD = StepBuilder(FAMILY)
SHORT = BUILD.named("check", "drum_by_hand")
LONG = replace(
    SHORT, steps=("Hold the rim at twelve o'clock and pull it slowly up and down. " * 3,) * 4
)
NONE = Care(())
LONGEST = 37


@pytest.mark.parametrize(
    ("labels", "wide"),
    [
        (["Yes", "No"], ""),
        (["Yes", "No", "Both"], "2"),
        (["Yes", "x" * LONGEST, "No", "Both"], "01"),
        (["x" * LONGEST, "Yes", "No"], "0"),
        (["Yes"], "0"),
        ([], ""),
    ],
)
def test_an_answer_takes_a_row_where_it_is_long_or_has_no_mate(labels, wide):
    assert wide_answers((str(at), label) for at, label in enumerate(labels)) == frozenset(wide)


def test_a_long_step_is_folded_and_a_short_one_is_not():
    assert not layout(SHORT, NONE, saved=True).folded
    assert layout(LONG, NONE, saved=True).folded


def test_what_stands_above_counts():
    answers = tuple(Answer(str(at), "x" * LONGEST, 0.1, "") for at in range(4))
    step = replace(
        SHORT, answers=answers, steps=("Pull it up and down, once at each hour of the clock.",) * 2
    )
    assert not layout(step, NONE, saved=False).folded
    cautions = Care(
        ("Pull the plug and keep it where you can see it. " * 4,), (Mark("edges", "Edges cut."),)
    )
    assert layout(step, cautions, saved=True, warnings=1).folded


@pytest.mark.parametrize(
    "step", [BUILD.named("repair", "replace_dampers"), BUILD.ending("part_out")]
)
def test_a_repair_is_read_while_it_is_done(step):
    long = replace(step, steps=LONG.steps)
    assert not layout(long, NONE, saved=True, warnings=3).folded


def test_the_drawn_machine_takes_its_place():
    step = replace(SHORT, title="Rock it")
    line = ("Pull it up and down, once at each hour.",)
    plain, beside = (
        [
            layout(replace(step, steps=line * times), NONE, saved=True, drawn=drawn).folded
            for times in range(1, 30)
        ]
        for drawn in (False, True)
    )
    # folded from some length on, and sooner beside a drawing
    assert plain == sorted(plain)
    assert 0 < plain.count(True) < beside.count(True)


def test_a_question_to_the_owner_is_no_place_of_the_machine():
    assert asked_only(BUILD.named("check", "new_place"), FAMILY)
    assert not asked_only(SHORT, FAMILY)
    assert not asked_only(BUILD.proof(), FAMILY)


def test_a_closed_job_has_nothing_to_lay_out():
    assert layout(None, NONE, saved=True) == Layout()
