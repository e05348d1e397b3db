"""The one builder of steps: nothing that stands before a step is left out, whatever is open."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.workshop.diagnosis.bench import FAMILY, mildest, now

from counterpoise.catalog.loader import load_family
from counterpoise.errors import NotFoundError
from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.diagnosis.steps import (
    ENDING_STEPS,
    StepBuilder,
    caution_texts,
    stripping_cautions,
)
from counterpoise.workshop.jobs.entries import Proof, RepairDone
from counterpoise.workshop.jobs.entry_checks import OPTIONS

FAMILIES = [FAMILY, load_family("top_loader")]
STEPS = [
    (family, kind, key)
    for family in FAMILIES
    for kind, entries in (("check", family.checks), ("repair", family.repairs))
    for key in entries
]


def entry_of(family, kind, key):
    return family.checks[key] if kind == "check" else family.repairs[key]


@pytest.mark.parametrize(("family", "kind", "key"), STEPS, ids=lambda value: str(value)[:24])
def test_a_shut_machine_is_opened_from_the_outside_with_every_caution(family, kind, key):
    entry, step = entry_of(family, kind, key), StepBuilder(family).named(kind, key)
    way = list(panels_for(family, entry.access))[::-1]
    assert [opening.access for opening in step.openings] == way
    for opening in step.openings:
        panel = family.access[opening.access]
        assert set(opening.cautions) == {family.cautions[name].text for name in panel.cautions}
        assert opening.minutes == panel.open_min + panel.close_min
        assert opening.people == panel.people <= step.people
    assert set(step.cautions) == {family.cautions[name].text for name in entry.cautions}
    assert step.minutes == entry.minutes + sum(opening.minutes for opening in step.openings)
    assert step.people >= entry.people


@given(st.sampled_from(STEPS), st.data())
def test_what_is_open_takes_away_its_own_panel_and_nothing_else(chosen, data):
    family, kind, key = chosen
    opened = frozenset(data.draw(st.sets(st.sampled_from(sorted(family.access)))))
    shut, now_open = (
        StepBuilder(family).named(kind, key),
        StepBuilder(family, opened).named(kind, key),
    )
    left = [opening for opening in shut.openings if opening.access not in opened]
    assert list(now_open.openings) == left
    saved = sum(o.minutes for o in shut.openings if o.access in opened)
    assert now_open.minutes == pytest.approx(shut.minutes - saved)
    assert (now_open.cautions, now_open.steps, now_open.tools) == (
        shut.cautions,
        shut.steps,
        shut.tools,
    )


def test_the_builder_of_a_job_takes_what_the_replay_says_is_open():
    belt = mildest("look_belt")
    way = set(panels_for(FAMILY, "belt_off"))
    assert StepBuilder.of(now(belt)).opened == {"rear_panel"} <= way
    assert StepBuilder.of(now(belt, RepairDone("tidy_loom"), Proof(False))).opened == frozenset()


def test_grave_cautions_come_first_and_none_is_said_twice():
    grave = [key for key, caution in FAMILY.cautions.items() if caution.grave]
    light = [key for key, caution in FAMILY.cautions.items() if not caution.grave]
    assert grave
    assert light
    texts = caution_texts(FAMILY, [*light, *grave, *light])
    assert len(texts) == len(set(texts)) == len(FAMILY.cautions)
    assert set(texts[: len(grave)]) == {FAMILY.cautions[key].text for key in grave}


def test_a_caution_that_is_not_in_the_catalog_is_never_dropped_in_silence():
    with pytest.raises(KeyError):
        caution_texts(FAMILY, ["unplug", "no_such_caution"])


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.id)
def test_stripping_has_the_cautions_of_every_panel(family):
    texts = set(stripping_cautions(family))
    for panel in family.access.values():
        assert texts >= set(caution_texts(family, panel.cautions))
    assert StepBuilder(family).ending("part_out").cautions == stripping_cautions(family)


@pytest.mark.parametrize("name", list(OPTIONS))
def test_every_ending_has_a_title_and_something_to_do(name):
    step = StepBuilder(FAMILY).ending(name)
    assert step.title == OPTIONS[name]
    assert step.steps == ENDING_STEPS[name]
    assert bool(step.cautions) is (name == "part_out")
    assert step.minutes == 0.0


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.id)
def test_a_proof_has_its_cautions_and_both_answers(family):
    step = StepBuilder(family).proof()
    assert step.cautions == caution_texts(family, family.proof_cautions) != ()
    assert [answer.outcome for answer in step.answers] == ["passed", "failed"]
    assert step == StepBuilder(family, frozenset(family.access)).named("proof", "whatever")


def test_a_repair_begins_with_its_parts_and_ends_with_how_one_knows():
    repair = FAMILY.repairs["replace_dampers"]
    step = StepBuilder(FAMILY).repair(repair)
    assert step.steps[0] == f"Have ready: 1 x {FAMILY.parts['damper_set'].title}."
    assert step.steps[-1] == f"Done when: {repair.done_when}"
    assert step.steps[1:-1] == repair.steps


@pytest.mark.parametrize(
    ("kind", "key", "said"),
    [
        ("check", "replace_dampers", "no check 'replace_dampers'"),
        ("repair", "look_belt", "no repair 'look_belt'"),
        ("ending", "scrap", "ending is no kind of step"),
        ("", "", "Nothing is no kind of step"),
    ],
)
def test_an_unknown_step_is_named_in_short(kind, key, said):
    with pytest.raises(NotFoundError, match=said) as raised:
        StepBuilder(FAMILY).named(kind, key)
    assert raised.value.remedy
    with pytest.raises(NotFoundError) as raised:
        StepBuilder(FAMILY).named("check", "x" * 500)
    assert len(raised.value.message) < 160


def test_minutes_of_a_step_do_not_depend_on_the_order_in_which_panels_were_opened():
    repair = FAMILY.repairs["replace_front_weight"]
    way = list(panels_for(FAMILY, repair.access))
    for size in range(len(way) + 1):
        for opened in combinations(way, size):
            left = [FAMILY.access[key] for key in way if key not in opened]
            assert StepBuilder(FAMILY, frozenset(opened)).minutes(repair) == pytest.approx(
                repair.minutes + sum(panel.open_min + panel.close_min for panel in left)
            )
