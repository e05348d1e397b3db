"""The bound that takes every check for nothing, and what is interchangeable."""

from dataclasses import replace

import numpy as np
import pytest
from tests.reasoning.judges.brute_force import Brute, observe, prior
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.equivalent_actions import find_symmetry
from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.kernels.free_checks_bound import free_checks_bound
from counterpoise.reasoning.model import Access, Check, Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.planning.exact import Solver, solve_exactly
from counterpoise.reasoning.problem import compile_model

CALL = Ending("call", -60.0)


def own_repairs(rng, faults, checks, ending=CALL):
    """One fault, a repair of its own for each that may fail, noisy checks."""
    names = [f"f{i}" for i in range(faults)]
    return Model(
        tuple(
            Fault(name, float(p))
            for name, p in zip(names, rng.dirichlet(np.ones(faults)), strict=True)
        ),
        checks=tuple(
            Check(
                f"q{i}",
                float(rng.uniform(0.5, 4)),
                ("no", "yes"),
                {
                    name: {"yes": float(rng.choice([rng.uniform(0, 0.3), rng.uniform(0.5, 1)]))}
                    for name in names
                },
                exclusive=True,
            )
            for i in range(checks)
        ),
        repairs=tuple(
            Repair(f"r{i}", float(rng.integers(1, 20)), {name: float(rng.uniform(0.6, 1))})
            for i, name in enumerate(names)
        ),
        endings=(ending,) if ending else (),
    )


@pytest.mark.parametrize("shuts", [False, True])
@pytest.mark.parametrize("endings", [0, 1, 2])
def test_the_bound_is_never_below_the_best_plan(endings, shuts):
    for seed in range(40):
        panels = 2 * (seed % 2)
        size = Size(2 + seed % 3, seed % 3, 2 + seed % 3, panels, endings=endings, shuts=shuts)
        model = draw(np.random.default_rng([seed, endings]), size)
        problem = compile_model(model)
        k = problem.arrays()
        free, charge, losses, _ = free_checks_bound(k, problem.prior, 0, 0, 0, k.separable)
        assert free - charge >= Brute(model).worth() - 1e-9, seed
        assert (losses >= -1e-12).all()


@pytest.mark.parametrize("ending", [CALL, None])
def test_with_a_repair_for_each_fault_bound_and_plan_are_held_against_brute_force(ending):
    tighter = 0
    for seed in range(12):
        model = own_repairs(np.random.default_rng([seed, 9]), 4, 3, ending)
        problem, worth = compile_model(model), Brute(model).worth()
        k = problem.arrays()
        assert k.separable
        free, charge, _, _ = free_checks_bound(k, problem.prior, 0, 0, 0, True)
        assert free - charge >= worth - 1e-9
        tighter += charge > 0.1
        assert solve_exactly(problem, slots=1 << 12).value == pytest.approx(worth, abs=1e-8)
    assert tighter > 6  # the charge for asking does something


@pytest.mark.parametrize("shuts", [False, True])
@pytest.mark.parametrize("ending", [CALL, None])
def test_panels_in_the_way_are_held_against_brute_force(ending, shuts):
    for seed in range(25):
        rng = np.random.default_rng([seed, 77])
        model = own_repairs(rng, 4, 2, ending)
        model = replace(
            model,
            access=(
                Access("lid", float(rng.integers(0, 6)), 1.0),
                Access("deep", float(rng.integers(0, 9)), 0.0, "lid"),
            ),
            checks=tuple(
                replace(check, access=_somewhere(rng), shuts=shuts and i == 0)
                for i, check in enumerate(model.checks)
            ),
            repairs=tuple(replace(repair, access=_somewhere(rng)) for repair in model.repairs),
            retest=Retest(float(rng.integers(0, 4)), shuts=shuts),
            working=float(rng.choice([0, 20])),
        )
        problem, worth = compile_model(model), Brute(model).worth()
        k = problem.arrays()
        free, charge, _, _ = free_checks_bound(k, problem.prior, 0, 0, 0, True)
        assert free - charge >= worth - 1e-9, seed
        assert solve_exactly(problem, slots=1 << 12).value == pytest.approx(worth, abs=1e-8), seed


def _somewhere(rng):
    return ("lid", "deep", None)[int(rng.integers(3))]


def test_free_checks_make_the_bound_exact():
    for seed in range(6):
        model = own_repairs(np.random.default_rng([seed, 4]), 4, 3)
        model = replace(model, checks=tuple(replace(check, cost=0.0) for check in model.checks))
        problem = compile_model(model)
        k = problem.arrays()
        worth = solve_exactly(problem, slots=1 << 12).value
        assert free_checks_bound(k, problem.prior, 0, 0, 0, True)[0] == pytest.approx(
            worth, abs=1e-9
        )
        assert worth < hindsight(k, problem.prior, 0, 0, problem.prior.copy()) - 1.0


def test_a_model_of_twelve_repairs_and_six_questions_is_proven_within_the_bracket_of_look_ahead():
    from counterpoise.reasoning.planning.lookahead import Effort, plan_ahead

    problem = compile_model(own_repairs(np.random.default_rng(12), 12, 6, None))
    plan, other = solve_exactly(problem), plan_ahead(problem, Effort(growths=30))
    assert plan.exact
    assert other.lower - 1e-9 <= plan.value <= other.upper + 1e-9


def theorem_4(m):
    """Vomlelova 2003, Theorem 4: 3m + 3 equal faults, m questions that each tell of three."""
    names = [f"f{i}" for i in range(3 * m + 3)]
    return Model(
        tuple(Fault(name, 1 / len(names)) for name in names),
        checks=tuple(
            Check(
                f"q{i}",
                1.0,
                ("no", "yes"),
                {name: {"yes": 1.0} for name in names[3 * i : 3 * i + 3]},
            )
            for i in range(m)
        ),
        repairs=tuple(Repair(f"r{i}", 1.0, {name: 1.0}) for i, name in enumerate(names)),
    )


@pytest.mark.parametrize("m", range(1, 9))
def test_the_family_of_theorem_4_is_solved(m):
    plan = solve_exactly(compile_model(theorem_4(m)), slots=1 << 15)
    assert plan.exact
    assert plan.value == pytest.approx(-(2 + m * (m + 3) / (2 * (m + 1))), abs=1e-9)


def worth_of_tree(model, branch, belief):
    """What a plan earns, step by step in plain Python (no panels, retests for nothing)."""
    if branch.action.kind == "check":
        check = next(c for c in model.checks if c.id == branch.action.id)
        value = -check.cost
        for label, after in branch.results:
            outcome = check.outcomes.index(label)
            now = observe(belief, check, outcome)
            value += after.probability / branch.probability * worth_of_tree(model, after, now)
        return value
    if branch.action.kind == "repair":
        repair = next(r for r in model.repairs if r.id == branch.action.id)
        left = {f: p * (1 - repair.cures.get(next(iter(f)), 0.0)) for f, p in belief.items()}
        mass = sum(left.values())
        value = -repair.cost + (1 - mass) * model.working
        for _, after in branch.results:
            value += mass * worth_of_tree(
                model, after, {f: p / mass for f, p in left.items() if p > 0}
            )
        return value
    return sum(ending.base for ending in model.endings if ending.id == branch.action.id)


@pytest.mark.parametrize(
    "model",
    [theorem_4(3), own_repairs(np.random.default_rng(5), 5, 3)],
    ids=["alike", "unlike"],
)
def test_the_tree_earns_what_the_plan_promises_also_where_blocks_trade_places(model):
    solver = Solver(compile_model(model), slots=1 << 14)
    value = solver.plan().value
    assert worth_of_tree(model, solver.tree(), prior(model)) == pytest.approx(value, abs=1e-9)


def test_blocks_and_twins_are_found_and_a_small_difference_parts_them():
    problem = compile_model(theorem_4(3))
    symmetry = find_symmetry(problem, problem.arrays())
    assert sorted(set(symmetry.block[:, 0].tolist())) == [0, 1, 2, 3]
    assert (
        symmetry.twin >= 0
    ).sum() == 2 * 4  # in each three, the second and third are like the first
    assert set(symmetry.interchangeable[0]) == {0, 1, 2}
    faults = list(theorem_4(3).faults)
    faults[4] = replace(faults[4], prior=faults[4].prior * 1.001)
    problem = compile_model(replace(theorem_4(3), faults=tuple(faults)))
    parted = find_symmetry(problem, problem.arrays())
    assert sorted(set(parted.block[:, 0].tolist())) == [0, 1, 2]
    assert (parted.twin >= 0).sum() == 2 * 3 + 1  # the third is still like the first


def test_nothing_is_alike_where_faults_share_a_repair():
    model = theorem_4(2)
    shared = Repair("both", 1.0, {"f0": 1.0, "f1": 1.0})
    problem = compile_model(replace(model, repairs=(*model.repairs, shared)))
    symmetry = find_symmetry(problem, problem.arrays())
    assert not symmetry.block.any()
    assert (symmetry.twin == -1).all()
