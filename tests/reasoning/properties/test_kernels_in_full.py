"""What the kernels work out by differences, against the same worked out in full."""

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.kernels.clairvoyant_cache import clairvoyant_row, forget_rows
from counterpoise.reasoning.kernels.concentration import (
    concentration,
    expected_concentration,
    list_support,
)
from counterpoise.reasoning.kernels.dense_ratio_policy import dense_ratio_policy
from counterpoise.reasoning.kernels.ratio_policy import PATIENCE, list_belief, ratio_policy
from counterpoise.reasoning.kernels.workspace import ROWS, new_workspace
from counterpoise.reasoning.problem import compile_model

SIZES = [
    Size(5, 4, 5, 3),
    Size(4, 3, 5, 2, endings=0),
    Size(5, 3, 6, 3, outcomes=3, independent=True, max_faults=3, misses=True, endings=2),
    Size(4, 2, 5, 2, independent=True, max_faults=2, misses=True, endings=0),
    Size(4, 3, 5, 4, independent=True, max_faults=3, misses=True, endings=2, shuts=True),
    Size(4, 2, 5, 3, endings=0, shuts=True),
]


def problems(count):
    for size in SIZES:
        for seed in range(count):
            yield (
                compile_model(draw(np.random.default_rng(seed), size)),
                np.random.default_rng([seed, 1]),
            )


def belief(rng, sets):
    w = rng.random(sets) * (rng.random(sets) < 0.7)
    w[-1] += 0.1
    return w / w.sum()


def test_repairing_by_ratio_earns_what_it_does_followed_set_by_set():
    for problem, rng in problems(25):
        k = problem.arrays()
        work = new_workspace(k)
        for _ in range(8):
            w = belief(rng, k.pass_chance.size)
            tried, opened = (
                int(rng.integers(1 << n)) for n in (k.repair_cost.size, k.panel_cost.size)
            )
            slow = dense_ratio_policy(
                k, w, tried, opened, np.zeros((2, w.size)), np.zeros_like(work.chain)
            )
            fast = ratio_policy(k, w, tried, opened, work)
            left = k.repair_cost.size - tried.bit_count()
            if k.forced or left <= PATIENCE:
                assert fast[0] == pytest.approx(slow[0], abs=1e-9)
                assert fast[1:] == slow[1:]
            assert fast[0] <= slow[0] + 1e-9


def test_the_expected_concentration_is_the_expected_sum_of_squares():
    for problem, rng in problems(10):
        k = problem.arrays()
        work = new_workspace(k)
        w, best_repair = (
            belief(rng, k.pass_chance.size),
            rng.integers(0, k.repair_cost.size + 1, k.pass_chance.size),
        )
        before = concentration(w, list_support(w, work.live), best_repair, work)
        assert before == pytest.approx(squares(w, best_repair), abs=1e-12)
        for c, many in enumerate(k.outcomes):
            joint = w * k.table[c, :many]
            after = sum(squares(row, best_repair) / row.sum() for row in joint if row.sum() > 0)
            assert expected_concentration(k, w, c, before, best_repair, work) == pytest.approx(
                after, abs=1e-12
            )


def test_moves_come_by_rising_source_and_lead_to_sets_that_stand_before_it():
    met = 0
    for problem, _ in problems(10):
        for moves in problem.transitions:
            assert (np.diff(moves.source) >= 0).all()
            assert (moves.target < moves.source).all()
            met += moves.source.size
    assert met > 1000


def test_a_belief_is_listed_where_it_is_positive():
    for problem, rng in problems(2):
        work = new_workspace(problem.arrays())
        w = belief(rng, problem.prior.size)
        count = list_belief(w, work.live, work.weights)
        np.testing.assert_array_equal(work.live[:count], np.flatnonzero(w))
        np.testing.assert_array_equal(work.weights[:count], w[w > 0])


def squares(w, best_repair):
    return float((np.bincount(best_repair, w) ** 2).sum())


def test_hindsight_is_kept_and_found_again_however_many_are_asked_for():
    problem, rng = next(problems(1))
    k = problem.arrays()
    work = new_workspace(k)
    asked = [tuple(int(n) for n in rng.integers(0, (32, 8))) for _ in range(40)]
    work.rows_filled[0] = (
        ROWS - 30
    )  # as if the others were taken: the last ones have to share a row
    for tried, opened in asked:
        row = clairvoyant_row(k, tried, opened, 2, work)
        fresh = np.zeros(k.pass_chance.size)
        hindsight(k, np.ones(fresh.size), tried, opened, fresh)
        np.testing.assert_array_equal(work.values[row], fresh)
    assert (work.row_keys[:, 0] >= 0).sum() == ROWS - 8 - (ROWS - 30)
    forget_rows(work)
    assert work.rows_filled[0] == 0
    assert (work.row_keys < 0).all()
