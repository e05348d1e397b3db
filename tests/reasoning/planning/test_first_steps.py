"""First steps compared on the same machines: signs against the exact solver, ties, and errors."""

from dataclasses import replace

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels.bounds import after_repair, opening_cost
from counterpoise.reasoning.kernels.monte_carlo import EXPECTED, FIGURES, WORTH
from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.planning.first_steps import FirstSteps, paired
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines, Measures
from counterpoise.reasoning.problem import compile_model

SHARP = Size(8, 11, 7, 3, endings=1, sharp=True)


def minutes_of(problem, checks=None):
    counts = (len(problem.checks), len(problem.repairs), len(problem.access), len(problem.repairs))
    measures = Measures(*(np.ones(count) for count in counts))
    return measures if checks is None else measures._replace(check_minutes=np.array(checks))


def number_of(problem, action):
    checks = [check.id for check in problem.checks]
    if action.kind == "ending":
        names = [ending.id for ending in problem.endings]
        return len(checks) + len(problem.repairs) + names.index(action.id)
    if action.kind == "check":
        return checks.index(action.id)
    return len(checks) + [repair.id for repair in problem.repairs].index(action.id)


def exact_worth(problem, action):
    """What a first step is worth, each state after it solved exactly."""
    k, a = problem.arrays(), number_of(problem, action)
    if action.kind == "check":
        needed = int(k.check_panels[a])
        worth = -float(k.check_cost[a]) - opening_cost(k, needed, problem.opened)
        for outcome in range(int(k.outcomes[a])):
            joint = problem.prior * k.table[a, outcome]
            mass = float(joint.sum())
            if mass > 1e-12:
                after = replace(
                    problem,
                    prior=joint / mass,
                    done=problem.done | 1 << a,
                    opened=problem.opened | needed,
                )
                worth += mass * solve_exactly(after).value
        return worth
    r = a - len(problem.checks)
    needed, left = int(k.repair_panels[r]), np.zeros_like(problem.prior)
    mass, passed, _ = after_repair(k, r, problem.prior, left)
    worth = passed - float(k.repair_cost[r]) - opening_cost(k, needed, problem.opened)
    if mass > 1e-12:
        after = replace(
            problem,
            prior=left / left.sum(),
            tried=problem.tried | 1 << r,
            opened=problem.opened | needed,
        )
        worth += mass * solve_exactly(after).value
    return worth


@pytest.mark.parametrize("seed", [39, 173])
def test_where_the_bounds_have_the_wrong_sign_the_machines_have_the_right_one(seed):
    problem = compile_model(draw(np.random.default_rng(seed), SHARP))
    plan = Lookahead(problem).plan(Effort(growths=1 + seed % 3))
    first, rival = [each for each in plan.action_bounds if each.action.kind != "ending"][:2]
    better = exact_worth(problem, rival.action) - exact_worth(problem, first.action)
    assert first.lower > rival.lower
    assert better > 1.0
    steps = FirstSteps(plan, DrawnMachines(problem, minutes_of(problem), 400))
    compared = steps.seen_from(number_of(problem, first.action))
    found = next(each for each in compared.others if each.action == rival.action)
    assert found.behind < -found.error
    assert not found.about_as_good
    assert steps.advised().first.action == rival.action


def test_an_ending_is_compared_exactly():
    for seed in range(20):
        problem = compile_model(draw(np.random.default_rng(seed), Size(5, 4, 4, 2, endings=2)))
        look = Lookahead(problem)
        plan = look.plan(Effort(growths=60))
        if plan.first.kind != "ending":
            continue
        steps = FirstSteps(plan, DrawnMachines(problem, minutes_of(problem), 60))
        comparison = steps.seen_from(number_of(problem, plan.first))
        for each in comparison.others:
            # what is proven holds, whatever the drawn machines say
            upper = next(b.upper for b in plan.action_bounds if b.action == each.action)
            assert each.behind >= plan.lower - upper - 1e-9


def two_looks(second_behind=None):
    """Two checks that tell the same of two faults, each with its own sure repair."""
    outcomes = {"a": {"a": 0.9}, "b": {"b": 0.9}}
    return compile_model(
        Model(
            faults=(Fault("a", 0.5), Fault("b", 0.5)),
            access=(Access("lid", 0.0, 0.0),),
            checks=(
                Check("look", 1.0, ("a", "b"), outcomes, access="lid"),
                Check("feel", 1.0, ("a", "b"), outcomes, access=second_behind),
            ),
            repairs=(Repair("mend_a", 30.0, {"a": 1.0}), Repair("mend_b", 30.0, {"b": 1.0})),
            retest=Retest(1.0),
            working=100.0,
            endings=(Ending("scrap", 0.0),),
        )
    )


@pytest.mark.parametrize(
    ("second_behind", "minutes", "advised"),
    [(None, [1.0, 5.0], "feel"), ("lid", [5.0, 1.0], "look"), ("lid", [1.0, 5.0], "look")],
)
def test_between_steps_as_good_the_one_that_opens_nothing_else_the_plans_own(
    second_behind, minutes, advised
):
    problem = two_looks(second_behind)
    plan = Lookahead(problem).plan(Effort(growths=3))
    drawn = DrawnMachines(problem, minutes_of(problem, minutes), 120)
    comparison = FirstSteps(plan, drawn).advised()
    assert comparison.first.action.id == advised
    other = next(each for each in comparison.others if each.action.kind == "check")
    assert other.about_as_good


def test_the_same_is_said_each_time_on_one_core_or_two():
    problem = compile_model(draw(np.random.default_rng(3), Size(6, 6, 6, 3, endings=2)))
    plan = Lookahead(problem).plan(Effort(growths=4))
    measures = minutes_of(problem)
    comparisons = [
        FirstSteps(plan, DrawnMachines(problem, measures, 120)).advised() for _ in range(2)
    ]
    assert comparisons[0] == comparisons[1]
    alone = DrawnMachines(problem, measures, 120)
    for each in (comparisons[0].first, *comparisons[0].others):
        beside = DrawnMachines(problem, measures, 120)
        beside.work_on([], [(each.number, 3)])
        assert (beside.figures(each.number) == alone.figures(each.number)).all()


def test_the_error_is_that_of_the_mean_and_mixing_keeps_the_mean():
    rng = np.random.default_rng(0)
    means, errors = [], []
    for _ in range(400):
        difference = np.zeros((120, FIGURES))
        luck = rng.normal(0.0, 5.0, 120)
        difference[:, EXPECTED] = rng.normal(2.0, 1.0, 120)
        difference[:, WORTH] = difference[:, EXPECTED] + luck
        mean, error = paired(difference)
        means.append(mean)
        errors.append(error)
    assert np.mean(means) == pytest.approx(2.0, abs=0.03)
    assert np.mean(errors) == pytest.approx(np.std(means), rel=0.15)
    # what is to be expected varies five times less than what comes out
    assert np.mean(errors) < 0.2


class Drawn:
    """Machines by hand: what each first step earns on them, and on the others."""

    def __init__(self, real, worth, others=None):
        self._real, self._worth, self.others = real, worth, others

    def __getattr__(self, name):
        return getattr(self._real, name)

    def work_on(self, here, beside):
        pass

    def figures(self, first, every=1):
        out = np.zeros((self._real.machines, FIGURES))
        out[:, WORTH] = self._worth.get(first, 0.0)
        # enough spread for an error, the same in all so that differences are sharp
        out[:, WORTH] += np.linspace(-1.0, 1.0, len(out))
        return out[::every]


@pytest.mark.parametrize("again", [True, False])
def test_a_step_takes_the_place_of_the_plans_own_only_where_it_is_ahead_on_other_machines_too(
    again,
):
    # neither spares opening what the other opens
    problem = two_looks("lid")
    plan = Lookahead(problem).plan(Effort(growths=3))
    # without limits that are proven, only the machines speak
    open_bounds = tuple(replace(b, lower=-1e6, upper=1e6) for b in plan.action_bounds)
    plan = replace(plan, lower=0.0, upper=1e6, action_bounds=open_bounds)
    real = DrawnMachines(problem, minutes_of(problem), 120)
    own = [c.id for c in problem.checks].index(plan.first.id)
    rival = 1 - own
    others = Drawn(real, {own: 0.0, rival: 500.0 if again else 0.0})
    steps = FirstSteps(plan, Drawn(real, {own: 0.0, rival: 500.0}, others))
    assert steps.advised().first.number == (rival if again else own)
