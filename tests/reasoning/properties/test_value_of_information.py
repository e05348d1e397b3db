"""What holds of information whatever the figures are."""

from dataclasses import replace

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.kernels.dense_ratio_policy import dense_ratio_policy
from counterpoise.reasoning.model import Check, Ending, Fault, Model
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.problem import compile_model

KINDS = (
    Size(4, 2, 4, 2),
    Size(4, 2, 3, 2, outcomes=3, endings=2),
    Size(3, 2, 3, 2, independent=True, max_faults=2),
    Size(3, 2, 3, 2, independent=True, max_faults=2, misses=True),
)


def worth(model):
    plan = solve_exactly(compile_model(model), slots=1 << 15)
    assert plan.exact
    return plan.value


def models(size, count=15):
    return (draw(np.random.default_rng(seed), size) for seed in range(count))


@pytest.mark.parametrize("size", KINDS)
def test_a_check_is_never_worth_less_than_nothing_before_its_cost(size):
    for model in models(size):
        first, *others = model.checks
        without = worth(replace(model, checks=tuple(others)))
        free = worth(replace(model, checks=(replace(first, cost=0.0, access=None), *others)))
        assert free >= without - 1e-9
        assert worth(model) >= without - 1e-9  # a check may be left undone


@pytest.mark.parametrize("size", KINDS[:2])
def test_no_check_is_worth_more_than_knowing(size):
    for model in models(size):
        names = [fault.id for fault in model.faults]
        sure = Check(
            "know", 0.0, tuple(names), {name: {name: 1.0} for name in names}, exclusive=True
        )
        free = tuple(replace(check, cost=0.0, access=None) for check in model.checks)
        known = worth(replace(model, checks=(sure,)))
        assert known >= worth(replace(model, checks=free)) - 1e-9
        assert known >= worth(model) - 1e-9


@pytest.mark.parametrize("size", KINDS)
def test_the_value_lies_between_plain_repairing_and_hindsight(size):
    for model in models(size, 30):
        problem = compile_model(model)
        k = problem.arrays()
        sets = problem.prior.size
        chain = np.zeros((4, max(len(problem.repairs), k.cure.shape[1]) + 1))
        low = dense_ratio_policy(k, problem.prior, 0, 0, np.zeros((2, sets)), chain)[0]
        high = hindsight(k, problem.prior, 0, 0, np.zeros(sets))
        assert low - 1e-9 <= worth(model) <= high + 1e-9


def test_two_checks_can_be_worth_more_together_than_the_sum():
    # the value of information does not add up: each of two signs alone changes nothing, both
    # together do
    faults = {f"f{i}": i for i in range(4)}
    bits = [{name: {"yes": 1.0} for name, i in faults.items() if i >> bit & 1} for bit in range(2)]
    guess = {name: 30.0 if name == "f3" else -20.0 for name in faults}

    def value(*kept):
        checks = tuple(Check(f"bit{b}", 0.0, ("no", "yes"), bits[b]) for b in kept)
        return worth(
            Model(
                faults=tuple(Fault(name, 0.25) for name in faults),
                checks=checks,
                endings=(Ending("leave", 0.0), Ending("bet", 0.0, guess)),
            )
        )

    assert value() == 0.0
    assert value(0) + value(1) < value(0, 1)
