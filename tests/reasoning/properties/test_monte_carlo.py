"""Monte Carlo against following every branch in plain Python, and where the answer is plain."""

from dataclasses import replace

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels import monte_carlo as kernel
from counterpoise.reasoning.kernels.bounds import after_repair
from counterpoise.reasoning.kernels.checking_policy import checking_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.planning.monte_carlo import SHARE, Measures, simulate_machines
from counterpoise.reasoning.problem import compile_model


class EveryBranch:
    """What looking before repairing takes, each outcome of each machine followed; (H, 10).

    What is to be expected sums to what comes out, so its column is a copy.
    """

    def __init__(self, problem, first, takes):
        self.problem, self.k, self.takes, self.first = problem, problem.arrays(), takes, first
        self.work = new_workspace(self.k)
        self.figures = np.zeros((problem.prior.size, kernel.FIGURES))
        belief = problem.prior / problem.prior.sum()
        self.follow(
            belief,
            np.diag(problem.prior),
            (problem.done, problem.tried, problem.opened),
            np.zeros(3),
            0,
        )
        self.figures[:, kernel.EXPECTED] = self.figures[:, kernel.WORTH]

    def follow(self, belief, mass, state, spent, depth):
        """``mass`` (H, H): there at first by there now; ``belief`` (H,) what is believed now."""
        if belief.sum() <= 1e-12:
            return
        belief = belief / belief.sum()
        (done, tried, opened), k = state, self.k
        a = self.first
        if depth:
            a = checking_policy(k, belief, state, SHARE, self.work)[1]
        checks, origin = k.check_cost.size, mass.sum(axis=1)
        if a >= checks + k.repair_cost.size:
            self.figures[:, kernel.LOST_MINUTES : kernel.WORTH] += origin[:, None] * spent
            if k.ending_value.shape[0]:
                ending = k.ending_value[a - checks - k.repair_cost.size]
                self.figures[:, kernel.WORTH] += mass @ ending
            return
        if a < checks and self.problem.checks[a].shuts:
            opened = 0
        needed = int(k.check_panels[a] if a < checks else k.repair_panels[a - checks])
        missing = [i for i in range(k.panel_cost.size) if needed & ~opened & 1 << i]
        minutes, cost, parts = sum(self.takes[2][i] for i in missing), 0.0, 0.0
        opening = sum(k.panel_cost[i] for i in missing)
        price = opening + (k.check_cost[a] if a < checks else k.repair_cost[a - checks])
        self.figures[:, kernel.WORTH] -= origin * price
        if a < checks:
            minutes += self.takes[0][a]
        else:
            minutes += self.takes[1][a - checks]
            cost = price
            parts = self.takes[3][a - checks]
        self.figures[:, :3] += origin[:, None] * np.array([minutes, cost, parts])
        spent = spent + np.array([minutes, cost, parts])
        if a < checks:
            for o in range(k.outcomes[a]):
                found, after = belief * k.table[a, o], (done | 1 << a, tried, opened | needed)
                self.follow(found, mass * k.table[a, o], after, spent, depth + 1)
            return
        moves, after = self.problem.transitions[a - checks], mass.copy()
        for source, target, chance in zip(moves.source, moves.target, moves.chance, strict=True):
            after[:, source] -= mass[:, source] * chance
            after[:, target] += mass[:, source] * chance
        passed = after * k.pass_chance
        self.figures[:, kernel.SOUND] += passed[:, 0]
        self.figures[:, kernel.MISSED] += passed[:, 1:].sum(axis=1)
        self.figures[:, kernel.WORTH] += passed @ k.pass_value
        left = np.zeros(belief.size)
        after_repair(k, a - checks, belief, left)
        still_open = 0 if self.problem.retest.shuts else opened | needed
        state = (done, tried | 1 << (a - checks), still_open)
        self.follow(left, after - passed, state, spent, depth + 1)


def takes_of(problem, rng):
    k = problem.arrays()
    sizes = (k.check_cost.size, k.repair_cost.size, k.panel_cost.size, k.repair_cost.size)
    return Measures(*(rng.uniform(1.0, 30.0, size) for size in sizes))


def without_ties(model, rng):
    """Checks at odd prices: where one is worth its cost exactly, rounding would decide."""
    return replace(
        model, checks=tuple(replace(c, cost=c.cost + rng.uniform(0.1, 1.0)) for c in model.checks)
    )


@pytest.mark.parametrize("endings", [0, 2])
@pytest.mark.parametrize(("misses", "shuts"), [(False, False), (True, False), (True, True)])
def test_drawn_machines_come_to_what_following_every_branch_says(endings, misses, shuts):
    size = Size(
        4,
        3,
        4,
        3,
        outcomes=3,
        independent=True,
        max_faults=2,
        endings=endings,
        misses=misses,
        shuts=shuts,
    )
    followed = 0
    for seed in range(6):
        rng = np.random.default_rng([seed, endings, misses])
        problem = compile_model(without_ties(draw(rng, size), rng))
        takes = takes_of(problem, rng)
        for first in (0, 1, len(problem.checks), len(problem.checks) + 1):
            exact = EveryBranch(problem, first, takes).figures.sum(axis=0)
            drawn = simulate_machines(problem, first, takes, 20_000).sum(axis=0)
            # four standard errors of what is drawn, for figures that spread by up to some sixty
            work = np.array([2.0, 2.0, 2.0, 0.015, 0.015, 2.0, 2.0, 2.0, 2.0, 2.0])
            assert (np.abs(drawn - exact) <= work).all(), (seed, first, drawn, exact)
            followed += 1
    assert followed == 24


def test_every_machine_is_handed_over_or_given_up_and_the_same_is_said_each_time():
    size = Size(5, 4, 5, 3, independent=True, max_faults=3, misses=True, endings=2)
    for seed in range(20):
        rng = np.random.default_rng(seed)
        problem = compile_model(draw(rng, size))
        takes = takes_of(problem, rng)
        one, two = (simulate_machines(problem, 0, takes, 200) for _ in range(2))
        assert (one == two).all()
        handed = one[:, kernel.SOUND] + one[:, kernel.MISSED]
        assert (one[:, : kernel.WORTH] >= 0.0).all()
        assert (handed <= problem.prior + 1e-9).all()
        assert (one[:, :3] >= one[:, kernel.LOST_MINUTES : kernel.WORTH] - 1e-9).all()


def shelf_of_two():
    """A sure check in a panel tells two faults apart; each has a sure repair.

    One repair is behind the same panel.
    """
    return Model(
        faults=(Fault("a", 0.3), Fault("b", 0.7)),
        access=(Access("lid", 2.0, 1.0),),
        checks=(Check("look", 1.0, ("a", "b"), {"a": {"a": 1.0}, "b": {"b": 1.0}}, access="lid"),),
        repairs=(Repair("mend_a", 20.0, {"a": 1.0}, "lid"), Repair("mend_b", 30.0, {"b": 1.0})),
        retest=Retest(4.0),
        working=100.0,
        endings=(Ending("scrap", 0.0),),
    )


def test_two_faults_by_hand():
    problem = compile_model(shelf_of_two())
    look = Lookahead(problem)
    look.plan(Effort(growths=3))
    measures = Measures(
        np.array([5.0]), np.array([40.0, 50.0]), np.array([7.0]), np.array([11.0, 13.0])
    )
    found = Forecast(look, measures, act=0).simulated
    rows = [problem.hypotheses.index[(fault,)] for fault in (0, 1)]
    assert found.minutes[rows] == pytest.approx([0.3 * (5 + 7 + 40), 0.7 * (5 + 7 + 50)])
    assert found.repair_cost[rows] == pytest.approx(
        [0.3 * 24.0, 0.7 * 34.0]
    )  # the lid is open already
    assert found.parts[rows] == pytest.approx([0.3 * 11.0, 0.7 * 13.0])
    assert found.sound[rows] == pytest.approx([0.3, 0.7])
    assert found.missed.sum() == found.lost.sum() == 0.0


def test_a_plan_that_ends_at_once_takes_nothing():
    problem = compile_model(shelf_of_two())
    look = Lookahead(problem)
    look.plan(Effort(growths=1))
    measures = Measures(
        np.array([5.0]), np.array([40.0, 50.0]), np.array([7.0]), np.array([11.0, 13.0])
    )
    found = Forecast(look, measures, act=len(problem.checks) + len(problem.repairs)).simulated
    assert found.minutes.sum() == found.sound.sum() == found.lost.sum() == 0.0
