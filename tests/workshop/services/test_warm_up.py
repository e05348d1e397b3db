"""What is compiled ahead of time, and what is said of it."""

import pytest

from counterpoise.workshop.services import warm_up
from counterpoise.workshop.services.warm_up import PARTS, Compiled, _watched


@pytest.fixture
def twice():
    """A compiled function that calls another, not kept: each test compiles it anew."""
    import numba

    @numba.njit
    def inner(x):
        return x + 1

    @numba.njit
    def outer(x):
        return inner(x) * 2

    return outer


def test_a_kernel_is_named_once_and_counts_what_it_calls(twice):
    said, compiled = [], Compiled("planner")
    with _watched(compiled, said.append):
        assert twice(1) == 4
        assert twice(2) == 6
    assert said == ["  planner: outer ..."]
    assert list(compiled.kernels) == ["outer"]
    assert compiled.kernels["outer"] > 0.0


def test_nothing_is_said_of_what_was_compiled_before_or_after(twice):
    said, compiled = [], Compiled("planner")
    twice(1)
    with _watched(compiled, said.append):
        twice(1)
    twice(1.5)
    assert said == []
    assert compiled.kernels == {}


def test_a_kernel_compiled_for_two_kinds_of_numbers_adds_up(twice):
    compiled = Compiled("planner")
    with _watched(compiled, lambda _: None):
        twice(1)
        first = compiled.kernels["outer"]
        twice(1.5)
    assert compiled.kernels["outer"] > first


def test_all_parts_are_brought_in_by_one_process_too(monkeypatch):
    called = []
    parts = {name: lambda name=name: called.append(name) for name in PARTS}
    monkeypatch.setattr(warm_up, "PARTS", parts)
    warm_up.warm()
    assert called == list(PARTS) == ["planner", "physics"]
