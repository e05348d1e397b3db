"""The plan of a lookahead as a fixed policy: what it does in each state it comes to."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.reasoning.belief import Transition, mean_after
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.checking_policy import checking_policy
from counterpoise.reasoning.planning.lookahead import Lookahead
from counterpoise.reasoning.planning.search_tree import Node, State

if TYPE_CHECKING:
    from scipy.sparse import csc_array

DEEPEST = 40  # steps in a row
# Branches less likely than this are cut short: one more repair if that pays, then the best ending.
FAINT = 2e-3


class PolicyRollout:
    """What the plan does, state by state."""

    def __init__(self, look: Lookahead) -> None:
        self.look, self.k = look, look.arrays
        self._matrices: dict[int, csc_array] = {}

    def transition_matrix(self, repair: int) -> csc_array:
        """(H, H): what a repair makes of each set of faults (columns), before its retest."""
        if repair not in self._matrices:
            problem = self.look.problem
            self._matrices[repair] = _matrix(problem.transitions[repair], problem.prior.size)
        return self._matrices[repair]

    def choose(
        self, node: Node | None, now: Floats, state: State, act: int | None, depth: int
    ) -> tuple[int, int]:
        """The action in a state, and how much deeper to follow it; ``now`` (H,) is its belief.

        ``now`` sums to the chance of coming here. ``act`` is an action that was prescribed, or
        None; ``node`` is the state in the tree, None where the tree does not hold it.
        """
        mass = float(now.sum())
        # far enough: end here, whatever would follow
        if depth == 0:
            return self.look.checks + len(self.look.problem.repairs) + self._best_ending(now), 0
        # a prescribed action is followed however unlikely the state
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
        # endings first: a repair must earn more than stopping now
        best = float((self.k.ending_value @ now).max(initial=-np.inf))
        act: int = checks + repairs + self._best_ending(now)
        for r, worth in enumerate((self._repaired @ now).tolist()):
            price = opening_total(int(self.k.repair_panels[r]), opened, self.k.panel_cost)
            if not tried >> r & 1 and worth - price * float(now.sum()) > best:
                best, act = worth - price * float(now.sum()), checks + r
        return act

    @cached_property
    def _repaired(self) -> Floats:
        """(R, H): what each repair is worth in each set if the best ending follows its failure."""
        k, sets = self.k, self.look.problem.prior.size
        ended = k.ending_value.max(axis=0) if k.ending_value.shape[0] else np.zeros(sets)
        after = k.pass_chance * k.pass_value + (1.0 - k.pass_chance) * ended
        means = [mean_after(after, transition) for transition in self.look.problem.transitions]
        return np.reshape(means, (len(means), sets)) - k.repair_cost[:, None]

    def _act(self, now: Floats, mass: float, state: State) -> int:
        return int(checking_policy(self.k, now / mass, state, mass, self.look.work)[1])


def opening_total(needed: int, opened: int, each: Floats) -> float:
    """Sum of ``each`` (A,), costs or minutes, over the panels in ``needed`` that are not open."""
    missing = needed & ~opened
    return sum(float(amount) for i, amount in enumerate(each) if missing >> i & 1)


def _matrix(transition: Transition, sets: int) -> csc_array:
    """(H, H): chance to come from each set (column) to each (row), what stays put included."""
    from scipy.sparse import csc_array

    leaving = np.bincount(transition.source, weights=transition.chance, minlength=sets)
    here = np.arange(sets)
    # several faults cured with certainty leave rounding, which must not become a negative chance
    chance = np.concatenate([np.maximum(1.0 - leaving, 0.0), transition.chance])
    rows = np.concatenate([here, transition.target])
    columns = np.concatenate([here, transition.source])
    return csc_array((chance, (rows, columns)), shape=(sets, sets))
