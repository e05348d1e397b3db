"""The anytime planner for models of catalog size: a tree grown where it matters most.

A state's lower bound is what a fixed policy earns from it (telling checks, then repairs by chance
over cost, stopping where stopping is best), its upper bound what hindsight would. Growing a leaf
looks one step ahead of it; brackets are carried back to the root. The result is deterministic for a
given number of growths.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import partial

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.bounds import after_repair, best_ending, hindsight
from counterpoise.reasoning.kernels.checking_policy import checking_policy
from counterpoise.reasoning.kernels.expand_node import Expansion, expand_node
from counterpoise.reasoning.kernels.workspace import Workspace, new_workspace
from counterpoise.reasoning.planning.background_call import BackgroundCall
from counterpoise.reasoning.planning.search_tree import (
    CLOSED,
    ActionNode,
    Node,
    Result,
    State,
    branch_to_follow,
    state_after_check,
    state_after_failure,
)
from counterpoise.reasoning.problem import Problem

WIDTH = 4  # actions looked at more closely, by worth and again by what they tell
# First steps that are looked at a step deeper, and the repairs among them and the results of each.
CANDIDATES, DEEPENED = 6, 2
# Share of what a result might gain that is hoped for: a look ahead of it gains half at most, mostly
# a tenth (514 looks).
ATTAINABLE = 0.3
IDLE = 0.02  # a result that holds less than this share of the root's gap is not looked into


@dataclass(frozen=True)
class Effort:
    """When to stop: after ``growths`` leaves, after ``seconds``, or at ``gap`` (in units of value).

    ``choosing``: also once the promising first steps are judged at one depth; growing on tells more
    of their worth.
    """

    growths: int = 24
    seconds: float = np.inf
    gap: float = 0.0
    choosing: bool = False


class Lookahead:
    """Grows the tree of one problem; ``arrays`` is the problem as the kernels read it.

    ``ratio_only`` knows only repairing by ratio below the root's actions, for comparison;
    ``prune_unlikely`` follows states that are unlikely to come less far. With ``pair`` two first
    steps are looked into at once, on two cores; the plan is the same.
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
        self.work = new_workspace(self.arrays)
        self._second = new_workspace(self.arrays, self.work) if pair else None
        self._precomputed: dict[int, Node] = {}
        state = (problem.done, problem.tried, problem.opened)
        self.root = self._node(problem.prior, state, 1.0, self.work)
        self.grown = 0
        self._pending: list[tuple[ActionNode, Result]] | None = None

    def plan(self, effort: Effort) -> Plan:
        """Grow until the effort is spent, then say what to do first.

        Calling again goes on growing.
        """
        end = time.monotonic() + effort.seconds
        # in turn towards the higher upper and the higher lower end: one proves, the other finds
        while self.grown < effort.growths and self.root.high - self.root.low > effort.gap:
            grew = self._deepen_candidate() or (
                not (effort.choosing and self._pending == [])
                and self._grow_once(towards_upper=self.grown % 2 == 1)
            )
            if not grew or time.monotonic() >= end:
                break
        return self.result()

    def results_of(self, check: int) -> list[tuple[float, int]]:
        """(probability, number of the next action) for each outcome of a check done now."""
        root, k = self.root, self.arrays
        state = state_after_check(k, root.state, check)
        branch = (root.actions or {}).get(check)
        grown = {result.outcome: result.node for result in branch.results} if branch else {}
        chances_and_acts = []
        for o in range(int(k.outcomes[check])):
            joint = root.w * k.table[check, o]
            mass = float(joint.sum())
            node = grown.get(o)
            # not grown: the policy says what it would do
            if node is None and mass > 0:
                node = self._node(joint / mass, state, 1.0, self.work)
            chances_and_acts.append((mass, node.act if node else root.act))
        return chances_and_acts

    def result(self) -> Plan:
        """What the tree grown so far says: the plan with its bracket, and every first step's."""
        root = self.root
        bounds = [
            ActionBounds(action_of(self.problem, a), branch.low, branch.high)
            for a, branch in (root.actions or {}).items()
        ]
        bounds += [
            ActionBounds(Action("ending", ending.id), value, value)
            for ending, value in zip(
                self.problem.endings, (self.arrays.ending_value @ root.w).tolist(), strict=True
            )
        ]
        # stable, so that equals keep the order of the model
        bounds.sort(key=lambda each: -each.lower)
        first = action_of(self.problem, root.act)
        if root.act >= self.checks + len(self.problem.repairs) and not self.problem.endings:
            first = Action("exhausted", "")
        # the policy may earn more from the root than one step of the tree shows of its first action
        bounds = [
            ActionBounds(first, max(a.lower, root.low), a.upper) if a.action == first else a
            for a in bounds
        ]
        bounds.sort(key=lambda each: each.action != first)
        return Plan(root.low, root.high, first, tuple(bounds), self.grown)

    def _deepen_candidate(self) -> bool:
        """Look a second step ahead of a promising first step; False once all are at one depth.

        Without it a cheap question beats the right repair: only the branch after a repair that
        failed is left without its next look.
        """
        if self.root.actions is None:
            return False
        # chosen once: judged at one depth means the same candidates throughout
        if self._pending is None:
            self._pending = self._promising()
        while self._pending:
            branch, result = self._pending.pop(0)
            if self._idle(branch, result):
                continue
            node = result.node = self._evaluated_child(branch, result)
            self.grown += 1
            result.low, result.high = max(result.low, node.low), min(result.high, node.high)
            branch.update()
            self._settle(self.root)
            return True
        return False

    def _promising(self) -> list[tuple[ActionNode, Result]]:
        """The best first steps and repairs, the weightiest result of each first, then the next."""
        ranked = sorted((self.root.actions or {}).items(), key=lambda item: -item[1].low)
        repairs = [item for item in ranked if item[0] >= self.checks]
        chosen = dict([*repairs[:DEEPENED], *ranked[:CANDIDATES]]).values()
        weighty = [sorted(b.results, key=lambda r: -r.possible)[:DEEPENED] for b in chosen]
        return [
            (branch, results[turn])
            for turn in range(DEEPENED)
            for branch, results in zip(chosen, weighty, strict=True)
            if turn < len(results)
        ]

    def _idle(self, branch: ActionNode, result: Result) -> bool:
        """Whether looking into a result could not change which step comes first, or hardly."""
        least = IDLE * (self.root.high - self.root.low)
        return result.possible < least or self._cannot_lead(branch, result)

    def _cannot_lead(self, branch: ActionNode, result: Result) -> bool:
        """Whether a check could come first only if its results gained more than they ever do.

        Not so repairs: where one fails nearly all is still to be looked at, and may gain all it
        can.
        """
        actions = self.root.actions or {}
        if any(branch is other for a, other in actions.items() if a >= self.checks):
            return False
        # what this branch may gain: this result and those still to be looked into
        still = result.possible + sum(
            other.possible for parent, other in self._pending or () if parent is branch
        )
        return self.root.low - branch.low > ATTAINABLE * still

    def _evaluated_child(self, branch: ActionNode, result: Result) -> Node:
        """The state a first step leads to, grown; on a second core the next one in turn as well.

        What is looked into ahead depends on nothing found meanwhile, so it is the same, or not
        used.
        """
        if id(result) in self._precomputed:
            return self._precomputed.pop(id(result))
        # chosen before this one is known, so it does not depend on what is found
        following = next((item for item in self._pending or () if not self._idle(*item)), None)
        if self._second is None or following is None:
            return self._grown_child(branch, result, self.work)
        beside = BackgroundCall(partial(self._grown_child, *following, self._second))
        node = self._grown_child(branch, result, self.work)
        self._precomputed[id(following[1])] = beside.result()
        return node

    def _grown_child(self, branch: ActionNode, result: Result, work: Workspace) -> Node:
        node = self._child(self.root, branch, result, work)
        self._expand(node, work)
        return node

    def _grow_once(self, *, towards_upper: bool) -> bool:
        """Grow the leaf that matters most from the root on, and carry the brackets back."""
        path: list[tuple[Node, ActionNode, Result]] = []
        node = self.root
        while node.actions:
            branch = branch_to_follow(node, towards_upper=towards_upper)
            open_results = [r for r in branch.results if r.high - r.low > CLOSED] if branch else []
            if branch is None or not open_results:
                break
            # the result that leaves most open, weighed by its chance
            result = max(open_results, key=lambda r: r.possible)
            if result.node is None:
                result.node = self._child(node, branch, result, self.work)
            path.append((node, branch, result))
            node = result.node
        if node.actions is not None:
            return False
        self._expand(node, self.work)
        self.grown += 1
        for parent, branch, result in reversed(path):
            child = result.node
            if child is not None:
                result.low, result.high = max(result.low, child.low), min(result.high, child.high)
            branch.update()
            self._settle(parent)
        return True

    def _node(self, w: Floats, state: State, mass: float, work: Workspace) -> Node:
        """A state with its first bracket; the policy is followed as far as ``mass`` is worth it."""
        _, tried, opened = state
        high = hindsight(self.arrays, w, tried, opened, np.empty_like(w))
        low, act = checking_policy(self.arrays, w, state, 0.0 if self._ratio_only else mass, work)
        return Node(w, state, float(low), max(float(low), float(high)), int(act), mass)

    def _child(self, node: Node, branch: ActionNode, result: Result, work: Workspace) -> Node:
        k, number = self.arrays, next(a for a, b in (node.actions or {}).items() if b is branch)
        if number < self.checks:
            w = node.w * k.table[number, result.outcome]
            state = state_after_check(k, node.state, number)
        else:
            r = number - self.checks
            w = np.empty_like(node.w)
            after_repair(k, r, node.w, w)
            state = state_after_failure(k, node.state, r)
        reach = node.reach * result.mass if self._prune_unlikely else 1.0
        return self._node(w / w.sum(), state, reach, work)

    def _expand(self, node: Node, work: Workspace) -> None:
        rows = np.zeros((3, *self._shape))
        into = Expansion(rows[0], rows[1], rows[2], np.zeros(self._shape[0]))
        width = 0 if self._ratio_only else WIDTH
        expand_node(self.arrays, node.w, node.state, width, node.reach, into, work)
        low, high = (into.fixed + (into.mass * end).sum(axis=1) for end in (into.low, into.high))
        # useless actions are marked by minus infinity, and left out
        node.actions = {
            a: ActionNode(float(into.fixed[a]), float(low[a]), float(high[a]), rows[:, a])
            for a in np.flatnonzero(np.isfinite(into.fixed)).tolist()
        }
        self._settle(node)

    def _settle(self, node: Node) -> None:
        """Bracket of a grown node from its actions and endings; it only ever tightens."""
        branches = node.actions or {}
        for a, branch in branches.items():
            if branch.low > node.low + CLOSED:
                node.low, node.act = branch.low, a
        stop = float(best_ending(self.arrays, node.w)[0])
        # no more than the best action could earn, nor than was known before
        node.high = min(node.high, max([node.low, stop, *(b.high for b in branches.values())]))


def plan_ahead(problem: Problem, effort: Effort = Effort()) -> Plan:
    """Plan a problem of catalog size within an effort."""
    return Lookahead(problem).plan(effort)
