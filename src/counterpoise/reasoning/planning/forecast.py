"""What a plan is expected to take and to end in, by the set of faults that is really there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array

from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.planning.lookahead import Lookahead, Node, State
from counterpoise.reasoning.planning.monte_carlo import Measures, played
from counterpoise.reasoning.planning.policy_rollout import DEEPEST, PolicyRollout, child, opening

PLAYED = 120  # machines worked on in thought


@dataclass
class RolloutTotals:
    """What a way of going on takes, (H,) by the set of faults really there, times its probability.

    ``minutes`` of everything; ``repair_cost`` in the unit of value, opening included; ``parts``;
    ``sound``: repaired and proven; ``missed``: passed its retest with a fault left; ``worth``: value
    less all costs; ``ended``: by the number of the ending chosen. ``check_chance`` (C,) and
    ``repair_chance`` (R,) say how likely each check and repair is to be done. ``lost`` (3, H) is the
    part of minutes, cost and parts that goes where the work is given up with an ending.
    """

    minutes: Floats
    repair_cost: Floats
    parts: Floats
    sound: Floats
    missed: Floats
    worth: Floats
    check_chance: Floats
    repair_chance: Floats
    lost: Floats
    ended: dict[int, Floats] = field(default_factory=dict)


def _nothing_yet(sets: int, checks: int, repairs: int) -> RolloutTotals:
    a, b, c, d, e, f = np.zeros((6, sets))
    return RolloutTotals(a, b, c, d, e, f, np.zeros(checks), np.zeros(repairs), np.zeros((3, sets)))


def _sums(places: Ints, weights: Floats, count: int) -> Floats:
    return np.asarray(np.bincount(places, weights=weights, minlength=count), dtype=np.float64)


class WeightedStates(NamedTuple):
    """What is there ``now`` and what was there at first (``origin``), by number of the set of faults, with a weight."""

    now: Ints
    origin: Ints
    weight: Floats

    def by_origin(self, sets: int) -> Floats:
        """(H,) the weight by what was there at first."""
        return _sums(self.origin, self.weight, sets)

    def times(self, factor: Floats | NDArray[np.bool_]) -> WeightedStates:
        """Weighed by a factor (H,) of what is there now; what has none is left out."""
        weight = self.weight * factor[self.now]
        kept = weight != 0.0
        return WeightedStates(self.now[kept], self.origin[kept], weight[kept])

    def moved(self, step: csc_array) -> WeightedStates:
        """After a repair whose moves are the columns of ``step``."""
        first, count = step.indptr[self.now], np.diff(step.indptr)[self.now]
        inside = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        place = np.repeat(first, count) + inside
        weight = np.repeat(self.weight, count) * step.data[place]
        return WeightedStates(
            step.indices[place].astype(np.int64), np.repeat(self.origin, count), weight
        )


class Forecast(PolicyRollout):
    """Follows the plan of a lookahead to its ends, and adds up what it takes.

    ``act`` begins with this action instead of the plan's own. ``first`` is the action it begins with.
    """

    def __init__(self, look: Lookahead, measures: Measures, *, act: int | None = None) -> None:
        super().__init__(look)
        self.measures = measures
        self._number = look.root.act if act is None else act
        self.first = action_of(look.problem, self._number)
        self._prescribed = act

    @cached_property
    def totals(self) -> RolloutTotals:
        """What the plan takes, followed as it stands."""
        look = self.look
        self._totals = _nothing_yet(look.problem.prior.size, look.checks, len(look.problem.repairs))
        self._spent = np.zeros(
            3
        )  # minutes, cost and parts on the way to where the plan is followed
        there = np.flatnonzero(look.root.w > 0.0)
        self._follow(
            look.root,
            WeightedStates(there, there, look.root.w[there]),
            look.root.state,
            self._prescribed,
            DEEPEST,
        )
        return self._totals

    @property
    def minutes(self) -> float:
        """Expected bench minutes of the work that begins with ``first``."""
        return float(self.simulated.minutes.sum())

    def repairing(self) -> Forecast:
        """Return the plan made to repair: one that would end at once begins with the best of the likely repairs."""
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        if self.look.root.act < checks + repairs or not repairs:
            return self
        sound = np.array([float((self.step(r) @ self.look.root.w)[0]) for r in range(repairs)])
        worth = sound * self.look.problem.working - self.k.repair_cost
        hopeful = np.where(sound >= 0.5 * sound.max(), worth, -np.inf)
        return Forecast(self.look, self.measures, act=checks + int(np.argmax(hopeful)))

    @cached_property
    def simulated(self) -> RolloutTotals:
        """What the work takes that begins with ``first`` and is planned anew after each finding, as at the bench.

        Simulated on some hundred machines in thought, none cut short, where the plan itself is followed in few of its
        branches and gives up sooner. Of the toll there is what is told of repairs; the rest stays at 0.
        """
        figures = played(self.look.problem, self._number, self.measures, PLAYED, self.look.work)
        minutes, cost, parts, sound, missed, *lost = figures.T
        toll = _nothing_yet(len(figures), self.look.checks, len(self.look.problem.repairs))
        return replace(
            toll,
            minutes=minutes,
            repair_cost=cost,
            parts=parts,
            sound=sound,
            missed=missed,
            lost=np.array(lost),
        )

    def _follow(
        self, node: Node | None, w: WeightedStates, state: State, act: int | None, depth: int
    ) -> None:
        if w.weight.sum() <= 0.0:
            return
        checks, repairs, sets = self.look.checks, len(self.look.problem.repairs), self.k.passes.size
        act, depth = self.chosen(node, _sums(w.now, w.weight, sets), state, act, depth)
        if act < checks:
            self._check(node, w, state, act, depth)
        elif act < checks + repairs:
            self._repair(node, w, state, act - checks, depth)
        else:
            ended = self._totals.ended.setdefault(act - checks - repairs, np.zeros(sets))
            ended += w.by_origin(sets)
            self._totals.lost += self._spent[:, None] * w.by_origin(sets)
            if self.k.ending_value.shape[0]:
                self._totals.worth += w.times(
                    self.k.ending_value[act - checks - repairs]
                ).by_origin(sets)

    def _check(
        self, node: Node | None, w: WeightedStates, state: State, c: int, depth: int
    ) -> None:
        done, tried, opened = state
        needed = int(self.k.check_panels[c])
        minutes = self.measures.check_minutes[c] + opening(
            needed, opened, self.measures.panel_minutes
        )
        origin = w.by_origin(self.k.passes.size)
        self._totals.minutes += origin * minutes
        self._totals.worth -= origin * (
            self.k.check_cost[c] + opening(needed, opened, self.k.panel_cost)
        )
        self._totals.check_chance[c] += origin.sum()
        after = (done | 1 << c, tried, opened | needed)
        before, self._spent = self._spent, self._spent + np.array([minutes, 0.0, 0.0])
        for o in range(int(self.k.outcomes[c])):
            self._follow(child(node, c, o), w.times(self.k.table[c, o]), after, None, depth - 1)
        self._spent = before

    def _repair(
        self, node: Node | None, w: WeightedStates, state: State, r: int, depth: int
    ) -> None:
        (done, tried, opened), sets, toll = state, self.k.passes.size, self._totals
        needed, origin = int(self.k.repair_panels[r]), w.by_origin(sets)
        minutes = self.measures.repair_minutes[r] + opening(
            needed, opened, self.measures.panel_minutes
        )
        toll.minutes += origin * minutes
        price = self.k.repair_cost[r] + opening(needed, opened, self.k.panel_cost)
        toll.repair_cost += origin * price
        toll.repair_chance[r] += origin.sum()
        toll.parts += origin * self.measures.repair_parts[r]
        after = w.moved(self.step(r))
        passed = after.times(self.k.passes)
        sound = passed.times(np.arange(sets) == 0).by_origin(sets)
        toll.sound += sound
        toll.missed += passed.by_origin(sets) - sound
        toll.worth += passed.times(self.k.pass_value).by_origin(sets) - origin * price
        state = (done, tried | 1 << r, opened | needed)
        failed = after.times(1.0 - self.k.passes)
        before, self._spent = (
            self._spent,
            self._spent + np.array([minutes, price, self.measures.repair_parts[r]]),
        )
        self._follow(child(node, self.look.checks + r, 0), failed, state, None, depth - 1)
        self._spent = before
