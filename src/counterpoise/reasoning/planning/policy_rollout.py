"""The plan of a lookahead as a fixed way of going on: what it does in each state it comes to."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from scipy.sparse import csc_array

from counterpoise.reasoning.belief import Transition, mean_after
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.checking_policy import looking_policy
from counterpoise.reasoning.planning.lookahead import Lookahead, Node, State

DEEPEST = 40
FAINT = 2e-3  # branches less likely than this are cut short: one more repair if that pays, then the best ending


class PolicyRollout:
    """What the plan does, state by state."""

    def __init__(self, look: Lookahead) -> None:
        self.look, self.k = look, look.arrays
        self._steps: dict[int, csc_array] = {}

    def step(self, repair: int) -> csc_array:
        """(H, H): what a repair makes of each set of faults (columns), before its proof."""
        if repair not in self._steps:
            self._steps[repair] = _transition(
                self.look.problem.transitions[repair], self.look.problem.prior.size
            )
        return self._steps[repair]

    def chosen(
        self, node: Node | None, now: Floats, state: State, act: int | None, depth: int
    ) -> tuple[int, int]:
        """The action in the state with unnormalised belief ``now``, and how much deeper to follow it.

        ``act`` is an action that was prescribed, ``node`` the state in the tree if it is there.
        """
        mass = float(now.sum())
        if depth == 0:
            return self.look.checks + len(self.look.problem.repairs) + self._best_ending(now), 0
        if mass < FAINT and act is None:
            return self._last(now, state), 1
        if act is None:
            act = node.act if node is not None else self._act(now, mass, state)
        return act, depth

    def _best_ending(self, now: Floats) -> int:
        values = self.k.ending_value @ now
        return int(np.argmax(values)) if values.size else 0

    def _last(self, now: Floats, state: State) -> int:
        """The best single repair, or the best ending where none pays."""
        _, tried, opened = state
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        best = float((self.k.ending_value @ now).max(initial=-np.inf))
        act: int = checks + repairs + self._best_ending(now)
        for r, worth in enumerate((self._repaired @ now).tolist()):
            price = opening(int(self.k.repair_panels[r]), opened, self.k.panel_cost)
            if not tried >> r & 1 and worth - price * float(now.sum()) > best:
                best, act = worth - price * float(now.sum()), checks + r
        return act

    @cached_property
    def _repaired(self) -> Floats:
        """(R, H): what each repair is worth in each set if the best ending follows where it fails."""
        k, sets = self.k, self.look.problem.prior.size
        ended = k.ending_value.max(axis=0) if k.ending_value.shape[0] else np.zeros(sets)
        after = k.passes * k.pass_value + (1.0 - k.passes) * ended
        means = [mean_after(after, moves) for moves in self.look.problem.transitions]
        return np.reshape(means, (len(means), sets)) - k.repair_cost[:, None]

    def _act(self, now: Floats, mass: float, state: State) -> int:
        return int(looking_policy(self.k, now / mass, state, mass, self.look.work)[1])


def opening(needed: int, opened: int, each: Floats) -> float:
    """Sum of ``each`` (A,) over the panels in ``needed`` that are not open."""
    missing = needed & ~opened
    return sum(float(amount) for i, amount in enumerate(each) if missing >> i & 1)


def _transition(moves: Transition, sets: int) -> csc_array:
    leaving = np.bincount(moves.source, weights=moves.chance, minlength=sets)
    here = np.arange(sets)
    chance = np.concatenate([np.maximum(1.0 - leaving, 0.0), moves.chance])
    places = (np.concatenate([here, moves.target]), np.concatenate([here, moves.source]))
    return csc_array((chance, places), shape=(sets, sets))


def child(node: Node | None, act: int, outcome: int) -> Node | None:
    """The state in the tree that an outcome leads to, if it was looked into."""
    if node is None or not node.actions or act not in node.actions:
        return None
    return next((r.node for r in node.actions[act].results if r.outcome == outcome), None)
