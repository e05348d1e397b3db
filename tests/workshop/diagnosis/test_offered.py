"""Which checks a plan is made over: the least telling give way, and nobody is asked who is not there."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.reasoning.problem import MOST_ACTIONS
from counterpoise.workshop.diagnosis.offered import with_room
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Entry, Intake, Job
from counterpoise.workshop.jobs.settings import Settings


def problem_of(name, **fields):
    intake = Intake(name, "workshop", "from the kerb", ("shakes",), age_years=8.0, **fields)
    job = Job(1, (Entry(1, "2026-01-01T00:00:00Z", "", intake),))
    return build_problem(replay(load_family(name), Settings(), job), Settings())


@pytest.mark.parametrize("name", families())
def test_where_nobody_is_there_no_question_is_planned_and_all_else_is(name):
    asks = {check.id for check in load_family(name).checks.values() if check.kind == "ask"}
    with_owner = {check.id for check in problem_of(name).checks}
    alone = {check.id for check in problem_of(name, nobody_to_ask=True).checks}
    assert asks & with_owner
    assert not asks & alone
    assert alone >= with_owner - asks


@pytest.mark.parametrize("name", families())
def test_a_plan_holds_no_more_checks_than_it_can_and_keeps_the_telling_ones(name):
    problem = problem_of(name, nobody_to_ask=True)
    # twice as many as a plan can hold, of which the added ones tell nothing at all
    empty = np.vstack([np.ones(len(problem.prior)), np.zeros(len(problem.prior))])
    more = MOST_ACTIONS - len(problem.checks) + 5
    crowded = replace(
        problem,
        checks=(
            *(replace(problem.checks[0], id=f"nothing{i}") for i in range(more)),
            *problem.checks,
        ),
        tables=(*(empty for _ in range(more)), *problem.tables),
    )
    kept = with_room(crowded)
    assert len(kept.checks) == len(kept.tables) == MOST_ACTIONS - 1
    assert {check.id for check in problem.checks} <= {check.id for check in kept.checks}
    # in the order of the catalog, each with its own table
    assert [c.id for c in kept.checks if not c.id.startswith("nothing")] == [
        c.id for c in problem.checks
    ]
    assert kept.tables[-1] is problem.tables[-1]


def test_where_there_is_room_nothing_is_left_out():
    problem = problem_of("top_loader")
    assert with_room(problem) is problem
