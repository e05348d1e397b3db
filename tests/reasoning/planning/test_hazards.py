"""Plans that wait: what runs the machine is no step while a hazard may be there."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.reasoning.hazards import ALONE, Hazard, barring, mends
from counterpoise.reasoning.model import Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import compile_model


def problem(crack, *, hazards=True, sees=0.95):
    """A worn belt or a crack: a run tells them apart, a look sees the crack."""
    model = Model(
        faults=(Fault("belt", 1.0 - crack), Fault("crack", crack)),
        checks=(
            Check("run", 1.0, ("smooth", "bangs"), {"crack": {"bangs": 0.99}}, runs=True),
            Check("look", 2.0, ("whole", "crack"), {"crack": {"crack": sees}}),
        ),
        repairs=(Repair("belt", 10.0, {"belt": 0.95}), Repair("drum", 30.0, {"crack": 0.95})),
        retest=Retest(1.0),
        working=100.0,
        endings=(Ending("scrap", 5.0),),
    )
    whole = compile_model(model)
    return replace(whole, hazards=(Hazard(("crack",)),)) if hazards else whole


def first(one):
    look = Lookahead(one)
    plan = look.plan(Effort(growths=30))
    return plan, {each.action for each in plan.action_bounds}


@pytest.mark.parametrize("crack", [0.06, 0.2, 0.6])
def test_above_the_limit_neither_a_run_nor_a_repair_that_leaves_the_hazard_is_a_step(crack):
    plan, offered = first(problem(crack))
    assert plan.first.id != "run"
    steps = {(action.kind, action.id) for action in offered}
    assert ("check", "run") not in steps
    assert ("repair", "belt") not in steps
    assert {("check", "look"), ("repair", "drum")} <= steps


def test_below_the_limit_it_begins_the_same_and_waits_only_where_the_hazard_has_become_likelier():
    (free, before), (held, after) = first(problem(0.04, hazards=False)), first(problem(0.04))
    assert free.first == held.first
    assert before == after
    # after a repair that failed the crack is likelier: there it waits
    assert free.lower - 1.0 < held.lower <= free.lower


@pytest.mark.parametrize("crack", [0.06, 0.2, 0.6])
def test_waiting_earns_no_more_than_not_waiting_and_still_more_than_giving_up(crack):
    free, held = first(problem(crack, hazards=False))[0], first(problem(crack))[0]
    assert held.lower <= free.upper + 1e-9
    assert held.lower > 5.0
    assert held.lower <= held.upper


def test_the_look_that_clears_it_is_worth_it_for_the_run_and_the_proof_that_follow():
    # blind to the crack it clears nothing, and is worth nothing
    clear, blind = first(problem(0.06))[0], first(problem(0.06, sees=0.0))[0]
    assert clear.first.id == "look"
    assert blind.first.id != "look"
    assert clear.lower > blind.lower


def test_what_was_shown_bars_however_unlikely():
    shown = replace(problem(0.01), hazards=(Hazard(("crack",), 0.0),))
    assert ("repair", "belt") not in {(a.kind, a.id) for a in first(shown)[1]}


@pytest.mark.parametrize(
    ("chances", "mended", "named"),
    [
        ({"a": 0.06, "b": 0.01}, (), ("a",)),
        ({"a": 0.04, "b": 0.04}, (), ()),
        ({"a": 0.04, "b": 0.04, "c": 0.04}, (), ("a", "b", "c")),
        ({"a": 0.5}, ("a",), ()),
    ],
)
def test_one_bars_from_its_limit_on_and_all_together_from_one_in_ten(chances, mended, named):
    hazards = {name: Hazard((name,)) for name in "abc"}
    assert pytest.approx(0.05) == ALONE
    assert barring(hazards, chances, frozenset(mended)) == named


def test_a_repair_mends_what_it_cures_as_often_as_not():
    assert mends(("x:early", "x:late"), {"x:early": 0.6, "x:late": 0.4}, {"x:early": 0.9})
    assert not mends(("x:early", "x:late"), {"x:early": 0.4, "x:late": 0.6}, {"x:early": 0.9})
    assert not mends(("x",), {"x": 0.0}, {"x": 1.0})
    assert np.isclose(ALONE, 0.05)
