"""What a plan is expected to take and to end in, by the set of faults that is really there."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array, diags_array

from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.belief import Moves
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.probe import looking_policy
from counterpoise.reasoning.lookahead import Lookahead, Node, State

DEEPEST = 40
FAINT = 2e-3  # branches less likely than this are cut short: one more repair if that pays, then the best ending


@dataclass(frozen=True)
class Measures:
    """What each action takes: checks (C,), repairs with their proof (R,), panels with closing (A,); parts (R,)."""

    check_minutes: Floats
    repair_minutes: Floats
    panel_minutes: Floats
    repair_parts: Floats


@dataclass
class Toll:
    """Totals by the set of faults really there, (H,), each weighted by its probability.

    ``minutes`` of everything; ``repair_cost`` in the unit of value, opening included; ``parts``; ``sound``: repaired
    and proven; ``slipped``: passed its proof with a fault left; ``worth``: value less all costs; ``ended``: by the
    number of the ending chosen. ``looked`` (C,) and ``tried`` (R,) are the chances of each check and repair.
    """

    minutes: Floats
    repair_cost: Floats
    parts: Floats
    sound: Floats
    slipped: Floats
    worth: Floats
    looked: Floats
    tried: Floats
    ended: dict[int, Floats] = field(default_factory=dict)


def _nothing_yet(sets: int, checks: int, repairs: int) -> Toll:
    a, b, c, d, e, f = np.zeros((6, sets))
    return Toll(a, b, c, d, e, f, np.zeros(checks), np.zeros(repairs))


class Forecast:
    """Follows the plan of a lookahead to its ends, and adds up what it takes.

    ``act`` begins with this action instead of the plan's own. ``first`` is the action it begins with.
    """

    def __init__(self, look: Lookahead, measures: Measures, *, act: int | None = None) -> None:
        self._look, self._k, self.measures = look, look.arrays, measures
        sets = look.problem.prior.size
        self.toll = _nothing_yet(sets, look.checks, len(look.problem.repairs))
        self._steps = {r: _transition(moves, sets) for r, moves in enumerate(look.problem.moves)}
        self.first = action_of(look.problem, look.root.act if act is None else act)
        start = csr_array(diags_array(look.root.w))  # rows: what is there now; columns: what was there at first
        self._follow(look.root, start, look.root.state, act, DEEPEST)

    @property
    def minutes(self) -> float:
        """Expected bench minutes of the plan."""
        return float(self.toll.minutes.sum())

    def repairing(self) -> Forecast:
        """Return the plan made to repair: one that would end at once begins with the best of the likely repairs."""
        checks, repairs = self._look.checks, len(self._look.problem.repairs)
        if self._look.root.act < checks + repairs or not repairs:
            return self
        sound = np.array([float((self._steps[r] @ self._look.root.w)[0]) for r in range(repairs)])
        worth = sound * self._look.problem.working - self._k.repair_cost
        hopeful = np.where(sound >= 0.5 * sound.max(), worth, -np.inf)
        return Forecast(self._look, self.measures, act=checks + int(np.argmax(hopeful)))

    def _follow(self, node: Node | None, w: csr_array, state: State, act: int | None, depth: int) -> None:
        now: Floats = np.asarray(w.sum(axis=1), dtype=np.float64).ravel()
        mass = float(now.sum())
        if mass <= 0.0:
            return
        checks, repairs = self._look.checks, len(self._look.problem.repairs)
        if depth == 0:
            act = checks + repairs + self._best_ending(now)
        elif mass < FAINT:
            act, depth = self._last(now, state), 1
        elif act is None:
            act = node.act if node is not None else self._act(now, mass, state)
        if act < checks:
            self._check(node, w, state, act, depth)
        elif act < checks + repairs:
            self._repair(node, w, state, act - checks, depth)
        else:
            ended = self.toll.ended.setdefault(act - checks - repairs, np.zeros(now.size))
            ended += _by_origin(w)
            if self._k.ending_value.shape[0]:
                self.toll.worth += self._k.ending_value[act - checks - repairs] @ w

    def _best_ending(self, now: Floats) -> int:
        values = self._k.ending_value @ now
        return int(np.argmax(values)) if values.size else 0

    def _last(self, now: Floats, state: State) -> int:
        """The best single repair, or the best ending where none pays."""
        _, tried, opened = state
        checks, repairs = self._look.checks, len(self._look.problem.repairs)
        best = float((self._k.ending_value @ now).max(initial=-np.inf))
        act: int = checks + repairs + self._best_ending(now)
        for r, worth in enumerate((self._repaired @ now).tolist()):
            opening = self._opening(int(self._k.repair_panels[r]), opened, self._k.panel_cost)
            if not tried >> r & 1 and worth - opening * float(now.sum()) > best:
                best, act = worth - opening * float(now.sum()), checks + r
        return act

    @cached_property
    def _repaired(self) -> Floats:
        """(R, H): what each repair is worth in each set if the best ending follows where it fails."""
        k, sets = self._k, self._look.problem.prior.size
        ended = k.ending_value.max(axis=0) if k.ending_value.shape[0] else np.zeros(sets)
        after = k.passes * k.pass_value + (1.0 - k.passes) * ended
        rows = [after @ self._steps[r] - k.repair_cost[r] for r in range(len(self._look.problem.repairs))]
        return np.array(rows).reshape(len(rows), sets)

    def _act(self, now: Floats, mass: float, state: State) -> int:
        return int(looking_policy(self._k, now / mass, state, mass, self._look.work)[1])

    def _opening(self, needed: int, opened: int, each: Floats) -> float:
        missing = needed & ~opened
        return sum(float(amount) for i, amount in enumerate(each) if missing >> i & 1)

    def _check(self, node: Node | None, w: csr_array, state: State, c: int, depth: int) -> None:
        done, tried, opened = state
        needed = int(self._k.check_panels[c])
        minutes = self.measures.check_minutes[c] + self._opening(needed, opened, self.measures.panel_minutes)
        origin = _by_origin(w)
        self.toll.minutes += origin * minutes
        self.toll.worth -= origin * (self._k.check_cost[c] + self._opening(needed, opened, self._k.panel_cost))
        self.toll.looked[c] += origin.sum()
        after = (done | 1 << c, tried, opened | needed)
        for o in range(int(self._k.outcomes[c])):
            part = csr_array(diags_array(self._k.table[c, o]) @ w)
            self._follow(_child(node, c, o), part, after, None, depth - 1)

    def _repair(self, node: Node | None, w: csr_array, state: State, r: int, depth: int) -> None:
        done, tried, opened = state
        needed, origin, toll = int(self._k.repair_panels[r]), _by_origin(w), self.toll
        toll.minutes += origin * (
            self.measures.repair_minutes[r] + self._opening(needed, opened, self.measures.panel_minutes)
        )
        price = self._k.repair_cost[r] + self._opening(needed, opened, self._k.panel_cost)
        toll.repair_cost += origin * price
        toll.tried[r] += origin.sum()
        toll.parts += origin * self.measures.repair_parts[r]
        after = csr_array(self._steps[r] @ w)
        passed = csr_array(diags_array(self._k.passes) @ after)
        sound = np.asarray(passed[[0], :].toarray()).ravel()
        toll.sound += sound
        toll.slipped += _by_origin(passed) - sound
        toll.worth += self._k.pass_value @ passed - origin * price
        failed = csr_array(diags_array(1.0 - self._k.passes) @ after)
        state = (done, tried | 1 << r, opened | needed)
        self._follow(_child(node, self._look.checks + r, 0), failed, state, None, depth - 1)


def _by_origin(w: csr_array) -> Floats:
    return np.asarray(w.sum(axis=0), dtype=np.float64).ravel()


def _transition(moves: Moves, sets: int) -> csr_array:
    leaving = np.bincount(moves.source, weights=moves.chance, minlength=sets)
    stay = diags_array(np.maximum(1.0 - leaving, 0.0))
    return csr_array(stay + csr_array((moves.chance, (moves.target, moves.source)), shape=(sets, sets)))


def _child(node: Node | None, act: int, outcome: int) -> Node | None:
    if node is None or not node.actions or act not in node.actions:
        return None
    return next((r.node for r in node.actions[act].results if r.outcome == outcome), None)
