"""The tree that the lookahead grows: states, the actions looked at in them, and their results."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays

State = tuple[int, int, int]  # checks done, repairs tried, panels opened, as bits
CLOSED = 1e-9  # brackets narrower than this are not worth growing


def state_after_check(k: Arrays, state: State, check: int) -> State:
    """The state after a check, whatever its outcome; it may have shut what stood open."""
    done, tried, opened = state
    still_open = opened & int(k.check_keeps[check])
    return done | 1 << check, tried, still_open | int(k.check_panels[check])


def state_after_failure(k: Arrays, state: State, repair: int) -> State:
    """The state after a repair whose retest failed, which may have shut what stood open."""
    done, tried, opened = state
    return done, tried | 1 << repair, (opened | int(k.repair_panels[repair])) & k.retest_keeps


@dataclass
class Node:
    """A state of the tree: belief ``w`` (H,), its bracket, and the action that earns the lower end.

    ``reach`` is the chance of coming here; ``actions`` maps action numbers to branches, None until
    the node is grown.
    """

    w: Floats
    state: State
    low: float
    high: float
    act: int
    reach: float
    actions: dict[int, ActionNode] | None = None


@dataclass
class ActionNode:
    """An action: what it earns for certain, its bracket, and where it can lead.

    ``rows`` (3, O) hold mass, lower and upper end by outcome; results are made of them only where
    they are asked for.
    """

    fixed: float
    low: float
    high: float
    rows: Floats

    @cached_property
    def results(self) -> list[Result]:
        """The outcomes that can come, in order; empty where a repair is sure to pass its retest."""
        possible = np.flatnonzero(self.rows[0] > 0).tolist()
        return [Result(o, *self.rows[:, o].tolist()) for o in possible]

    def update(self) -> None:
        """Carry the brackets of the results back: their means, each weighed by its probability."""
        self.low = self.fixed + sum(result.mass * result.low for result in self.results)
        self.high = self.fixed + sum(result.mass * result.high for result in self.results)


@dataclass
class Result:
    """A state an action may lead to, with its probability ``mass``; ``node`` is None until made."""

    outcome: int
    mass: float
    low: float
    high: float
    node: Node | None = None

    @property
    def possible(self) -> float:
        """Most that knowing more of this result could add to the action, in the unit of value."""
        return self.mass * (self.high - self.low)


def child_node(node: Node | None, act: int, outcome: int) -> Node | None:
    """The state in the tree that an outcome leads to; None where it was not looked into."""
    # beyond what was grown, the policy chooses by itself
    if node is None or not node.actions or act not in node.actions:
        return None
    results = node.actions[act].results
    return next((result.node for result in results if result.outcome == outcome), None)


def branch_to_follow(node: Node, *, towards_upper: bool) -> ActionNode | None:
    """The action of highest upper or highest lower end; None where all are closed or beaten."""
    branches = [
        branch
        for branch in (node.actions or {}).values()
        if branch.high > node.low + CLOSED and branch.high - branch.low > CLOSED
    ]
    if not branches:
        return None
    return max(branches, key=lambda branch: branch.high if towards_upper else branch.low)
