"""What a check tells, against the entropies before and after it, worked out by hand."""

import numpy as np
import pytest

from counterpoise.reasoning.information import entropy_bits, mutual_information_bits


def test_what_a_check_tells_is_the_entropy_it_takes_away():
    rng = np.random.default_rng(3)
    for _ in range(20):
        belief = rng.dirichlet(np.ones(6))
        table = rng.dirichlet(np.ones(4), size=6).T
        before = -sum(b * np.log2(b) for b in belief)
        after = 0.0
        for row in table:
            joint = row * belief
            after -= sum(j * np.log2(j / joint.sum()) for j in joint)
        assert mutual_information_bits(table, belief) == pytest.approx(before - after)
    assert mutual_information_bits(np.array([[1.0, 1.0], [0.0, 0.0]]), np.array([0.5, 0.5])) == 0.0


@pytest.mark.parametrize("count", [1, 2, 8, 64])
def test_as_many_equal_chances_take_as_many_questions_of_yes_or_no(count):
    chances = np.concatenate([np.full(count, 1.0 / count), np.zeros(3)])
    assert entropy_bits(chances) == pytest.approx(np.log2(count))
