"""Orders that theory proves, against trying every permutation.

Sources at the functions and beside the tests.
"""

from fractions import Fraction
from itertools import pairwise, permutations

import numpy as np
import pytest
from tests.reasoning.judges.optimal_orders import (
    expected_repair_cost,
    horn_order,
    independent_faults_order,
    single_fault_order,
    smith_order,
    weighted_completion,
)

from counterpoise.errors import ModelError
from counterpoise.reasoning.kernels.dense_ratio_policy import dense_ratio_policy
from counterpoise.reasoning.model import Access, Fault, Model, Repair
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.problem import compile_model

SEEDS = range(25)


def figures(rng, count):
    keys = list(range(count))
    chances = rng.dirichlet(np.ones(count))
    return dict(zip(keys, chances.tolist(), strict=True)), {
        key: float(rng.integers(1, 9)) for key in keys
    }


def independent_cost(order, p, c):
    """Cost with independent faults, at least one there: paid while anything is still wrong."""
    none = np.prod([1 - p[key] for key in order])
    total = 0.0
    for place, key in enumerate(order):
        total += c[key] * (1 - np.prod([1 - p[other] for other in order[place:]]))
    return total / (1 - none)


def repairing(priors, costs, cures, prior="exactly_one", access=(), places=None):
    places = places or {}
    return Model(
        faults=tuple(Fault(str(key), chance) for key, chance in priors.items()),
        prior=prior,
        max_faults=len(priors),
        access=access,
        repairs=tuple(
            Repair(f"A{key}", costs[key], dict.fromkeys(map(str, cured), 1.0), places.get(key))
            for key, cured in cures.items()
        ),
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_probability_over_cost_is_best_with_one_fault(seed):
    # T1: Heckerman, Breese and Rommelse, CACM 38(3), 1995, pp. 51-52; Kadane and Simon 1977
    p, c = figures(np.random.default_rng(seed), 6)
    best = min(expected_repair_cost(order, p, c) for order in permutations(p))
    assert expected_repair_cost(single_fault_order(p, c), p, c) == pytest.approx(best, abs=1e-12)
    plan = solve_exactly(compile_model(repairing(p, c, {key: [key] for key in p})), slots=1 << 12)
    assert -plan.value == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_only_the_cost_of_looking_orders_a_look_then_repair_list(seed):
    # T2: CACM 1995 p. 51; each item is looked at (cost o) and repaired (cost r) where it proves to
    # be the cause
    rng = np.random.default_rng(seed)
    p, o = figures(rng, 5)
    r = {key: float(rng.integers(0, 30)) for key in p}

    def cost(order):
        return expected_repair_cost(order, p, o) + sum(p[key] * r[key] for key in order)

    assert cost(single_fault_order(p, o)) == pytest.approx(
        min(map(cost, permutations(p))), abs=1e-12
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_the_odds_form_is_best_with_independent_faults(seed):
    # T3: Vomlelova, Int. J. Intell. Syst. 18, 2003, sect. 1.3 after Srinivas 1995
    rng = np.random.default_rng(seed)
    p = {key: float(rng.uniform(0.05, 0.9)) for key in range(4)}
    c = {key: float(rng.integers(1, 9)) for key in p}
    best = min(independent_cost(order, p, c) for order in permutations(p))
    assert independent_cost(independent_faults_order(p, c), p, c) == pytest.approx(best, abs=1e-12)
    plan = solve_exactly(
        compile_model(repairing(p, c, {key: [key] for key in p}, "independent")), slots=1 << 12
    )
    assert -plan.value == pytest.approx(best, abs=1e-9)


def test_the_example_of_independent_faults():
    # T3: the example; figures derived, exact fraction
    p, c = {1: 0.8, 2: 0.45, 3: 0.3}, {1: 2.0, 2: 1.0, 3: 1.0}
    assert independent_faults_order(p, c) == [1, 2, 3]
    assert independent_cost([1, 2, 3], p, c) == pytest.approx(float(Fraction(2761, 923)), abs=1e-12)
    assert single_fault_order(p, c) == [2, 1, 3]
    assert independent_cost([2, 1, 3], p, c) == pytest.approx(3.188516, abs=5e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_efficiency_never_rises_along_a_best_sequence(seed):
    # T4: Jensen et al., The SACSO methodology, AI EDAM 15, 2001, Prop. 1; actions that share causes
    rng = np.random.default_rng(seed)
    p, _ = figures(rng, 5)
    cures = {a: [key for key in p if rng.random() < 0.5] or [a % 5] for a in range(4)}
    cures[4] = list(p)  # so that every sequence that holds it ends
    c = {a: float(rng.integers(1, 9)) for a in cures}
    costs = {order: sequence_cost(order, p, c, cures) for order in permutations(cures)}
    order = min(costs, key=costs.get)
    left = dict(p)
    for now, after in pairwise(order):
        gain = [sum(left.get(key, 0.0) for key in cures[a]) / c[a] for a in (now, after)]
        assert gain[0] >= gain[1] - 1e-12
        left = {key: chance for key, chance in left.items() if key not in cures[now]}


def sequence_cost(order, p, c, cures):
    left, total = dict(p), 0.0
    for action in order:
        total += c[action] * sum(left.values())
        left = {key: chance for key, chance in left.items() if key not in cures[action]}
    return total


@pytest.mark.parametrize("seed", SEEDS)
def test_greedy_with_updating_costs_at_most_four_times_the_optimum(seed):
    # T5: Lin, Int. J. Approx. Reason. 55, 2014; one fault, actions that share causes
    rng = np.random.default_rng(seed)
    p, _ = figures(rng, 6)
    cures = {a: [key for key in p if rng.random() < 0.4] or [a % 6] for a in range(6)} | {
        6: list(p)
    }
    c = {a: float(rng.integers(1, 12)) for a in cures}
    model = repairing(p, c, cures)
    best = -solve_exactly(compile_model(model), slots=1 << 12).value
    assert best == pytest.approx(
        min(sequence_cost(order, p, c, cures) for order in permutations(cures)), abs=1e-9
    )
    assert best - 1e-9 <= greedy(model) <= 4 * best + 1e-9


def greedy(model):
    """Cost of the base policy: largest chance over cost next, updated after every failure."""
    problem = compile_model(model)
    k = problem.arrays()
    chain = np.zeros((4, max(len(problem.repairs), k.cure.shape[1]) + 1))
    return -dense_ratio_policy(k, problem.prior, 0, 0, np.zeros((2, problem.prior.size)), chain)[0]


@pytest.mark.parametrize(
    ("p", "cures", "expected"),
    [
        # W1: Jensen et al., The SACSO methodology, AI EDAM 15, 2001, Fig. 1: greedy with updating
        # A2, A1, A3
        ([0.20, 0.25, 0.40, 0.15], {1: [0, 1], 2: [1, 2], 3: [2, 3]}, 1.50),
        # W4: Langseth and Jensen, Reliab. Eng. Syst. Saf. 80, 2003, Ex. 4 (derived): with
        # recalculation A3, A4, A2
        (
            [0.16373, 0.35576, 0.26819, 0.21232],
            {1: [0], 2: [0, 1], 3: [1, 2], 4: [2, 3], 5: [3]},
            1.53978,
        ),
    ],
)
def test_greedy_with_updating_costs_what_is_printed(p, cures, expected):
    model = repairing(dict(enumerate(p)), dict.fromkeys(cures, 1.0), cures)
    assert greedy(model) == pytest.approx(expected, abs=1e-5)


def test_greedy_without_updating_costs_what_is_printed():
    # W4, derived: A3, A2, A4 by the chances before anything was tried
    p, cures = (
        {0: 0.16373, 1: 0.35576, 2: 0.26819, 3: 0.21232},
        {1: [0], 2: [0, 1], 3: [1, 2], 4: [2, 3], 5: [3]},
    )
    gain = {a: sum(p[key] for key in cured) for a, cured in cures.items()}
    order = single_fault_order(gain, dict.fromkeys(cures, 1.0))
    assert order[:3] == [3, 2, 4]
    assert sequence_cost(order, p, dict.fromkeys(cures, 1.0), cures) == pytest.approx(
        1.58837, abs=1e-5
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_smith(seed):
    # T7: Pinedo, Scheduling, Thm 3.1.1
    weight, duration = figures(np.random.default_rng(seed), 6)
    best = min(weighted_completion(order, weight, duration) for order in permutations(weight))
    assert weighted_completion(smith_order(weight, duration), weight, duration) == pytest.approx(
        best, abs=1e-12
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_horn(seed):
    # T6: Horn 1972; Adolphson and Hu 1973
    rng = np.random.default_rng(seed)
    weight = {key: float(rng.integers(0, 9)) for key in range(7)}
    duration = {key: float(rng.integers(0, 6)) for key in range(7)}
    parent = {
        key: int(rng.integers(key)) if key and rng.random() < 0.7 else None for key in range(7)
    }
    allowed = [
        order
        for order in permutations(range(7))
        if all(
            above is None or order.index(above) < order.index(key) for key, above in parent.items()
        )
    ]
    best = min(weighted_completion(order, weight, duration) for order in allowed)
    order = horn_order(weight, duration, parent)
    assert tuple(order) in set(allowed)
    assert weighted_completion(order, weight, duration) == pytest.approx(best, abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_panels_in_a_forest_are_a_schedule(seed):
    # T6: opening is a job of weight 0 (equality derived): the exact plan costs what Horn's order
    # does
    rng = np.random.default_rng(seed)
    p, c = figures(rng, 5)
    panels = [f"p{i}" for i in range(3)]
    above = {
        panel: panels[int(rng.integers(i))] if i and rng.random() < 0.6 else None
        for i, panel in enumerate(panels)
    }
    opening = {panel: float(rng.integers(1, 7)) for panel in panels}
    places = {key: panels[int(rng.integers(3))] for key in p if rng.random() < 0.8}
    access = tuple(Access(panel, opening[panel], 0.0, above[panel]) for panel in panels)
    weight = {**dict.fromkeys(panels, 0.0), **p}
    duration, parent = {**opening, **c}, {**above, **{key: places.get(key) for key in p}}
    cost = weighted_completion(horn_order(weight, duration, parent), weight, duration)
    model = repairing(p, c, {key: [key] for key in p}, access=access, places=places)
    assert -solve_exactly(compile_model(model), slots=1 << 12).value == pytest.approx(
        cost, abs=1e-9
    )


def test_color_a_tree():
    # W7: "Color a Tree", a public programming problem
    weight, parent = {1: 1, 2: 2, 3: 1, 4: 2, 5: 4}, {1: None, 2: 1, 3: 1, 4: 2, 5: 3}
    order = horn_order(weight, dict.fromkeys(weight, 1), parent)
    assert order == [1, 3, 5, 2, 4]
    assert weighted_completion(order, weight, dict.fromkeys(weight, 1)) == 33


def test_orders_blind_to_panels_cost_more():
    # W8, derived: with panels 10.65; by probability over cost as if nothing had to be opened 11.10
    p = {"A1": 0.30, "A2": 0.25, "B1": 0.20, "B2": 0.10, "C1": 0.15}
    c = {"A1": 1.0, "A2": 1.0, "B1": 2.0, "B2": 1.0, "C1": 1.0}
    opening, above = {"A": 6.0, "B": 3.0, "C": 2.0}, {"A": None, "B": None, "C": "B"}
    weight, duration = {**dict.fromkeys(opening, 0.0), **p}, {**opening, **c}
    parent = {**above, **{key: key[0] for key in p}}
    assert weighted_completion(
        horn_order(weight, duration, parent), weight, duration
    ) == pytest.approx(10.65)
    blind, opened = [], set()
    for key in single_fault_order(p, c):
        needed = ["B", "C"] if key[0] == "C" else [key[0]]
        blind += [panel for panel in needed if panel not in opened] + [key]
        opened.update(needed)
    assert weighted_completion(blind, weight, duration) == pytest.approx(11.10)


@pytest.mark.parametrize(
    ("p2", "parent", "total"),
    [(6, {}, 1610), (7, {}, 1689), (6, {2: 1, 4: 3, 5: 4, 7: 6}, 1854)],
)
def test_jobs_of_the_textbook(p2, parent, total):
    # W6: Pinedo, Scheduling, Ex. 3.1 and 3.2 (1854 derived)
    weight = dict(zip(range(1, 8), (0, 18, 12, 8, 8, 17, 16), strict=True))
    duration = dict(zip(range(1, 8), (3, p2, 6, 5, 4, 8, 9), strict=True))
    order = horn_order(weight, duration, {key: parent.get(key) for key in weight})
    assert weighted_completion(order, weight, duration) == total
    if not parent:
        assert weighted_completion(smith_order(weight, duration), weight, duration) == total


def test_a_job_behind_itself_is_refused():
    with pytest.raises(ModelError, match="lies behind itself"):
        horn_order({1: 1, 2: 1}, {1: 1, 2: 1}, {1: 2, 2: 1})
