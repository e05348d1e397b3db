"""The sets of faults and what leads from one to another, against plain Python sets."""

import numpy as np
import pytest
from tests.reasoning.judges import brute_force
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of

SIZES = (
    Size(5, 0, 0, 0, independent=True, max_faults=3),
    Size(6, 0, 0, 0, independent=True, max_faults=2),
    Size(4, 0, 0, 0),
)


def names_of(hypotheses):
    return [frozenset(hypotheses.fault_ids[i] for i in faults) for faults in hypotheses.sets]


@pytest.mark.parametrize("size", SIZES)
def test_the_prior_over_sets_is_that_of_plain_enumeration(size):
    for seed in range(20):
        model = draw(np.random.default_rng(seed), size)
        hypotheses = enumerate_hypotheses(model)
        expected = brute_force.prior(model)
        found = dict(zip(names_of(hypotheses), prior_of(model, hypotheses).tolist(), strict=True))
        assert {faults for faults, weight in found.items() if weight > 0} == set(expected)
        assert all(
            found[faults] == pytest.approx(weight, abs=1e-14) for faults, weight in expected.items()
        )


@pytest.mark.parametrize("size", SIZES)
def test_a_set_less_one_fault_is_found(size):
    model = draw(np.random.default_rng(3), size)
    hypotheses = enumerate_hypotheses(model)
    sets = names_of(hypotheses)
    for row, faults in enumerate(hypotheses.sets):
        for m in range(hypotheses.members.shape[1]):
            gone = {hypotheses.fault_ids[faults[m]]} if m < len(faults) else set()
            assert sets[hypotheses.one_less[row, m]] == sets[row] - gone
