"""The tree of the lookahead by hand: results, brackets carried back, the branch to follow."""

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.planning.background_call import BackgroundCall
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.planning.search_tree import (
    ActionNode,
    Node,
    branch_to_follow,
    child_node,
)
from counterpoise.reasoning.problem import compile_model

ROWS = np.array([[0.25, 0.0, 0.75], [4.0, 0.0, 8.0], [6.0, 0.0, 12.0]])


def action(low=0.0, high=1.0, fixed=0.0):
    return ActionNode(fixed, low, high, ROWS.copy())


def node(low, **branches):
    made = {int(name[1:]): branch for name, branch in branches.items()}
    return Node(np.ones(1), (0, 0, 0), low, 10.0, 0, 1.0, made or None)


def test_results_are_the_outcomes_that_can_come():
    results = action().results
    assert [(r.outcome, r.mass, r.low, r.high) for r in results] == [
        (0, 0.25, 4.0, 6.0),
        (2, 0.75, 8.0, 12.0),
    ]
    assert [r.possible for r in results] == [0.5, 3.0]


def test_brackets_come_back_as_means_of_the_results():
    branch = action(fixed=-2.0)
    branch.update()
    assert (branch.low, branch.high) == (-2.0 + 7.0, -2.0 + 10.5)
    branch.results[1].low = 10.0
    branch.update()
    assert (branch.low, branch.high) == (-2.0 + 8.5, -2.0 + 10.5)


def test_the_branch_of_highest_end_is_followed():
    sure, hopeful = action(3.0, 5.0), action(1.0, 9.0)
    here = node(2.0, a0=sure, a1=hopeful)
    assert branch_to_follow(here, towards_upper=True) is hopeful
    assert branch_to_follow(here, towards_upper=False) is sure


def test_no_branch_is_followed_that_is_closed_or_cannot_win():
    assert branch_to_follow(node(0.0), towards_upper=True) is None
    closed, beaten = action(4.0, 4.0), action(1.0, 3.0)
    assert branch_to_follow(node(3.0, a0=closed, a1=beaten), towards_upper=True) is None


def test_a_child_is_there_only_where_it_was_looked_into():
    branch = action()
    parent = node(0.0, a7=branch)
    assert child_node(None, 7, 0) is None
    assert child_node(parent, 7, 0) is None
    branch.results[0].node = below = node(1.0)
    assert child_node(parent, 7, 0) is below
    assert child_node(parent, 7, 1) is None  # cannot come
    assert child_node(parent, 8, 0) is None  # not looked at
    assert child_node(below, 7, 0) is None  # not grown


def test_a_call_beside_gives_what_it_returns_even_nothing():
    assert BackgroundCall(lambda: 6 * 7).result() == 42
    assert BackgroundCall(lambda: None).result() is None
    again = BackgroundCall(lambda: [1])
    assert again.result() is again.result()


def test_brackets_of_a_grown_tree_hold_together():
    """Every branch's bracket is the mean of its results', and no node lies outside its result."""
    for seed in range(6):
        size = Size(5, 4, 4, 2, independent=True, max_faults=2)
        look = Lookahead(compile_model(draw(np.random.default_rng(seed), size)))
        look.plan(Effort(growths=25))
        stack = [look.root]
        while stack:
            at = stack.pop()
            assert at.low <= at.high + 1e-12
            for branch in (at.actions or {}).values():
                assert branch.high >= branch.low - 1e-9
                assert sum(r.mass for r in branch.results) <= 1.0 + 1e-9
                for result in branch.results:
                    if result.node is not None:
                        assert result.node.low <= result.high + 1e-9
                        assert result.low <= result.node.high + 1e-9
                        stack.append(result.node)


def test_results_of_a_check_say_how_likely_they_are_and_what_follows():
    for seed in range(8):
        problem = compile_model(draw(np.random.default_rng(seed), Size(4, 3, 3, 1, outcomes=3)))
        look = Lookahead(problem)
        before = [look.results_of(c) for c in range(len(problem.checks))]
        look.plan(Effort(growths=10))
        actions = len(problem.checks) + len(problem.repairs) + len(problem.endings)
        for c, rows in enumerate(before):
            after = look.results_of(c)
            assert sum(mass for mass, _ in rows) == pytest.approx(1.0)
            assert [mass for mass, _ in after] == pytest.approx([mass for mass, _ in rows])
            assert all(0 <= act <= actions and act != c for mass, act in after if mass > 0)


def test_ratio_only_never_earns_more_and_the_upper_ends_agree_at_first():
    for seed in range(6):
        problem = compile_model(draw(np.random.default_rng(seed), Size(5, 4, 4, 2)))
        plain, full = Lookahead(problem, ratio_only=True), Lookahead(problem)
        assert plain.root.low <= full.root.low + 1e-6
        assert plain.root.high == pytest.approx(max(full.root.high, plain.root.low))


def test_growing_in_pieces_is_growing_at_once():
    problem = compile_model(draw(np.random.default_rng(9), Size(5, 4, 4, 2)))
    pieces, whole = Lookahead(problem), Lookahead(problem)
    for growths in range(1, 16):
        last = pieces.plan(Effort(growths=growths))
    assert last == whole.plan(Effort(growths=15))


def test_no_time_and_a_wide_gap_stop_at_once():
    problem = compile_model(draw(np.random.default_rng(9), Size(5, 4, 4, 2)))
    assert Lookahead(problem).plan(Effort(gap=1e9)).states == 0
    assert Lookahead(problem).plan(Effort(growths=50, seconds=0.0)).states <= 1
