"""What a plan is expected to take and to end in, by the set of faults that is really there."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.belief import Moves
from counterpoise.reasoning.hypotheses import Floats, Ints
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


@dataclass(frozen=True)
class Flow:
    """Chances by what is there now and what was there at first: ``chance`` (N,) of sets ``now`` and ``first`` (N,)."""

    now: Ints
    first: Ints
    chance: Floats
    sets: int

    def times(self, by: Floats) -> Flow:
        """Each chance times ``by`` (H,) of the set there now; what becomes nothing is left out."""
        chance = self.chance * by[self.now]
        kept = chance > 0.0
        return Flow(self.now[kept], self.first[kept], chance[kept], self.sets)

    def moved(self, moves: Moves) -> Flow:
        """After a repair that makes these moves."""
        stays = 1.0 - np.bincount(moves.source, moves.chance, self.sets)
        still = self.times(np.maximum(stays, 0.0))
        start, end = (np.searchsorted(moves.source, self.now, side) for side in ("left", "right"))
        many = end - start
        move = np.repeat(end - np.cumsum(many), many) + np.arange(many.sum())
        return Flow(
            np.concatenate([still.now, moves.target[move]]),
            np.concatenate([still.first, np.repeat(self.first, many)]),
            np.concatenate([still.chance, np.repeat(self.chance, many) * moves.chance[move]]),
            self.sets,
        )

    def by_now(self) -> Floats:
        """(H,) chance of what is there now."""
        return np.asarray(np.bincount(self.now, self.chance, self.sets), dtype=np.float64)

    def by_first(self, worth: Floats | None = None) -> Floats:
        """(H,) chance of what was there at first, times ``worth`` (H,) of what is there now if given."""
        weight = self.chance if worth is None else self.chance * worth[self.now]
        return np.asarray(np.bincount(self.first, weight, self.sets), dtype=np.float64)


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
        there = np.flatnonzero(look.root.w > 0.0)
        start = Flow(there, there, look.root.w[there], sets)
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
        w = self.look.root.w
        sound = np.array([w[0] + m.chance[m.target == 0] @ w[m.source[m.target == 0]] for m in self.look.problem.moves])
        worth = sound * self.look.problem.working - self.k.repair_cost
        hopeful = np.where(sound >= 0.5 * sound.max(), worth, -np.inf)
        return Forecast(self.look, self.measures, act=checks + int(np.argmax(hopeful)))

    def _follow(self, node: Node | None, w: Flow, state: State, act: int | None, depth: int) -> None:
        now = w.by_now()
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
            ended += w.by_first()
            if self.k.ending_value.shape[0]:
                self.toll.worth += w.by_first(self.k.ending_value[act - checks - repairs])

    def _check(self, node: Node | None, w: Flow, state: State, c: int, depth: int) -> None:
        done, tried, opened = state
        needed = int(self.k.check_panels[c])
        minutes = self.measures.check_minutes[c] + opening(needed, opened, self.measures.panel_minutes)
        origin = w.by_first()
        self.toll.minutes += origin * minutes
        self.toll.worth -= origin * (self.k.check_cost[c] + opening(needed, opened, self.k.panel_cost))
        self.toll.looked[c] += origin.sum()
        after = (done | 1 << c, tried, opened | needed)
        for o in range(int(self.k.outcomes[c])):
            self._follow(child(node, c, o), w.times(self.k.table[c, o]), after, None, depth - 1)

    def _repair(self, node: Node | None, w: Flow, state: State, r: int, depth: int) -> None:
        done, tried, opened = state
        needed, origin, toll = int(self.k.repair_panels[r]), w.by_first(), self.toll
        toll.minutes += origin * (
            self.measures.repair_minutes[r] + opening(needed, opened, self.measures.panel_minutes)
        )
        price = self.k.repair_cost[r] + opening(needed, opened, self.k.panel_cost)
        toll.repair_cost += origin * price
        toll.tried[r] += origin.sum()
        toll.parts += origin * self.measures.repair_parts[r]
        after = w.moved(self.look.problem.moves[r])
        passed = after.times(self.k.passes)
        whole = after.now == 0  # set 0 is the empty one
        sound = np.bincount(after.first[whole], after.chance[whole] * self.k.passes[0], w.sets)
        toll.sound += sound
        toll.slipped += passed.by_first() - sound
        toll.worth += passed.by_first(self.k.pass_value) - origin * price
        failed = after.times(1.0 - self.k.passes)
        state = (done, tried | 1 << r, opened | needed)
        self._follow(child(node, self.look.checks + r, 0), failed, state, None, depth - 1)
