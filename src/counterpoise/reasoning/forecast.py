"""What a plan is expected to take and to end in, by the set of faults that is really there."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import csr_array, diags_array

from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.lookahead import Lookahead, Node, State
from counterpoise.reasoning.walking import DEEPEST, Walk, child, opening


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


class Forecast(Walk):
    """Follows the plan of a lookahead to its ends, and adds up what it takes.

    ``act`` begins with this action instead of the plan's own. ``first`` is the action it begins with.
    """

    def __init__(self, look: Lookahead, measures: Measures, *, act: int | None = None) -> None:
        super().__init__(look)
        self.measures = measures
        sets = look.problem.prior.size
        self.toll = _nothing_yet(sets, look.checks, len(look.problem.repairs))
        self.first = action_of(look.problem, look.root.act if act is None else act)
        start = csr_array(diags_array(look.root.w))  # rows: what is there now; columns: what was there at first
        self._follow(look.root, start, look.root.state, act, DEEPEST)

    @property
    def minutes(self) -> float:
        """Expected bench minutes of the plan."""
        return float(self.toll.minutes.sum())

    def repairing(self) -> Forecast:
        """Return the plan made to repair: one that would end at once begins with the best of the likely repairs."""
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        if self.look.root.act < checks + repairs or not repairs:
            return self
        sound = np.array([float((self.steps[r] @ self.look.root.w)[0]) for r in range(repairs)])
        worth = sound * self.look.problem.working - self.k.repair_cost
        hopeful = np.where(sound >= 0.5 * sound.max(), worth, -np.inf)
        return Forecast(self.look, self.measures, act=checks + int(np.argmax(hopeful)))

    def _follow(self, node: Node | None, w: csr_array, state: State, act: int | None, depth: int) -> None:
        now: Floats = np.asarray(w.sum(axis=1), dtype=np.float64).ravel()
        if now.sum() <= 0.0:
            return
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        act, depth = self.chosen(node, now, state, act, depth)
        if act < checks:
            self._check(node, w, state, act, depth)
        elif act < checks + repairs:
            self._repair(node, w, state, act - checks, depth)
        else:
            ended = self.toll.ended.setdefault(act - checks - repairs, np.zeros(now.size))
            ended += _by_origin(w)
            if self.k.ending_value.shape[0]:
                self.toll.worth += self.k.ending_value[act - checks - repairs] @ w

    def _check(self, node: Node | None, w: csr_array, state: State, c: int, depth: int) -> None:
        done, tried, opened = state
        needed = int(self.k.check_panels[c])
        minutes = self.measures.check_minutes[c] + opening(needed, opened, self.measures.panel_minutes)
        origin = _by_origin(w)
        self.toll.minutes += origin * minutes
        self.toll.worth -= origin * (self.k.check_cost[c] + opening(needed, opened, self.k.panel_cost))
        self.toll.looked[c] += origin.sum()
        after = (done | 1 << c, tried, opened | needed)
        for o in range(int(self.k.outcomes[c])):
            part = csr_array(diags_array(self.k.table[c, o]) @ w)
            self._follow(child(node, c, o), part, after, None, depth - 1)

    def _repair(self, node: Node | None, w: csr_array, state: State, r: int, depth: int) -> None:
        done, tried, opened = state
        needed, origin, toll = int(self.k.repair_panels[r]), _by_origin(w), self.toll
        toll.minutes += origin * (
            self.measures.repair_minutes[r] + opening(needed, opened, self.measures.panel_minutes)
        )
        price = self.k.repair_cost[r] + opening(needed, opened, self.k.panel_cost)
        toll.repair_cost += origin * price
        toll.tried[r] += origin.sum()
        toll.parts += origin * self.measures.repair_parts[r]
        after = csr_array(self.steps[r] @ w)
        passed = csr_array(diags_array(self.k.passes) @ after)
        sound = np.asarray(passed[[0], :].toarray()).ravel()
        toll.sound += sound
        toll.slipped += _by_origin(passed) - sound
        toll.worth += self.k.pass_value @ passed - origin * price
        failed = csr_array(diags_array(1.0 - self.k.passes) @ after)
        state = (done, tried | 1 << r, opened | needed)
        self._follow(child(node, self.look.checks + r, 0), failed, state, None, depth - 1)


def _by_origin(w: csr_array) -> Floats:
    return np.asarray(w.sum(axis=0), dtype=np.float64).ravel()
