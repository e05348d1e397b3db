"""Kernels as plain functions and compiled: one answer, and the compiler only where it pays."""

import inspect
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.kernels import compilation
from counterpoise.reasoning.kernels.bounds import opening_cost, total_of
from counterpoise.reasoning.kernels.compilation import Kernel, compile_all, interpreted
from counterpoise.reasoning.planning import exact
from counterpoise.reasoning.planning.exact import Solver, interpreted_states, solve_exactly
from counterpoise.reasoning.problem import compile_model

LITTLE = Size(4, 3, 4, 2)
MODEL = Path(__file__).parents[1] / "literature/models/repairs_only/w7_color_a_tree.yaml"


def run(code):
    """What a fresh interpreter prints that has loaded nothing yet."""
    path = os.pathsep.join(entry or "." for entry in sys.path)
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


@pytest.fixture
def uncompiled(monkeypatch):
    """A solver that takes the kernels for uncompiled, whatever ran before."""
    monkeypatch.setattr(exact, "are_compiled", lambda: False)


def test_a_small_model_is_planned_without_compiler_and_scientific_library():
    code = f"""
import sys
from click.testing import CliRunner
from counterpoise.cli.plan import plan
result = CliRunner().invoke(plan, [{str(MODEL)!r}, "--json", "--tree"])
assert result.exit_code == 0, result.output
print(sorted({{"numba", "llvmlite", "scipy", "matplotlib"}} & set(sys.modules)))
"""
    assert run(code).strip() == "[]"


def test_a_model_too_large_for_plain_python_loads_the_compiler():
    code = """
import sys
from benchmarks.distance import drawn
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.problem import compile_model
plan = solve_exactly(compile_model(drawn(0)), budget=50, slots=1 << 12)
print("numba" in sys.modules, plan.states)
"""
    loaded, states = run(code).split()
    assert loaded == "True"
    assert int(states) >= 50


def test_plain_and_compiled_search_agree_to_the_last_bit():
    code = """
import json, sys
from tests.reasoning.kernels.test_compilation import answers
from counterpoise.reasoning.planning import exact
exact.interpreted_states = lambda k: 10**9
print(json.dumps([answers(), "numba" in sys.modules]))
"""
    plain, loaded = json.loads(run(code))
    assert not loaded
    compile_all()
    assert plain == answers()


def answers():
    """Value, bound, first step and states of small models of every kind, floats to the last bit."""
    sizes = (
        LITTLE,
        Size(3, 2, 3, 2, endings=0),
        Size(3, 2, 3, 2, outcomes=3, independent=True, max_faults=2, misses=True),
        Size(12, 0, 12, 0, endings=0),
    )
    plans = [
        solve_exactly(compile_model(draw(np.random.default_rng(seed), size)), slots=1 << 12)
        for size in sizes
        for seed in range(3)
    ]
    return [[p.lower.hex(), p.upper.hex(), p.first.kind, p.first.id, p.states] for p in plans]


@pytest.mark.usefixtures("uncompiled")
def test_a_search_that_outgrows_plain_python_starts_anew_and_answers_the_same(monkeypatch):
    problem = compile_model(draw(np.random.default_rng(3), Size(5, 4, 5, 2)))
    monkeypatch.setattr(exact, "interpreted_states", lambda _: 0)
    whole = Solver(problem, slots=1 << 14)
    plan, tree = whole.plan(), whole.tree()
    assert plan.states > 20
    for few in (1, plan.states // 2, plan.states, 10 * plan.states):
        monkeypatch.setattr(exact, "interpreted_states", lambda _, few=few: few)
        solver = Solver(problem, slots=1 << 14)
        assert solver.plan() == plan, few
        assert solver.tree() == tree, few


@pytest.mark.usefixtures("uncompiled")
def test_a_budget_below_what_plain_python_may_see_is_kept(monkeypatch):
    problem = compile_model(draw(np.random.default_rng(3), Size(5, 4, 5, 2)))
    monkeypatch.setattr(exact, "interpreted_states", lambda _: 0)
    short = solve_exactly(problem, budget=10, slots=1 << 14)
    monkeypatch.setattr(exact, "interpreted_states", lambda _: 1000)
    assert solve_exactly(problem, budget=10, slots=1 << 14) == short
    assert not short.exact


def test_fewer_states_are_left_to_plain_python_the_larger_the_tables():
    little, wide = (
        compile_model(draw(np.random.default_rng(1), size)).arrays()
        for size in (LITTLE, Size(9, 6, 9, 2, outcomes=2))
    )
    assert interpreted_states(little) > interpreted_states(wide) > 0
    many = compile_model(draw(np.random.default_rng(1), Size(20, 11, 20, 2))).arrays()
    assert interpreted_states(many) == 0


def test_a_kernel_of_its_own_runs_plain_and_then_compiled(monkeypatch):
    monkeypatch.setattr(compilation, "_waiting", [])
    seen = []

    def double(x):
        seen.append(x)
        return 2 * x

    kernel = compilation.kernel(double)
    assert isinstance(kernel, Kernel)
    assert not compilation.are_compiled()
    with interpreted():
        assert kernel(4) == 8
    assert kernel.compiled is None
    assert seen == [4]
    assert inspect.unwrap(kernel) is double
    assert kernel.__name__ == "double"


def test_outside_the_block_the_first_call_compiles_and_names_follow(monkeypatch):
    monkeypatch.setattr(compilation, "_waiting", [])
    namespace = sys.modules[__name__]

    def half(x):
        return x / 2.0

    kernel = compilation.kernel_nogil(half)
    kernel.options["cache"] = False  # a function made here has no file to cache beside
    monkeypatch.setattr(namespace, "_half", kernel, raising=False)
    assert kernel(3.0) == 1.5
    assert compilation.are_compiled()
    assert kernel.compiled is namespace._half
    with interpreted():
        assert kernel(3.0) == 1.5  # compiled already: the block changes nothing


def test_one_thread_interpreting_does_not_hinder_another(monkeypatch):
    flags = {}

    def other():
        flags["other"] = compilation._interpreting.get()

    with interpreted():
        flags["inside"] = compilation._interpreting.get()
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert flags == {"inside": True, "other": False}
    assert not compilation._interpreting.get()


def test_the_block_ends_where_something_goes_wrong_in_it():
    with pytest.raises(ValueError, match="as meant"), interpreted():
        raise ValueError("as meant")
    assert not compilation._interpreting.get()


def test_a_sum_is_taken_in_order_whatever_its_length():
    rng = np.random.default_rng(0)
    for length in (0, 1, 7, 8, 129, 1000):
        values = rng.random(length)
        in_order = 0.0
        for value in values.tolist():
            in_order += value
        assert total_of(values) == in_order
        assert in_order == pytest.approx(values.sum())


def test_opening_costs_what_is_needed_and_still_closed():
    rng = np.random.default_rng(1)
    k = compile_model(draw(rng, Size(3, 1, 2, 5))).arrays()
    for _ in range(50):
        needed, opened = (int(bits) for bits in rng.integers(0, 32, 2))
        missing = [i for i in range(5) if needed >> i & 1 and not opened >> i & 1]
        assert opening_cost(k, needed, opened) == pytest.approx(k.panel_cost[missing].sum())
    assert opening_cost(k, 0, 0) == opening_cost(k, 31, 31) == 0.0
