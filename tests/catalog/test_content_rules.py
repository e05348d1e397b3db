"""Rules that every shipped family keeps: danger never without its caution, no fault out of reach, plain short steps."""

from itertools import chain

import pytest

from counterpoise.catalog.loader import families, inspect_family, load_family
from counterpoise.catalog.priors import independent_priors
from counterpoise.dynamics.machines.faults import FAULTS

# Words that never stand in a title, step or tool unguarded, whatever the machine.
DANGERS = (
    "spring puller", "lean it back", "lay the machine down", "trolley", "lift the tub out", "block the tub",
    "rotor off", "magnets up", "concrete weight", "plug in, start", "spin at top speed", "500 v", "capacitor",
    "switch bridged", "fish with hook", "test earth", "brine",
)  # fmt: skip


@pytest.fixture(scope="module", params=families())
def family(request):
    return load_family(request.param)


def places(family):
    return chain(family.access.values(), family.checks.values(), family.repairs.values())


def cautions_on_the_way(family, item):
    found = list(item.cautions)
    access = getattr(item, "access", getattr(item, "behind", None))
    while access is not None:
        found += family.access[access].cautions
        access = family.access[access].behind
    return set(found)


def not_alone(family):
    return [key for key in family.fault_keys if not family.faults[key.partition(":")[0]].alone]


def test_the_file_has_no_mistake_and_no_warning(family):
    report = inspect_family(family.id)
    assert not report.problems
    assert not report.warnings


def test_every_fault_key_raises_a_worse_outcome_of_two_checks_and_is_cured_by_a_repair(family):
    for key in not_alone(family):
        telling = [check.id for check in family.checks.values() if key in check.under]
        assert len(telling) >= 2, key
        assert any(key in repair.cures for repair in family.repairs.values()), key


def test_each_cure_is_open_to_every_machine_that_can_have_the_fault(family):
    for key in family.fault_keys:
        needs = family.faults[key.partition(":")[0]].needs.items()
        cures = [repair for repair in family.repairs.values() if key in repair.cures]
        assert any(repair.needs.items() <= needs for repair in cures), key


def test_every_fault_is_complained_of(family):
    for fault in family.faults.values():
        assert set(fault.complaints) == set(fault.keys), fault.id
        assert all(sum(row.values()) > 0.2 for row in fault.complaints.values()), fault.id


def test_some_check_that_needs_nothing_opened_speaks_for_each_suspect(family):
    free = [check for check in family.checks.values() if check.access is None]
    for key in not_alone(family):
        assert any(key in check.under for check in free), key


def test_the_stated_chances_are_those_of_machines_with_few_faults_at_once(family):
    assert 0.3 < sum(independent_priors(family).values()) < 0.6


def test_the_changes_to_the_machine_as_physics_are_known_there(family):
    states = {fault.twin_of(key) for fault in family.faults.values() for key in fault.keys}
    assert {state.partition(":")[0] for state in states - {None}} <= FAULTS.keys()


def said(item):
    return " ".join([item.title, *item.steps, *item.tools]).lower()


@pytest.mark.parametrize("word", DANGERS)
def test_dangerous_words_are_guarded_by_a_caution_of_the_family(family, word):
    # the rule of the book then sees to it that the caution is on the way
    if any(word in said(item) for item in places(family)):
        assert any(word in caution.words for caution in family.cautions.values())


def test_no_dangerous_word_is_guarded_in_vain():
    texts = [said(item) for name in families() for item in places(load_family(name))]
    assert [word for word in DANGERS if not any(word in text for text in texts)] == []


def test_whatever_lies_behind_a_panel_is_done_unplugged_or_with_the_live_caution(family):
    for item in chain(family.checks.values(), family.repairs.values()):
        if item.access is not None:
            assert cautions_on_the_way(family, item) & {"unplug", "live_work"}, item.id


def test_every_spin_carries_the_caution_of_what_turns_or_of_water_and_mains(family):
    turning = {"turning_drum", "turning_basket"}
    for check in family.checks.values():
        if check.kind == "spin":
            assert set(check.cautions) & (turning | {"wet_mains"}), check.id
    assert set(family.proof_cautions) & turning


def test_leaning_or_lying_machines_take_two_people(family):
    for item in places(family):
        if "tipped_block" in item.cautions:
            assert item.people == 2, item.id


def test_grave_cautions_stand_first(family):
    for item in places(family):
        grave = [family.cautions[caution].grave for caution in item.cautions]
        assert grave == sorted(grave, reverse=True), item.id


def test_steps_are_short_and_plain(family):
    for item in places(family):
        assert item.steps, item.id
        for step in item.steps:
            assert len(step) <= 220, (item.id, step)
            assert step.rstrip().endswith((".", "?")), (item.id, step)
