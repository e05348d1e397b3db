"""The closer certificate on small models, where trying everything tells the truth."""

import numpy as np
import pytest
from tests.reasoning.judges.brute_force import Brute
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.bounds_refinement import RefinedBounds, capped, certify
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import compile_model

KINDS = {
    "one fault": (Size(4, 3, 4, 2), 40),
    "no ending": (Size(3, 2, 3, 2, endings=0), 40),
    "several faults": (Size(3, 3, 3, 2, outcomes=3, independent=True, max_faults=2, endings=2), 40),
    "three at once": (Size(3, 2, 3, 2, independent=True, max_faults=3), 60),
    "several faults, no ending": (Size(3, 2, 3, 2, independent=True, max_faults=2, endings=0), 40),
    "misses": (Size(3, 2, 3, 1, independent=True, max_faults=3, misses=True), 60),
    "misses, no ending": (
        Size(3, 2, 3, 1, independent=True, max_faults=2, misses=True, endings=0),
        40,
    ),
    "shutting": (Size(4, 3, 4, 3, shuts=True), 40),
    "several faults, shutting": (
        Size(3, 3, 4, 3, independent=True, max_faults=3, misses=True, endings=2, shuts=True),
        40,
    ),
    "shutting, no ending": (
        Size(3, 2, 4, 2, independent=True, max_faults=2, endings=0, shuts=True),
        40,
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_both_ends_hold_the_best_value_and_following_further_never_earns_less_than_stopping(kind):
    size, count = KINDS[kind]
    for seed in range(count):
        model = draw(np.random.default_rng([seed, *kind.encode()]), size)
        thorough, worth = RefinedBounds(compile_model(model)), Brute(model).worth()
        assert worth <= thorough.upper + 1e-7, seed
        for tolerance in (10.0, 1.0, 0.01):
            followed = thorough.follow(tolerance)
            assert thorough.stopped.value - 1e-9 <= followed.value <= worth + 1e-7, (
                seed,
                tolerance,
            )


class Knowing(Brute):
    """One who is told at every state what is wrong."""

    def best(self, belief, done, tried, opened):
        if len(belief) == 1:
            return super().best(belief, done, tried, opened)
        return sum(
            weight * self.best({faults: 1.0}, done, tried, opened)
            for faults, weight in belief.items()
        )


def test_what_knowing_is_worth_is_exact():
    closer = 0
    for seed in range(80):
        size = Size(3, 0, 4, 3, independent=True, max_faults=3, misses=seed % 2 == 1)
        model = draw(np.random.default_rng(seed), size)
        problem, told = compile_model(model), Knowing(model).worth()
        quick = hindsight(problem.arrays(), problem.prior, 0, 0, np.zeros(problem.prior.size))
        upper = RefinedBounds(problem).upper
        assert upper >= told - 1e-7, seed
        if not size.misses:
            assert upper == pytest.approx(told, abs=1e-7), seed
            closer += quick > told + 1e-6
    assert closer > 10  # where repairs fail or panels add up, the quicker bound lies above


def test_two_repairs_that_may_fail_behind_two_panels():
    model = Model(
        (Fault("a", 0.5), Fault("b", 0.5)),
        "independent",
        max_faults=2,
        access=(Access("p", 2.0, 1.0), Access("q", 3.0, 1.0)),
        repairs=(Repair("mend_a", 10.0, {"a": 0.8}, "p"), Repair("mend_b", 12.0, {"b": 0.5}, "q")),
        retest=Retest(1.0),
        working=100.0,
        endings=(Ending("part_out", 20.0),),
    )
    one_a = -10 - 1 - 3 + 0.8 * 100 + 0.2 * 20  # tried once, then parted out
    one_b = -12 - 1 - 4 + 0.5 * 100 + 0.5 * 20
    both = (
        -12 - 1 - 4 + 0.5 * one_a + 0.5 * 20
    )  # the surer repair is worth its price only once the other has worked
    assert RefinedBounds(compile_model(model)).upper == pytest.approx(
        (one_a + one_b + max(both, 20.0)) / 3, abs=1e-9
    )


def test_a_sure_check_is_followed_to_the_best_plan():
    sure = Check("look", 1.0, ("a", "b"), {"b": {"b": 1.0}}, {}, None)
    model = Model(
        (Fault("a", 0.5), Fault("b", 0.5)),
        "exactly_one",
        checks=(sure,),
        repairs=(Repair("mend_a", 30.0, {"a": 1.0}), Repair("mend_b", 40.0, {"b": 1.0})),
        working=100.0,
        endings=(Ending("scrap", 0.0),),
    )
    plan = certify(compile_model(model), Effort(seconds=60.0, gap=1.0))
    assert plan.lower == pytest.approx(-1.0 + 0.5 * 70.0 + 0.5 * 60.0)
    assert plan.upper == pytest.approx(0.5 * 70.0 + 0.5 * 60.0)
    assert (plan.first.kind, plan.first.id) == ("check", "look")


def test_what_was_known_before_is_never_widened():
    tighter = 0
    for seed in range(15):
        model = draw(np.random.default_rng(seed), Size(3, 3, 4, 2, independent=True, max_faults=2))
        problem, worth = compile_model(model), Brute(model).worth()
        before = Lookahead(problem).plan(Effort(growths=1))
        after = certify(problem, Effort(seconds=0.0), before)
        assert before.lower <= after.lower <= worth + 1e-7, seed
        assert worth - 1e-7 <= after.upper <= before.upper, seed
        assert after.action_bounds[0].action == after.first, seed
        assert all(one.upper <= after.upper for one in after.action_bounds), seed
        assert worth - 1e-7 <= capped(problem, before).upper <= before.upper, seed
        tighter += after.gap < before.gap - 1e-9
    assert tighter > 0
