"""The planner for large models on small ones, where trying everything tells the truth."""

import numpy as np
import pytest
from tests.reasoning.judges.brute_force import Brute
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.planning.background_call import BackgroundCall
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import compile_model

KINDS = {
    "one fault": (Size(4, 3, 4, 2), 15),
    "no ending": (Size(3, 2, 3, 2, endings=0), 15),
    "several faults": (Size(3, 3, 3, 2, outcomes=3, independent=True, max_faults=2, endings=2), 15),
    "several faults, no ending": (Size(3, 2, 3, 2, independent=True, max_faults=2, endings=0), 25),
    "misses": (Size(3, 2, 3, 1, independent=True, max_faults=3, misses=True), 25),
    "misses, no ending": (
        Size(3, 2, 3, 1, independent=True, max_faults=2, misses=True, endings=0),
        25,
    ),
    "shutting": (Size(4, 3, 4, 3, shuts=True), 15),
    "several faults, shutting": (
        Size(3, 3, 4, 3, independent=True, max_faults=3, misses=True, endings=2, shuts=True),
        15,
    ),
    "shutting, no ending": (
        Size(3, 2, 4, 2, independent=True, max_faults=2, endings=0, shuts=True),
        15,
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_bracket_holds_the_best_value_and_only_tightens(kind):
    size, count = KINDS[kind]
    for seed in range(count):
        model = draw(np.random.default_rng([seed, *kind.encode()]), size)
        look, worth = Lookahead(compile_model(model)), Brute(model).worth()
        lower, upper = -np.inf, np.inf
        for growths in (0, 1, 2, 4, 8, 24):
            plan = look.plan(Effort(growths=growths))
            assert plan.lower - 1e-7 <= worth <= plan.upper + 1e-7, (seed, growths)
            assert plan.lower >= lower - 1e-12, (seed, growths)
            assert plan.upper <= upper + 1e-12, (seed, growths)
            lower, upper = plan.lower, plan.upper


def test_enough_growths_find_the_best_plan_of_a_small_model():
    for seed in range(10):
        model = draw(np.random.default_rng(seed), Size(3, 2, 2, 1))
        plan, brute = Lookahead(compile_model(model)).plan(Effort(growths=3000)), Brute(model)
        first = brute.first_steps()[plan.first.kind, plan.first.id]
        assert plan.value == pytest.approx(brute.worth(), abs=1e-6), seed
        assert first == pytest.approx(brute.worth(), abs=1e-6), seed


def test_the_same_problem_gives_the_same_plan():
    model = draw(np.random.default_rng(5), Size(6, 5, 6, 3, independent=True, max_faults=2))
    one, two = (Lookahead(compile_model(model)).plan(Effort(growths=30)) for _ in range(2))
    assert one == two


def test_two_cores_find_what_one_finds():
    for seed in range(4):
        size = Size(6, 5, 6, 2, independent=True, max_faults=2)
        problem = compile_model(draw(np.random.default_rng([seed, 31]), size))
        one, two = (
            Lookahead(problem, pair=pair).plan(Effort(growths=12)) for pair in (False, True)
        )
        assert one == two


def test_what_goes_wrong_beside_is_told():
    def fails():
        raise ValueError("as meant")

    with pytest.raises(ValueError, match="as meant"):
        BackgroundCall(fails).result()
