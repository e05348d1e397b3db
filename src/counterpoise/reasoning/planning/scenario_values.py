"""What a fixed policy earns if the figures are not as believed, under each of several scenarios."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.packing import Figures
from counterpoise.reasoning.planning.lookahead import Lookahead
from counterpoise.reasoning.planning.policy_rollout import DEEPEST, PolicyRollout, opening_total
from counterpoise.reasoning.planning.search_tree import (
    Node,
    State,
    child_node,
    state_after_check,
    state_after_failure,
)


class ScenarioRollout(PolicyRollout):
    """Follows the plan, with its beliefs and choices, where the machine is that of other figures.

    ``figures`` are S problems over the same faults, checks and repairs, as arrays; ``beliefs`` (S,
    H) is what is there under each. ``worth`` (S,) is what the policy earns. ``act`` begins with
    this action instead of the plan's own.
    """

    def __init__(
        self,
        look: Lookahead,
        figures: Sequence[Arrays | Figures],
        beliefs: Floats,
        *,
        act: int | None = None,
    ) -> None:
        super().__init__(look)
        self._check_cost = np.array([scenario.check_cost for scenario in figures])
        self._repair_cost = np.array([scenario.repair_cost for scenario in figures])
        self._panel_cost = np.array([scenario.panel_cost for scenario in figures])
        self._table = np.array([scenario.table for scenario in figures])
        self.worth = np.zeros(len(figures))
        self._follow(look.root, look.root.w, beliefs, look.root.state, (act, DEEPEST))

    def _follow(
        self,
        node: Node | None,
        now: Floats,
        truly: Floats,
        state: State,
        order: tuple[int | None, int],
    ) -> None:
        """Add up what follows a state; ``now`` (H,) is believed there, ``truly`` (S, H) is there.

        ``order`` is the action prescribed, or None, and how much deeper to follow.
        """
        # believed impossible: the plan has no step for it, whatever is really there
        if now.sum() <= 0.0:
            return
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        act, depth = self.choose(node, now, state, *order)
        if act < checks:
            self._check(node, now, truly, state, (act, depth))
        elif act < checks + repairs:
            self._repair(node, now, truly, state, (act - checks, depth))
        # endings are worth the same under all scenarios
        elif self.k.ending_value.shape[0]:
            self.worth += truly @ self.k.ending_value[act - checks - repairs]

    def _open(self, needed: int, opened: int) -> Floats:
        """(S,) what opening costs under each scenario."""
        return np.array([opening_total(needed, opened, each) for each in self._panel_cost])

    def _check(
        self, node: Node | None, now: Floats, truly: Floats, state: State, order: tuple[int, int]
    ) -> None:
        c, depth = order
        needed, opened = int(self.k.check_panels[c]), state[2] & int(self.k.check_keeps[c])
        self.worth -= truly.sum(axis=1) * (self._check_cost[:, c] + self._open(needed, opened))
        after = state_after_check(self.k, state, c)
        for o in range(int(self.k.outcomes[c])):
            # the belief moves by the figures as written, what is there by those of the scenario
            believed, there = now * self.k.table[c, o], truly * self._table[:, c, o]
            self._follow(child_node(node, c, o), believed, there, after, (None, depth - 1))

    def _repair(
        self, node: Node | None, now: Floats, truly: Floats, state: State, order: tuple[int, int]
    ) -> None:
        (r, depth), k = order, self.k
        needed, opened = int(k.repair_panels[r]), state[2]
        self.worth -= truly.sum(axis=1) * (self._repair_cost[:, r] + self._open(needed, opened))
        matrix = self.transition_matrix(r)
        mended = np.asarray((matrix @ truly.T).T)
        self.worth += mended @ (k.pass_chance * k.pass_value)
        after = state_after_failure(k, state, r)
        failed = np.asarray(matrix @ now) * (1.0 - k.pass_chance)
        there = mended * (1.0 - k.pass_chance)
        child = child_node(node, self.look.checks + r, 0)
        self._follow(child, failed, there, after, (None, depth - 1))


def shortfall(worth: Floats, weights: Floats, share: float) -> float:
    """Mean of ``worth`` (S,) over the worst ``share`` of the weight: the expected shortfall.

    Rockafellar and Uryasev, J. Risk 2, 2000: the scenario at the edge counts with the part of its
    weight that fits in.
    """
    # worst scenarios first
    order = np.argsort(worth, kind="stable")
    taken = np.diff(np.minimum(np.cumsum(weights[order]) / weights.sum(), share), prepend=0.0)
    return float(taken @ worth[order] / share)
