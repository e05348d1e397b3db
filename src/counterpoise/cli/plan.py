"""``counterpoise plan``: the best plan of an abstract model, and how close to the best it is."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

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
# States looked at unless told; the bound for exactly one fault makes states cheap and few.
SEVERAL_FAULTS_BUDGET, ONE_FAULT_BUDGET = 1_000_000, 10_000_000


class StepJson(TypedDict):
    """An action."""

    kind: str
    id: str


class BranchJson(TypedDict, total=False):
    """A node of the tree; ``result`` is missing at the root, ``results`` where nothing follows."""

    result: str
    step: StepJson
    value: float
    probability: float
    results: list[BranchJson]


class PlanJson(TypedDict, total=False):
    """The whole answer; ``tree`` only where it was asked for."""

    value: float
    lower: float
    upper: float
    exact: bool
    first_step: StepJson
    states: int
    tree: BranchJson


@click.command(
    help="Plan the abstract model in FILE (docs/model.md): what to do first, what that is worth, "
    "and how sure it is."
)
@click.argument("file", type=_READABLE)
@click.option(
    "--tree", "as_tree", is_flag=True, help="Also the whole plan: what to do after each result."
)
@click.option(
    "--budget",
    type=click.IntRange(min=1),
    default=None,
    help="States the exact search may look at before it settles for a bracket; ten million where "
    "exactly one fault is there, else one million.",
)
@click.option(
    "--seconds",
    type=click.FloatRange(min=0.001, max=3600),
    default=None,
    help="Answer within about this time, with the bracket found by then.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def plan(
    file: Path, budget: int | None, seconds: float | None, *, as_tree: bool, as_json: bool
) -> None:
    """Print the plan of a model file. Raises InputError where options exclude one another."""
    # late: numbers and arrays take a while to load, and --help needs none of them
    from counterpoise.catalog.model_file import load_model
    from counterpoise.reasoning.planning.exact import Solver, slots_for
    from counterpoise.reasoning.problem import compile_model

    model = load_model(file)
    problem = compile_model(model)
    _refuse_options(budget, seconds, as_tree=as_tree)
    if seconds is not None:
        from counterpoise.reasoning.planning.timed_solver import plan_within

        _answer(plan_within(problem, seconds), None, as_json=as_json)
        return
    one_fault = model.prior == "exactly_one"
    budget = budget or (ONE_FAULT_BUDGET if one_fault else SEVERAL_FAULTS_BUDGET)
    solver = Solver(problem, budget=budget, slots=slots_for(budget))
    answer = solver.plan()
    # before anything else is tried: a tree needs a proof
    tree = _tree(solver, answer) if as_tree else None
    if not answer.exact:
        answer = _refined(answer, problem)
    _answer(answer, tree, as_json=as_json)


def _refuse_options(budget: int | None, seconds: float | None, *, as_tree: bool) -> None:
    if seconds is not None and budget is not None:
        raise InputError(
            "either a number of states or a time",
            field="seconds",
            remedy="leave out --budget or --seconds",
        )
    # no comparison with a limit is true of what is not a number, so the range lets it pass
    if seconds is not None and math.isnan(seconds):
        raise InputError(
            "nan is not a time", field="seconds", remedy="give a number of seconds, as 0.5"
        )
    if seconds is not None and as_tree:
        raise InputError(
            "a tree is only of a plan that is proven best",
            field="seconds",
            remedy="leave out --seconds",
        )


def _answer(answer: Plan, tree: Branch | None, *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(as_data(answer, tree), indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join([*in_words(answer), *(["", *drawn(tree)] if tree else [])]))


def _tree(solver: Solver, answer: Plan) -> Branch:
    if not answer.exact:
        raise InputError(
            f"the search stopped at {answer.states} states, before the plan was proven best",
            field="budget",
            remedy="ask for the tree with a larger --budget, "
            "or ask without --tree for the first step",
        )
    return solver.tree()


def _refined(answer: Plan, problem: Problem) -> Plan:
    """The better ends of two brackets: that of the search cut short, and of the look-ahead."""
    from counterpoise.reasoning.planning.bounds_refinement import certify
    from counterpoise.reasoning.planning.lookahead import Effort, plan_ahead
    from counterpoise.reasoning.planning.timed_solver import better_of

    ahead = plan_ahead(problem, Effort(growths=GROWTHS))
    return better_of(answer, certify(problem, Effort(seconds=SECONDS), ahead))


def step_of(action: Action) -> StepJson:
    """An action as JSON tells it; where nothing is left to do, an ending with an empty id."""
    return {"kind": "ending" if action.kind == "exhausted" else action.kind, "id": action.id}


def as_data(answer: Plan, tree: Branch | None) -> PlanJson:
    """The answer for machines to read; values in the unit of the model."""
    data: PlanJson = {
        "value": _clean(answer.value),
        "lower": _clean(answer.lower),
        "upper": _clean(answer.upper),
        "exact": bool(answer.exact),
        "first_step": step_of(answer.first),
        "states": answer.states,
    }
    if tree is not None:
        data["tree"] = _branch(tree)
    return data


def _branch(branch: Branch) -> BranchJson:
    node: BranchJson = {
        "step": step_of(branch.action),
        "value": _clean(branch.value),
        "probability": _clean(branch.probability),
    }
    # an ending has none, and a key without content says nothing
    if branch.results:
        node["results"] = [{"result": label, **_branch(after)} for label, after in branch.results]
    return node


def _clean(value: float) -> float:
    return float(value) + 0.0  # no minus zero


def say(action: Action) -> str:
    """An action in words."""
    return _WORDS[action.kind].format(_plain(action.id))


def _plain(name: str) -> str:
    """A name from the file without control characters, which could rewrite the terminal."""
    return "".join(letter for letter in name if letter.isprintable())


def in_words(answer: Plan) -> Iterator[str]:
    """The answer in words, line by line; values in the unit of the model."""
    yield f"First: {say(answer.first)}"
    if answer.exact:
        yield (
            f"Worth {_clean(answer.value):.6g} on average; no plan does better "
            f"(proven, {answer.states} states seen)."
        )
        return
    yield (
        f"Worth at least {_clean(answer.lower):.6g} on average; "
        f"no plan can be worth over {_clean(answer.upper):.6g}."
    )
    yield "Not proven best within the budget: give a larger --budget to look further."


def drawn(branch: Branch, indent: str = "") -> Iterator[str]:
    """The plan as indented lines: a step, and under each result, in percent, what follows."""
    yield f"{indent}{say(branch.action)}"
    for label, after in branch.results:
        share = after.probability / branch.probability
        yield f"{indent}  {_plain(label)} ({100 * share:.3g} %):"
        yield from drawn(after, indent + "    ")
