"""Before an ending that throws away much on average, what tells of it is looked at."""

from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.diagnosis.bench import case, job

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.kernels.bounds import check_opening, opening_cost
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.problem import plan_problem
from counterpoise.workshop.diagnosis.ways.at_stake import (
    LEAST_BITS,
    LEAST_LOST,
    MOST_SPENT,
    at_stake,
    lost_by,
)
from counterpoise.workshop.diagnosis.ways.first_step import held_back, held_by_hand, held_text
from counterpoise.workshop.jobs.entries import Finding

PART_OUT = Action("ending", "part_out")
# a machine that does not spin, of which hands were on drum and feet and nothing stood out
LOOKED = (
    Finding("ask_display", "nothing"),
    Finding("door_click", "clicks"),
    Finding("look_in_drum_water", "none"),
    Finding("turn_drum_by_hand", "smooth"),
    Finding("drum_by_hand", "with_tub"),
)


def stopped(age=4.0, *bodies):
    """The workshop's own machine where it stands, laid out and not planned."""
    mine = job(*LOOKED, *bodies, owner="workshop", complaints=("no_spin",))
    intake = replace(mine.entries[0].body, age_years=age)
    entries = (replace(mine.entries[0], body=intake), *mine.entries[1:])
    whole = case()
    mine = JobCase(replace(mine, entries=entries), whole.family, whole.settings)
    return mine, plan_problem(mine.situation, mine.settings, mine.supply, Effort(growths=0))


def test_what_is_lost_is_what_one_who_knows_would_earn_more():
    """One fault with one repair, by hand: mend and prove it once, or end it."""
    problem = stopped()[1].problem
    lost = lost_by(problem, "part_out")
    names, retest = problem.hypotheses.fault_ids, problem.retest
    index = [each.id for each in problem.endings].index("part_out")
    checked = 0
    for repair in problem.repairs:
        row = problem.hypotheses.index.get(tuple(names.index(name) for name in repair.cures))
        alone = len(repair.cures) == 1 and all(
            other is repair or not set(other.cures) & set(repair.cures) for other in problem.repairs
        )
        if row is None or not alone:
            continue
        (cure,), k = repair.cures.values(), problem.arrays()
        ending = problem.ending_values[:, row].max()
        opening = opening_cost(k, k.repair_panels[problem.repairs.index(repair)], problem.opened)
        failed = retest.misses * (problem.working - retest.comeback) + (1 - retest.misses) * ending
        mended = cure * problem.working + (1 - cure) * failed - repair.cost - retest.cost - opening
        more = max(mended, ending) - problem.ending_values[index, row]
        assert lost[row] == pytest.approx(more if more > LEAST_LOST else 0.0, abs=1e-6)
        checked += more > LEAST_LOST
    assert checked >= 2


def test_a_young_machine_with_many_small_suspects_is_looked_at_before_it_is_parted_out():
    mine, planned = stopped()
    problem = planned.problem
    stake = at_stake(problem, PART_OUT)
    assert stake is not None
    assert stake.lost == pytest.approx(problem.prior @ lost_by(problem, "part_out"))
    number = [check.id for check in problem.checks].index(stake.check)
    cost = problem.checks[number].cost + check_opening(problem.arrays(), number, problem.opened)
    assert cost <= MOST_SPENT * stake.lost
    # it parts what is worth saving from what is not, or from one another
    held = held_back(mine, planned, PART_OUT)
    assert held is not None
    if held_by_hand(mine, planned, PART_OUT) is None:
        assert held.touch.check == stake.check
        assert "throws away" in held_text(held, "Part it out", "EUR")


def test_where_little_is_lost_nothing_is_looked_for():
    old = stopped(age=30.0)[1].problem
    assert old.prior @ lost_by(old, "part_out") < LEAST_LOST
    assert at_stake(old, PART_OUT) is None


def test_only_an_ending_for_good_is_looked_into():
    problem = stopped()[1].problem
    assert at_stake(problem, Action("check", problem.checks[0].id)) is None
    assert at_stake(problem, Action("repair", problem.repairs[0].id)) is None
    assert at_stake(problem, Action("ending", "hand_back")) is None


def test_a_check_that_tells_nothing_of_it_or_costs_too_much_is_not_the_look():
    problem = stopped()[1].problem
    blind = replace(
        problem, tables=tuple(np.full_like(table, 1.0 / len(table)) for table in problem.tables)
    )
    assert LEAST_BITS > 0
    assert at_stake(blind, PART_OUT) is None
    dear = replace(problem, checks=tuple(replace(c, cost=1e6) for c in problem.checks))
    assert at_stake(dear, PART_OUT) is None
    # what must not be run is not run for it
    stake = at_stake(problem, PART_OUT)
    other = at_stake(problem, PART_OUT, frozenset({stake.check}))
    assert other is None or other.check != stake.check
    # what was done is not done again for it
    done = replace(problem, done=(1 << len(problem.checks)) - 1)
    assert at_stake(done, PART_OUT) is None


def test_at_no_minutes_at_all_nothing_waits():
    mine, planned = stopped()
    hasty = replace(mine, settings=replace(mine.settings, touch_minutes=0.0))
    assert held_back(hasty, planned, PART_OUT) is None
