"""The anytime planner for models of catalog size: a tree grown where it matters, most promising leaf first.

A state's lower bound is what a fixed policy earns from it (telling checks, then repairs by chance over cost, stopping
where stopping is best), its upper bound what hindsight would. Growing a leaf looks one step ahead of it;
brackets are carried back to the root. The result is deterministic for a given number of growths.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.bounds import after_repair, hindsight, stop_now
from counterpoise.reasoning.kernels.checking_policy import looking_policy
from counterpoise.reasoning.kernels.expand_node import expand
from counterpoise.reasoning.kernels.workspace import Room, work_space
from counterpoise.reasoning.problem import Arrays, Problem

WIDTH = 4  # actions looked at more closely, by worth and again by what they tell
State = tuple[int, int, int]  # checks done, repairs tried, panels opened, as bits

SEVERAL, FEW = (
    6,
    2,
)  # first steps, and repairs and results of each, that are looked at a step deeper
HOPE = 0.3  # of what a result might gain: a look ahead of it gains half at most, mostly a tenth (514 looks)
IDLE = 0.02  # a result that holds less than this share of the doubt is not


@dataclass(frozen=True)
class Effort:
    """When to stop: after ``growths`` leaves, ``seconds``, or a gap of ``gap`` (in the unit of value).

    ``choosing``: also once the promising first steps are judged at one depth; growing on tells more of their worth.
    """

    growths: int = 24
    seconds: float = np.inf
    gap: float = 0.0
    choosing: bool = False


@dataclass
class Node:
    """A state of the tree, come to with chance ``reach``; ``actions`` maps action numbers to branches once grown."""

    w: Floats
    state: State
    low: float
    high: float
    act: int
    reach: float
    actions: dict[int, ActionNode] | None = None


@dataclass
class ActionNode:
    """An action: what it earns for certain, its bracket, and where it can lead with what probability.

    ``rows`` (3, O) hold mass, lower and upper end by outcome; results are made of them only where they are asked for.
    """

    fixed: float
    low: float
    high: float
    rows: Floats

    @cached_property
    def results(self) -> list[Result]:
        """The outcomes that can come."""
        return [
            Result(o, *self.rows[:, o].tolist()) for o in np.flatnonzero(self.rows[0] > 0).tolist()
        ]

    def update(self) -> None:
        """Carry the brackets of the results back."""
        self.low = self.fixed + sum(result.mass * result.low for result in self.results)
        self.high = self.fixed + sum(result.mass * result.high for result in self.results)


@dataclass
class Result:
    """A state an action may lead to; ``node`` is made only when it is looked into."""

    outcome: int
    mass: float
    low: float
    high: float
    node: Node | None = None

    @property
    def possible(self) -> float:
        """The most that knowing more of this result could add to the action."""
        return self.mass * (self.high - self.low)


class Lookahead:
    """Grows the tree of one problem. ``arrays`` is the problem as the kernels read it, ``work`` their work space.

    A ``ratio_only`` one knows only the plain policy, for comparison; a ``prune_unlikely`` one follows states that are unlikely to
    come less far. With ``pair`` two first steps are looked into at once, on two cores; what is found is the same.
    """

    def __init__(
        self,
        problem: Problem,
        *,
        ratio_only: bool = False,
        prune_unlikely: bool = False,
        pair: bool = False,
    ) -> None:
        self.problem, self._ratio_only, self._prune_unlikely = problem, ratio_only, prune_unlikely
        self.arrays: Arrays = problem.arrays()
        checks, outcomes, _ = self.arrays.table.shape
        actions = checks + len(problem.repairs)
        self.checks = checks
        self._shape = (actions, max(outcomes, 1))
        self.work = work_space(self.arrays)
        self._second = work_space(self.arrays, self.work) if pair else None
        self._ahead: dict[int, Node] = {}
        self.root = self._node(
            problem.prior, (problem.done, problem.tried, problem.opened), 1.0, self.work
        )
        self.grown = 0
        self._front: list[tuple[ActionNode, Result]] | None = None

    def plan(self, effort: Effort) -> Plan:
        """Grow until the effort is spent, then say what to do first. Calling again goes on growing."""
        end = time.monotonic() + effort.seconds
        while self.grown < effort.growths and self.root.high - self.root.low > effort.gap:
            grew = self._level() or (
                not (effort.choosing and self._front == [])
                and self._grow_once(towards_upper=self.grown % 2 == 1)
            )
            if not grew or time.monotonic() >= end:
                break
        return self.result()

    def _level(self) -> bool:
        """Look a second step ahead of a promising first step, until all of them are judged at one depth.

        Without it a cheap question beats the right repair: only the branch after a repair that failed is left without
        its next look.
        """
        if self.root.actions is None:
            return False
        if self._front is None:
            self._front = self._promising()
        while self._front:
            branch, result = self._front.pop(0)
            if self._idle(branch, result):
                continue
            result.node = self._looked_into(branch, result)
            self.grown += 1
            result.low, result.high = (
                max(result.low, result.node.low),
                min(result.high, result.node.high),
            )
            branch.update()
            self._settle(self.root)
            return True
        return False

    def _idle(self, branch: ActionNode, result: Result) -> bool:
        return result.possible < IDLE * (self.root.high - self.root.low) or self._hopeless(
            branch, result
        )

    def _looked_into(self, branch: ActionNode, result: Result) -> Node:
        """The state a first step leads to, grown; if there is a second core, the next one in turn along with it.

        What is looked into ahead depends on nothing found meanwhile, so it is the same, or not used at all.
        """
        if id(result) in self._ahead:
            return self._ahead.pop(id(result))
        following = next((item for item in self._front or () if not self._idle(*item)), None)
        if self._second is None or following is None:
            return self._grown_child(branch, result, self.work)
        beside = _BackgroundCall(partial(self._grown_child, *following, self._second))
        node = self._grown_child(branch, result, self.work)
        self._ahead[id(following[1])] = beside.result()
        return node

    def _grown_child(self, branch: ActionNode, result: Result, room: Room) -> Node:
        node = self._child(self.root, branch, result, room)
        self._expand(node, room)
        return node

    def _hopeless(self, branch: ActionNode, result: Result) -> bool:
        """Whether a check could come first only if its results gained more of what they might than they ever do.

        Not so repairs: where one fails nearly all is still to be looked at, and may gain all it can.
        """
        if any(branch is one for a, one in (self.root.actions or {}).items() if a >= self.checks):
            return False
        still = result.possible + sum(
            other.possible for one, other in self._front or () if one is branch
        )
        return self.root.low - branch.low > HOPE * still

    def _promising(self) -> list[tuple[ActionNode, Result]]:
        """The best first steps and repairs, each with its weightiest result first; then the second ones."""
        ranked = sorted((self.root.actions or {}).items(), key=lambda item: -item[1].low)
        repairs = [item for item in ranked if item[0] >= self.checks]
        chosen = dict([*repairs[:FEW], *ranked[:SEVERAL]]).values()
        weighty = [sorted(b.results, key=lambda r: r.mass * (r.low - r.high))[:FEW] for b in chosen]
        return [
            (branch, found[turn])
            for turn in range(FEW)
            for branch, found in zip(chosen, weighty, strict=True)
            if turn < len(found)
        ]

    def results_of(self, check: int) -> list[tuple[float, int]]:
        """For each outcome of a check done now: its chance, and the number of the action that would follow."""
        root, k = self.root, self.arrays
        done, tried, opened = root.state
        state = (done | 1 << check, tried, opened | int(k.check_panels[check]))
        grown = (
            {r.outcome: r.node for r in root.actions[check].results}
            if root.actions and check in root.actions
            else {}
        )
        found = []
        for o in range(int(k.outcomes[check])):
            joint = root.w * k.table[check, o]
            mass = float(joint.sum())
            node = grown.get(o) or (
                self._node(joint / mass, state, 1.0, self.work) if mass > 0 else None
            )
            found.append((mass, node.act if node else root.act))
        return found

    def result(self) -> Plan:
        """What the tree grown so far says."""
        root = self.root
        found = [
            ActionBounds(action_of(self.problem, a), branch.low, branch.high)
            for a, branch in (root.actions or {}).items()
        ]
        base = self.checks + len(self.problem.repairs)
        found += [
            ActionBounds(Action("ending", ending.id), value, value)
            for ending, value in zip(
                self.problem.endings, (self.arrays.ending_value @ root.w).tolist(), strict=True
            )
        ]
        found.sort(key=lambda one: -one.lower)
        first = action_of(self.problem, root.act)
        if root.act >= base and not self.problem.endings:
            first = Action("exhausted", "")
        found = [
            ActionBounds(first, max(a.lower, root.low), a.upper) if a.action == first else a
            for a in found
        ]
        found.sort(key=lambda one: one.action != first)
        return Plan(root.low, root.high, first, tuple(found), self.grown)

    def _node(self, w: Floats, state: State, mass: float, room: Room) -> Node:
        _, tried, opened = state
        high = hindsight(self.arrays, w, tried, opened, np.empty_like(w))
        low, act = looking_policy(self.arrays, w, state, 0.0 if self._ratio_only else mass, room)
        return Node(w, state, float(low), max(float(low), float(high)), int(act), mass)

    def _grow_once(self, *, towards_upper: bool) -> bool:
        """Walk from the root to the leaf that matters most, grow it, and carry the brackets back."""
        path: list[tuple[Node, ActionNode, Result]] = []
        node = self.root
        while node.actions:
            branch = self._choose(node, towards_upper=towards_upper)
            open_results = [r for r in branch.results if r.high - r.low > 1e-9] if branch else []
            if branch is None or not open_results:
                break
            result = max(open_results, key=lambda r: r.mass * (r.high - r.low))
            if result.node is None:
                result.node = self._child(node, branch, result, self.work)
            path.append((node, branch, result))
            node = result.node
        if node.actions is not None:
            return False
        self._grow(node)
        for parent, branch, result in reversed(path):
            child = result.node
            if child is not None:
                result.low, result.high = max(result.low, child.low), min(result.high, child.high)
            branch.update()
            self._settle(parent)
        return True

    @staticmethod
    def _choose(node: Node, *, towards_upper: bool) -> ActionNode | None:
        branches = [
            b
            for b in (node.actions or {}).values()
            if b.high > node.low + 1e-9 and b.high - b.low > 1e-9
        ]
        if not branches:
            return None
        return max(branches, key=lambda b: b.high if towards_upper else b.low)

    def _child(self, node: Node, branch: ActionNode, result: Result, room: Room) -> Node:
        k, (done, tried, opened) = self.arrays, node.state
        number = next(a for a, b in (node.actions or {}).items() if b is branch)
        if number < self.checks:
            w = node.w * k.table[number, result.outcome]
            state = (done | 1 << number, tried, opened | int(k.check_panels[number]))
        else:
            r = number - self.checks
            w = np.empty_like(node.w)
            after_repair(k, r, node.w, w)
            state = (done, tried | 1 << r, opened | int(k.repair_panels[r]))
        reach = node.reach * result.mass if self._prune_unlikely else 1.0
        return self._node(w / w.sum(), state, reach, room)

    def _grow(self, node: Node) -> None:
        self._expand(node, self.work)
        self.grown += 1

    def _expand(self, node: Node, room: Room) -> None:
        rows = np.zeros((3, *self._shape))
        fixed = np.zeros(self._shape[0])
        expand(
            self.arrays,
            node.w,
            node.state,
            0 if self._ratio_only else WIDTH,
            node.reach,
            rows[0],
            rows[1],
            rows[2],
            fixed,
            room,
        )
        low, high = (fixed + (rows[0] * end).sum(axis=1) for end in rows[1:])
        node.actions = {
            a: ActionNode(float(fixed[a]), float(low[a]), float(high[a]), rows[:, a])
            for a in np.flatnonzero(np.isfinite(fixed)).tolist()
        }
        self._settle(node)

    def _settle(self, node: Node) -> None:
        """Bracket of a grown node from its actions and endings."""
        branches = node.actions or {}
        for a, branch in branches.items():
            if branch.low > node.low + 1e-9:
                node.low, node.act = branch.low, a
        stop = float(stop_now(self.arrays, node.w)[0])
        node.high = min(node.high, max([node.low, stop, *(b.high for b in branches.values())]))


class _BackgroundCall:
    """A call in a thread of its own; the kernels leave the other free to run. A pool would not outlive a fork."""

    def __init__(self, call: Callable[[], Node]) -> None:
        self._call = call
        self._found: Node | None = None
        self._failed: BaseException | None = None
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._found = self._call()
        except BaseException as failed:  # noqa: BLE001 - told where the result is asked for
            self._failed = failed

    def result(self) -> Node:
        """Wait for the result, or for what went wrong."""
        self._thread.join()
        if self._failed is not None:
            raise self._failed
        assert self._found is not None  # noqa: S101 - one of the two is there
        return self._found


def plan_ahead(problem: Problem, effort: Effort = Effort()) -> Plan:
    """Plan a problem of catalog size within an effort."""
    return Lookahead(problem).plan(effort)
