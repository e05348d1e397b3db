"""What a plan says: the action to take, its worth, and how sure that worth is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from counterpoise.reasoning.problem import Problem

Kind = Literal["check", "repair", "ending", "exhausted"]


@dataclass(frozen=True, slots=True)
class Action:
    """A check, a repair or an ending by its id; ``exhausted`` where nothing is left to try."""

    kind: Kind
    id: str


@dataclass(frozen=True, slots=True)
class ActionBounds:
    """An action with the bracket of what the job is worth when it comes first and all goes well."""

    action: Action
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The best first action and the certificate: the optimum lies between ``lower`` and ``upper``.

    ``value`` is what the plan earns on average (``lower``), in the unit of the model;
    ``action_bounds`` holds every useful first action, best first; ``states`` counts what was looked
    at.
    """

    lower: float
    upper: float
    first: Action
    action_bounds: tuple[ActionBounds, ...] = ()
    states: int = 0

    @property
    def value(self) -> float:
        """What the plan is sure to earn on average."""
        return self.lower

    @property
    def gap(self) -> float:
        """How far the plan can be from the best one at most, in the unit of value."""
        return self.upper - self.lower

    @property
    def exact(self) -> bool:
        """Whether the plan is proven best, to rounding."""
        # relative to the value, for money comes in hundreds and rounding grows with it
        return self.gap <= 1e-7 * max(1.0, abs(self.upper))


def action_of(problem: Problem, number: int) -> Action:
    """The action of the kernels' index: checks first, then repairs, then endings.

    Beyond the last ending stands ``exhausted``.
    """
    checks, repairs = len(problem.checks), len(problem.repairs)
    if number < checks:
        return Action("check", problem.checks[number].id)
    if number < checks + repairs:
        return Action("repair", problem.repairs[number - checks].id)
    if number - checks - repairs < len(problem.endings):
        return Action("ending", problem.endings[number - checks - repairs].id)
    # the planner says so by the first ending's number where no ending is given
    return Action("exhausted", "")
