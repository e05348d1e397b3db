"""Repeated readings, findings of one thing, what contradicts what, and what is done about it."""

from itertools import permutations

import numpy as np
import pytest
from tests.workshop.diagnosis.bench import FAMILY, case, now

from counterpoise.reasoning.belief import normalised
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.evidence.contradictions import LEVEL
from counterpoise.workshop.diagnosis.ways.irreversible import ENDINGS
from counterpoise.workshop.jobs.entries import Finding, RepairDone

PLAY = Finding("drum_by_hand", "on_its_own", reading=2.0)
TRUE = (
    Finding("turn_drum_by_hand", "smooth"),
    Finding("measure_rim_runout", "runs_true", reading=1.0),
    Finding("empty_spin", "quiet"),
)
NO_PLAY = Finding("drum_by_hand", "with_tub", reading=0.2)


def chance(fault, *findings, **more):
    situation = now(*findings, **more)
    return situation.model.fault_chances(situation.probabilities)[fault]


def test_both_readings_of_a_check_stay():
    twice = now(PLAY, NO_PLAY)
    assert len(twice.evidence.readings["drum_by_hand"]) == 2
    alone, other = chance("bearing_worn", PLAY), chance("bearing_worn", NO_PLAY)
    assert other < chance("bearing_worn", PLAY, NO_PLAY) < alone
    assert now(NO_PLAY, PLAY).belief == pytest.approx(twice.belief)


def test_a_second_look_at_the_same_says_less_than_the_first():
    before = chance("short_foot")
    once = chance("short_foot", Finding("rock_corners", "rocks"))
    twice = chance("short_foot", *[Finding("rock_corners", "rocks")] * 2)
    assert before < once < twice
    odds = [p / (1 - p) for p in (before, once, twice)]
    assert odds[2] / odds[1] < 0.5 * odds[1] / odds[0]


def test_the_order_of_findings_does_not_matter():
    found = (Finding("rock_corners", "rocks"), Finding("look_feet", "all_carry"), PLAY)
    beliefs = [now(*order).belief for order in permutations(found)]
    for belief in beliefs[1:]:
        assert belief == pytest.approx(beliefs[0], abs=1e-9)


def test_what_one_owner_tells_makes_nothing_certain():
    told = (Finding("ask_since_when", "crept_up"), Finding("ask_grey_spots", "plain"))
    assert chance("bearing_worn", *told[:1], complaints=("rumbles",)) < 0.85
    assert chance("bearing_worn", *told, complaints=("rumbles",)) < 0.9
    # whoever has had it in the hand may be sure
    touched = (*told, Finding("turn_drum_by_hand", "grinds"), PLAY)
    assert chance("bearing_worn", *touched, complaints=("rumbles",)) > 0.95


def test_good_tries_of_what_comes_now_and_then_move_little():
    complained = {"complaints": ("no_spin",)}
    spin = Finding("spin_watch_speed", "full_speed")

    def at_times(*findings):
        situation = now(*findings, **complained)
        by_key = situation.model.key_chances(situation.probabilities)
        return by_key["wiring:at_times"], by_key["wiring:steady"]

    before, good = at_times(), at_times(spin, spin)
    # what is always so is ruled out by two good spins, what comes now and then is not
    assert good[1] < 0.2 * before[1]
    assert good[0] > 0.5 * before[0]


def test_a_reading_that_goes_with_the_others_is_not_remarked_upon():
    assert now(*TRUE).contradictions == ()
    assert now(PLAY).contradictions == ()
    assert now(PLAY, Finding("turn_drum_by_hand", "grinds")).contradictions == ()


def test_play_in_a_drum_that_runs_true_is_said_and_measured_again():
    situation = now(PLAY, *TRUE)
    (each,) = situation.contradictions
    assert each.check == "drum_by_hand"
    assert each.against in {finding.check for finding in TRUE}
    assert each.chance <= LEVEL
    assert "drum_by_hand" in situation.again
    found = assess(case(PLAY, *TRUE))
    (pair,) = found.contradictions
    assert pair.text in found.warnings
    assert "hardly go together: of 100 machines" in pair.text
    assert pair.repeat == "drum_by_hand"
    assert 'do "Move the drum by hand against the tub" again, 1 minute' in pair.text
    assert found.next.id not in ENDINGS
    # it can be proposed like any other check
    analysis = analyse(case(PLAY, *TRUE))
    assert "drum_by_hand" in {check.id for check in analysis.planned.problem.checks}


@pytest.mark.parametrize("owner", ["workshop", "customer"])
@pytest.mark.parametrize("complaints", [("rumbles",), ("shakes",)])
def test_nothing_final_is_advised_on_findings_that_contradict_each_other(owner, complaints):
    bodies = [PLAY, *TRUE]
    if owner == "workshop":
        found = assess(case(*bodies, owner=owner, complaints=complaints))
        assert found.next.id not in ENDINGS
    else:
        found = assess(case(*bodies, complaints=complaints))
        assert found.next.id != "replace"
    assert found.next.kind == "check"


def test_a_contradiction_is_over_once_it_was_measured_again():
    assert now(PLAY, *TRUE, NO_PLAY).contradictions == ()
    assert "drum_by_hand" not in now(PLAY, *TRUE, NO_PLAY).again
    # and a repair begins anew
    assert now(PLAY, *TRUE, RepairDone("tidy_loom")).contradictions == ()


def test_the_chances_of_a_repeat_are_those_of_the_belief_after_it():
    situation = now(PLAY, *TRUE)
    table = situation.evidence.next_table("drum_by_hand")
    assert table.sum(axis=0) == pytest.approx(np.ones(table.shape[1]))
    for number, row in enumerate(np.eye(len(table))):
        after = situation.evidence.with_reading("drum_by_hand", row)
        belief = normalised(situation.before + after.log_likelihood())
        planned = normalised(situation.belief + np.log(table[number]))
        assert belief == pytest.approx(planned, abs=1e-9)


def test_the_chances_of_another_look_at_the_same_thing_are_those_of_the_belief_after_it():
    situation = now(Finding("rock_corners", "rocks"), Finding("ask_since_when", "crept_up"))
    for check in ("look_feet", "ask_which_loads", "heel_drop"):
        table = situation.evidence.next_table(check)
        for number, row in enumerate(np.eye(len(table))):
            after = situation.evidence.with_reading(check, row)
            belief = normalised(situation.before + after.log_likelihood())
            planned = normalised(situation.belief + np.log(table[number]))
            assert belief == pytest.approx(planned, abs=1e-9)


def test_groups_name_checks_that_are_there_and_repeats_have_a_share():
    for thing in FAMILY.same_thing.values():
        assert len(thing.checks) >= 2
        assert 0.0 < thing.misled <= 0.1
