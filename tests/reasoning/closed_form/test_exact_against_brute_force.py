"""The exact solver against a plain dynamic programme that tries everything.

The same value, and the same first step or a tie.
"""

import numpy as np
import pytest
from tests.reasoning.judges.brute_force import Brute
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.problem import compile_model

KINDS = {
    "one fault": (Size(4, 3, 4, 2), 60),
    "one fault, three outcomes": (Size(3, 3, 3, 2, outcomes=3), 30),
    "one fault, no ending": (Size(4, 2, 4, 2, endings=0), 60),
    "one fault, two endings": (Size(4, 3, 3, 3, endings=2), 30),
    "several faults": (Size(3, 2, 3, 2, independent=True, max_faults=2), 60),
    "three faults": (Size(3, 2, 3, 2, independent=True, max_faults=3, outcomes=3), 30),
    "several faults, no ending": (Size(3, 2, 3, 2, independent=True, max_faults=2, endings=0), 60),
    "a retest that misses": (Size(3, 2, 3, 1, misses=True), 150),
    "several faults, a retest that misses": (
        Size(3, 2, 3, 2, independent=True, max_faults=3, misses=True),
        150,
    ),
    "a retest that misses, no ending": (Size(3, 2, 3, 1, misses=True, endings=0), 60),
    "several faults, misses, no ending": (
        Size(3, 2, 3, 1, independent=True, max_faults=2, misses=True, endings=0),
        60,
    ),
    "more faults": (Size(6, 4, 5, 3), 6),
    "more repairs": (Size(5, 2, 7, 4), 6),
    "eight by eight by four, sharp checks": (Size(8, 8, 4, 4, sharp=True), 3),
    "one fault, shutting": (Size(4, 3, 4, 3, shuts=True), 60),
    "one fault, shutting, no ending": (Size(4, 2, 4, 3, endings=0, shuts=True), 60),
    "several faults, shutting": (
        Size(3, 2, 3, 3, independent=True, max_faults=3, shuts=True, endings=2),
        60,
    ),
    "several faults, misses, shutting": (
        Size(3, 2, 4, 3, independent=True, max_faults=3, misses=True, shuts=True),
        60,
    ),
    "misses, shutting, no ending": (
        Size(3, 2, 3, 2, independent=True, max_faults=2, misses=True, endings=0, shuts=True),
        60,
    ),
    "more repairs, shutting": (Size(5, 2, 7, 4, shuts=True), 6),
}
CASES = [(kind, seed) for kind, (_, count) in KINDS.items() for seed in range(count)]


@pytest.mark.parametrize("kind", KINDS)
def test_the_exact_plan_is_as_good_as_trying_everything(kind):
    size, count = KINDS[kind]
    for seed in range(count):
        model = draw(np.random.default_rng([seed, *kind.encode()]), size)
        plan, brute = solve_exactly(compile_model(model), slots=1 << 16), Brute(model)
        assert plan.exact, seed
        assert plan.value == pytest.approx(brute.worth(), abs=1e-6), seed
        first = (
            ("ending", "") if plan.first.kind == "exhausted" else (plan.first.kind, plan.first.id)
        )
        assert brute.first_steps()[first] == pytest.approx(brute.worth(), abs=1e-6), seed
