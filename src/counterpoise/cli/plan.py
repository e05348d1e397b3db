"""``counterpoise plan``: the best plan of an abstract model, with how close to the best it is proven to be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.reasoning.actions import Action, Plan
    from counterpoise.reasoning.planning.exact import Branch, Solver
    from counterpoise.reasoning.problem import Problem

_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)
_WORDS = {
    "check": "Check {}",
    "repair": "Repair: {}",
    "ending": "Stop: {}",
    "exhausted": "Nothing left that could help",
}
GROWTHS = 400  # leaves the planner for large models grows where the exact search ran out of budget
SECONDS = 2.0  # then spent on a closer bracket
NEAR, FAR = (
    1_000_000,
    10_000_000,
)  # states looked at unless told: the bound for one fault makes them cheap


@click.command()
@click.argument("file", type=_READABLE)
@click.option(
    "--tree", "as_tree", is_flag=True, help="Also the whole plan: what to do after each result."
)
@click.option("--budget", type=click.IntRange(min=1), default=None,
              help="States the exact search may look at before it settles for a bracket; ten million where exactly one "
                   "fault is there, else one million.")  # fmt: skip
@click.option("--seconds", type=click.FloatRange(min=0.001, max=3600), default=None,
              help="Answer within about this time, with the bracket found by then.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def plan(
    file: Path, budget: int | None, seconds: float | None, *, as_tree: bool, as_json: bool
) -> None:
    """Plan the abstract model in FILE (docs/model.md): what to do first, what that is worth, and how sure it is."""
    from counterpoise.catalog.model_file import load_model
    from counterpoise.reasoning.planning.exact import Solver, slots_for
    from counterpoise.reasoning.planning.timed_solver import plan_within
    from counterpoise.reasoning.problem import compile_model

    model = load_model(file)
    problem = compile_model(model)
    if seconds is not None:
        if budget is not None:
            raise InputError(
                "either a number of states or a time",
                field="seconds",
                remedy="leave out --budget or --seconds",
            )
        if as_tree:
            raise InputError(
                "a tree is only of a plan that is proven best",
                field="seconds",
                remedy="leave out --seconds",
            )
        _answer(plan_within(problem, seconds), None, as_json=as_json)
        return
    budget = budget or (FAR if model.prior == "exactly_one" else NEAR)
    solver = Solver(problem, budget=budget, slots=slots_for(budget))
    found = solver.plan()
    tree = _tree(solver, found) if as_tree else None
    if not found.exact:
        found = _better(found, problem)
    _answer(found, tree, as_json=as_json)


def _answer(found: Plan, tree: Branch | None, *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(as_data(found, tree), indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join([*told(found), *(["", *drawn(tree)] if tree else [])]))


def _tree(solver: Solver, found: Plan) -> Branch:
    if not found.exact:
        raise InputError(
            f"the search stopped at {found.states} states, before the plan was proven best",
            field="budget",
            remedy="ask for the tree with a larger --budget, or ask without --tree for the first step",
        )
    return solver.tree()


def _better(found: Plan, problem: Problem) -> Plan:
    """The better ends of two brackets: that of the search cut short, and that of the planner for large models."""
    from counterpoise.reasoning.planning.bounds_refinement import certify
    from counterpoise.reasoning.planning.lookahead import Effort, plan_ahead
    from counterpoise.reasoning.planning.timed_solver import better_of

    return better_of(
        found,
        certify(problem, Effort(seconds=SECONDS), plan_ahead(problem, Effort(growths=GROWTHS))),
    )


def step_of(action: Action) -> dict[str, str]:
    """An action as JSON tells it; where nothing is left to do, an ending without a name."""
    return {"kind": "ending" if action.kind == "exhausted" else action.kind, "id": action.id}


def as_data(found: Plan, tree: Branch | None) -> dict[str, Any]:
    """The answer for machines to read."""
    data = {
        "value": _clean(found.value),
        "lower": _clean(found.lower),
        "upper": _clean(found.upper),
        "exact": bool(found.exact),
        "first_step": step_of(found.first),
        "states": found.states,
    }
    return data if tree is None else data | {"tree": _branch(tree)}


def _branch(branch: Branch) -> dict[str, Any]:
    results = [{"result": label, **_branch(after)} for label, after in branch.results]
    told = {
        "step": step_of(branch.action),
        "value": _clean(branch.value),
        "probability": _clean(branch.probability),
    }
    return told | ({"results": results} if results else {})


def _clean(value: float) -> float:
    return float(value) + 0.0  # no minus zero


def say(action: Action) -> str:
    """An action in words."""
    return _WORDS[action.kind].format(_plain(action.id))


def _plain(name: str) -> str:
    return "".join(letter for letter in name if letter.isprintable())


def told(found: Plan) -> Iterator[str]:
    """The answer in words."""
    yield f"First: {say(found.first)}"
    if found.exact:
        yield f"Worth {_clean(found.value):.6g} on average; no plan does better (proven, {found.states} states seen)."
        return
    yield f"Worth at least {_clean(found.lower):.6g} on average; no plan can be worth over {_clean(found.upper):.6g}."
    yield "Not proven best within the budget: give a larger --budget to look further."


def drawn(branch: Branch, indent: str = "") -> Iterator[str]:
    """The plan as indented lines: a step, and under each result the step that follows."""
    yield f"{indent}{say(branch.action)}"
    for label, after in branch.results:
        share = after.probability / branch.probability
        yield f"{indent}  {_plain(label)} ({100 * share:.3g} %):"
        yield from drawn(after, indent + "    ")
