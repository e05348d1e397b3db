"""The table of states: what is one state, what is not, and what happens when it is full."""

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.equivalent_actions import find_symmetry
from counterpoise.reasoning.kernels.search_actions import insert_action, to_failed, to_outcome
from counterpoise.reasoning.kernels.search_workspace import (
    FULL,
    GRAIN,
    NODES,
    find_slot,
    new_search_workspace,
)
from counterpoise.reasoning.model import Check, Fault, Model, Repair
from counterpoise.reasoning.planning.exact import FEWEST_SLOTS, MOST_SLOTS, slots_for
from counterpoise.reasoning.problem import compile_model


def space_of(problem, slots=64):
    k = problem.arrays()
    symmetry = find_symmetry(problem, k)
    return k, new_search_workspace(k, symmetry.block, symmetry.twin, slots, 1000)


@pytest.fixture
def some():
    return compile_model(draw(np.random.default_rng(2), Size(5, 3, 4, 2)))


def take(s, w, done=0, tried=0, opened=0):
    """Slot of the state, marked as taken."""
    s.w[0] = w
    slot = find_slot(s, 0, done, tried, opened)
    s.act[slot] = max(1, s.act[slot])
    return slot


def test_a_state_is_found_again_and_every_other_one_has_a_slot_of_its_own(some):
    _, s = space_of(some)
    rng = np.random.default_rng(0)
    beliefs = rng.dirichlet(np.ones(some.prior.size), 4)
    states = [(w, *map(int, bits)) for w in beliefs for bits in rng.integers(0, 4, (4, 3))]
    unique = {(i // 4, *state[1:]) for i, state in enumerate(states)}
    slots = [take(s, *state) for state in states]
    assert slots == [take(s, *state) for state in states]
    assert len(set(slots)) == len(unique)


def test_beliefs_equal_to_rounding_are_one_state_and_others_are_not(some):
    _, s = space_of(some)
    w = some.prior.copy()
    here = take(s, w)
    nearly, apart = w.copy(), w.copy()
    held = int(np.argmax(w))
    # towards the middle of its grain, so that the rounding does not cross an edge
    whole = np.floor(w[held] * GRAIN + 0.5) / GRAIN
    nearly[held] = whole + 0.1 / GRAIN
    apart[held] = whole + 5.0 / GRAIN
    assert take(s, nearly) == here
    assert take(s, apart) != here


def test_a_full_table_takes_no_new_state_and_still_finds_the_old_ones(some):
    _, s = space_of(some)
    first = take(s, some.prior)
    s.meter[NODES] = s.meter[FULL]
    assert take(s, some.prior) == first
    s.w[0] = some.prior
    assert find_slot(s, 0, 1, 0, 0) == -1


def test_interchangeable_blocks_share_their_states():
    """Two checks that each tell of one fault of the same chance, with repairs of the same price."""
    model = Model(
        tuple(Fault(name, 0.25) for name in "abcd"),
        checks=tuple(
            Check(f"is_{name}", 1.0, ("no", "yes"), {name: {"yes": 0.9}}) for name in "ab"
        ),
        repairs=tuple(Repair(f"mend_{name}", 3.0 + (name > "b"), {name: 1.0}) for name in "abcd"),
    )
    problem = compile_model(model)
    _, s = space_of(problem)
    w = np.array([0.0, 0.1, 0.3, 0.2, 0.4])
    mirrored = w[[0, 2, 1, 3, 4]]
    assert take(s, w, done=1) == take(s, mirrored, done=2)
    assert take(s, w, done=1) != take(s, w, done=2)
    assert take(s, w, tried=1) == take(s, mirrored, tried=2)
    assert take(s, w, opened=0) == take(s, mirrored)


@pytest.mark.parametrize("budget", [1, 100, 4000, 10_000, 1_000_000, 10**9])
def test_a_table_is_a_power_of_two_with_room_to_spare(budget):
    slots = slots_for(budget)
    assert slots & (slots - 1) == 0
    assert FEWEST_SLOTS <= slots <= MOST_SLOTS
    if slots < MOST_SLOTS:
        assert 0.8 * slots >= budget


def test_actions_are_kept_by_falling_bound_and_equals_in_order(some):
    _, s = space_of(some)
    bounds = [3.0, 5.0, 5.0, 1.0, 4.0, 3.0]
    count = 0
    for action, bound in enumerate(bounds):
        count = insert_action(s, 0, 0, count, action, bound, True)
    assert count == len(bounds)
    assert s.bound[0, :count].tolist() == sorted(bounds, reverse=True)
    assert s.order[0, :count].tolist() == [1, 2, 4, 0, 5, 3]


def test_beliefs_after_all_results_add_up_to_the_belief_before(some):
    k, s = space_of(some)
    s.w[0] = some.prior
    for c in range(len(some.checks)):
        total = np.zeros(some.prior.size)
        for o in range(int(k.outcomes[c])):
            mass = float(some.prior @ k.table[c, o])
            s.outcome_mass[0, o] = mass
            if mass > 0.0:
                to_outcome(k, s, 0, c, o)
                assert s.w[1].sum() == pytest.approx(1.0)
                total += mass * s.w[1]
        assert total == pytest.approx(some.prior)


def test_after_a_failed_repair_belief_sums_to_one_and_passing_is_paid(some):
    k, s = space_of(some)
    s.w[0] = some.prior
    for r in range(len(some.repairs)):
        left, passed = to_failed(k, s, 0, r)
        sound = 1.0 - left
        assert passed == pytest.approx(sound * some.working)
        if left > 0:
            assert s.w[1].sum() == pytest.approx(1.0)
            assert s.w[1, 0] == 0.0  # nothing wrong would have passed
