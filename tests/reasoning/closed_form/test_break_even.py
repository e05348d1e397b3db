"""Where a choice turns: against the plain sums, worth by worth."""

import numpy as np
import pytest

from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.break_even import break_even_change, break_even_probability
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.planning.monte_carlo import Measures
from counterpoise.reasoning.problem import compile_model

PRIOR = np.array([0.1, 0.2, 0.3, 0.4])
PRESENT = np.array([False, True, False, True])


def test_at_the_chance_found_the_two_ways_are_worth_the_same():
    rng = np.random.default_rng(1)
    seen = 0
    for _ in range(200):
        prior = rng.dirichlet(np.ones(6))
        present = rng.random(6) < 0.5
        difference = rng.normal(size=6)
        at = break_even_probability(prior, difference * prior, present)
        if at is None:
            continue
        seen += 1
        now = prior[present].sum()
        odds = at / (1 - at) / (now / (1 - now))
        moved = prior * np.where(present, odds, 1.0)
        moved /= moved.sum()
        assert moved[present].sum() == pytest.approx(at)
        assert moved @ difference == pytest.approx(0.0, abs=1e-9)
    assert seen > 30


def test_a_lead_that_no_chance_can_undo_has_no_turning():
    assert break_even_probability(PRIOR, PRIOR * 5.0, PRESENT) is None
    assert break_even_probability(PRIOR, PRIOR * np.array([1.0, 2.0, 3.0, 4.0]), PRESENT) is None
    assert break_even_probability(PRIOR, PRIOR, np.zeros(4, dtype=bool)) is None


def test_a_certain_lead_of_ten_against_a_loss_of_thirty_turns_at_a_quarter():
    lead = PRIOR * np.where(PRESENT, -30.0, 10.0)
    assert break_even_probability(PRIOR, lead, PRESENT) == pytest.approx(0.25)


def test_a_lead_of_six_is_gone_when_two_minutes_more_cost_three_each():
    assert break_even_change(6.0, -3.0) == pytest.approx(2.0)
    assert break_even_change(6.0, 0.0) is None


@pytest.fixture
def small():
    return compile_model(
        Model(
            (Fault("belt", 0.7), Fault("pump", 0.3)),
            checks=(Check("listen", 2.0, ("ok", "bad"), {"pump": {"bad": 0.9}}, {"bad": 0.05}),),
            repairs=(
                Repair("new_belt", 40.0, {"belt": 1.0}, "lid"),
                Repair("new_pump", 30.0, {"pump": 0.9}),
            ),
            access=(Access("lid", 3.0, 3.0),),
            endings=(Ending("scrap", -10.0, {}),),
            retest=Retest(5.0),
            working=100.0,
        )
    )


def test_the_worth_of_a_way_followed_to_its_ends_is_that_of_the_plan(small):
    look = Lookahead(small)
    plan = look.plan(Effort(growths=200))
    checks, repairs, panels = len(small.checks), len(small.repairs), len(small.access)
    measures = Measures(np.ones(checks), np.ones(repairs), np.ones(panels), np.ones(repairs))
    followed = Forecast(look, measures)
    assert followed.totals.worth.sum() == pytest.approx(plan.lower)
    # by hand: belt first and its lid, pump when that failed, scrap when the pump failed too; or the
    # other way round
    belt_first = 0.7 * 100 - 46 - 5 + 0.3 * (-35 + 0.9 * 100 + 0.1 * -10)
    forced = Forecast(look, measures, act=checks)
    assert forced.totals.repair_chance[0] == pytest.approx(1.0)
    assert forced.totals.worth.sum() == pytest.approx(belt_first)
    assert forced.totals.sound.sum() == pytest.approx(0.7 + 0.3 * 0.9)


def test_what_is_spent_where_the_work_is_given_up(small):
    """Given up where the new pump did not cure: after both repairs, the lid, two retests."""
    look = Lookahead(small)
    look.plan(Effort(growths=200))
    measures = Measures(np.ones(1), np.array([20.0, 15.0]), np.array([4.0]), np.array([7.0, 9.0]))
    toll = Forecast(look, measures, act=1).totals
    assert toll.lost.sum(axis=1) == pytest.approx(
        [0.03 * (20 + 15 + 4), 0.03 * (46 + 5 + 35), 0.03 * (7 + 9)]
    )
    assert sum(part.sum() for part in toll.ended.values()) == pytest.approx(0.03)
    assert np.all(toll.lost[0] <= toll.minutes + 1e-12)
