"""The plan of a lookahead as a fixed way of going on: what it does in each state it comes to."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array, diags_array

from counterpoise.reasoning.belief import Moves
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.probe import looking_policy
from counterpoise.reasoning.lookahead import Lookahead, Node, State

DEEPEST = 40
FAINT = 2e-3  # branches less likely than this are cut short: one more repair if that pays, then the best ending


class Walk:
    """What the plan does, state by state. ``steps`` are the (H, H) moves of each repair before its proof."""

    def __init__(self, look: Lookahead) -> None:
        self.look, self.k = look, look.arrays
        self.steps = _Steps(look.problem.moves, look.problem.prior.size)

    def chosen(self, node: Node | None, now: Floats, state: State, act: int | None, depth: int) -> tuple[int, int]:
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
        mass, worth = float(now.sum()), self._repaired @ now
        for r in np.flatnonzero(worth > best).tolist():
            value = float(worth[r]) - opening(int(self.k.repair_panels[r]), opened, self.k.panel_cost) * mass
            if not tried >> r & 1 and value > best:
                best, act = value, checks + r
        return act

    @cached_property
    def _repaired(self) -> Floats:
        """(R, H): what each repair is worth in each set if the best ending follows where it fails."""
        k, sets = self.k, self.look.problem.prior.size
        ended = k.ending_value.max(axis=0) if k.ending_value.shape[0] else np.zeros(sets)
        after = k.passes * k.pass_value + (1.0 - k.passes) * ended
        rows = np.tile(after, (len(self.look.problem.moves), 1)) - k.repair_cost[:, None]
        for r, moves in enumerate(self.look.problem.moves):
            gained = moves.chance * (after[moves.target] - after[moves.source])
            rows[r] += np.bincount(moves.source, gained, sets)
        return np.asarray(rows)

    def _act(self, now: Floats, mass: float, state: State) -> int:
        return int(looking_policy(self.k, now / mass, state, mass, self.look.work)[1])


def opening(needed: int, opened: int, each: Floats) -> float:
    """Sum of ``each`` (A,) over the panels in ``needed`` that are not open."""
    missing, total = needed & ~opened, 0.0
    while missing:
        total += float(each[(missing & -missing).bit_length() - 1])
        missing &= missing - 1
    return total


class _Steps:
    """The moves of each repair as a matrix, made when it is first wanted."""

    def __init__(self, moves: Sequence[Moves], sets: int) -> None:
        self._moves, self._sets, self._made = moves, sets, dict[int, csr_array]()

    def __getitem__(self, r: int) -> csr_array:
        if r not in self._made:
            self._made[r] = _transition(self._moves[r], self._sets)
        return self._made[r]


def _transition(moves: Moves, sets: int) -> csr_array:
    leaving = np.bincount(moves.source, weights=moves.chance, minlength=sets)
    stay = diags_array(np.maximum(1.0 - leaving, 0.0))
    return csr_array(stay + csr_array((moves.chance, (moves.target, moves.source)), shape=(sets, sets)))


def child(node: Node | None, act: int, outcome: int) -> Node | None:
    """The state in the tree that an outcome leads to, if it was looked into."""
    if node is None or not node.actions or act not in node.actions:
        return None
    return next((r.node for r in node.actions[act].results if r.outcome == outcome), None)
