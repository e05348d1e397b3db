"""What a plan is expected to take and to end in, by the set of faults that is really there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.monte_carlo import WORTH
from counterpoise.reasoning.planning.lookahead import Lookahead
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines, Measures
from counterpoise.reasoning.planning.policy_rollout import DEEPEST, PolicyRollout, opening_total
from counterpoise.reasoning.planning.search_tree import (
    Node,
    State,
    child_node,
    state_after_check,
    state_after_failure,
)

if TYPE_CHECKING:
    from scipy.sparse import csc_array

MACHINES = 120  # drawn by Monte Carlo for what the work takes


@dataclass
class RolloutTotals:
    """What a way of going on takes, (H,) by the set of faults really there, times its probability.

    ``minutes`` of everything; ``repair_cost`` in the unit of value, opening included; ``parts``;
    ``sound``: repaired and proven; ``missed``: passed its retest with a fault left; ``worth``:
    value less all costs; ``ended``: by the number of the ending chosen. ``check_chance`` (C,) and
    ``repair_chance`` (R,) say how likely each check and repair is to be done. ``lost`` (3, H) is
    the part of minutes, cost and parts that goes where the work is given up with an ending.
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
    chances = np.zeros(checks), np.zeros(repairs)
    return RolloutTotals(a, b, c, d, e, f, *chances, np.zeros((3, sets)))


def _sums(places: Ints, weights: Floats, count: int) -> Floats:
    return np.asarray(np.bincount(places, weights=weights, minlength=count), dtype=np.float64)


class WeightedStates(NamedTuple):
    """What is there now and what was there at first, by number of the set of faults; all (N,)."""

    now: Ints
    origin: Ints
    weight: Floats

    def by_origin(self, sets: int) -> Floats:
        """(H,) the weight by what was there at first."""
        return _sums(self.origin, self.weight, sets)

    def times(self, factor: Floats | NDArray[np.bool_]) -> WeightedStates:
        """Weighed by a factor (H,) of what is there now; what has none is left out."""
        weight = self.weight * factor[self.now]
        # so that later steps run over what is still possible
        kept = weight != 0.0
        return WeightedStates(self.now[kept], self.origin[kept], weight[kept])

    def moved(self, matrix: csc_array) -> WeightedStates:
        """After a repair whose transition matrix (H, H) has a column for each set of faults."""
        first, count = matrix.indptr[self.now], np.diff(matrix.indptr)[self.now]
        # every entry of each state's column, one after the other: its place in the column first
        inside = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        place = np.repeat(first, count) + inside
        weight = np.repeat(self.weight, count) * matrix.data[place]
        now = matrix.indices[place].astype(np.int64)
        return WeightedStates(now, np.repeat(self.origin, count), weight)


class Forecast(PolicyRollout):
    """Follows the plan of a lookahead to its ends, and adds up what it takes.

    ``act`` begins with this action instead of the plan's own. ``first`` is the action it begins
    with. ``drawn`` are the machines it is reckoned on, drawn anew where none are given.
    """

    def __init__(
        self,
        look: Lookahead,
        measures: Measures,
        *,
        act: int | None = None,
        drawn: DrawnMachines | None = None,
    ) -> None:
        super().__init__(look)
        self.measures = measures
        self._drawn = drawn
        self._number = look.root.act if act is None else act
        self.first = action_of(look.problem, self._number)
        self._prescribed = act

    @cached_property
    def totals(self) -> RolloutTotals:
        """What the plan takes, followed as it stands: minutes, and money in the unit of value."""
        look = self.look
        self._totals = _nothing_yet(look.problem.prior.size, look.checks, len(look.problem.repairs))
        # minutes, cost and parts on the way to where the plan is followed
        self._spent = np.zeros(3)
        # what is there now is at first what was there, each set by itself
        there = np.flatnonzero(look.root.w > 0.0)
        start = WeightedStates(there, there, look.root.w[there])
        self._follow(look.root, start, look.root.state, self._prescribed, DEEPEST)
        return self._totals

    @property
    def minutes(self) -> float:
        """Expected bench minutes of the work that begins with ``first``."""
        return float(self.simulated.minutes.sum())

    def repairing(self) -> Forecast:
        """The forecast made to repair: where the plan ends at once, a likely repair comes first.

        Likely are repairs that cure at least half as often as the surest.
        """
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        if self._number < checks + repairs or not repairs:
            return self
        w = self.look.root.w
        # set 0 is the empty one: the chance that nothing is wrong after the repair
        sound = np.array([float((self.transition_matrix(r) @ w)[0]) for r in range(repairs)])
        worth = sound * self.look.problem.working - self.k.repair_cost
        likely = np.where(sound >= 0.5 * sound.max(), worth, -np.inf)
        act = checks + int(np.argmax(likely))
        return Forecast(self.look, self.measures, act=act, drawn=self.drawn)

    @cached_property
    def drawn(self) -> DrawnMachines:
        """The machines that the work is reckoned on."""
        if self._drawn is not None:
            return self._drawn
        return DrawnMachines(self.look.problem, self.measures, MACHINES, self.look.work)

    @cached_property
    def simulated(self) -> RolloutTotals:
        """What the work takes that begins with ``first`` and is planned anew after each finding.

        By Monte Carlo, no machine cut short, where the plan itself is followed in few of its
        branches and gives up sooner than one does at the bench. Holds minutes, repair cost, parts,
        sound, missed and lost; the rest stays at 0.
        """
        figures = self.drawn.by_set(self._number)
        minutes, cost, parts, sound, missed, *lost = figures[:, :WORTH].T
        return replace(
            _nothing_yet(len(figures), self.look.checks, len(self.look.problem.repairs)),
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
        checks, repairs = self.look.checks, len(self.look.problem.repairs)
        sets = self.k.pass_chance.size
        act, depth = self.choose(node, _sums(w.now, w.weight, sets), state, act, depth)
        if act < checks:
            self._check(node, w, state, act, depth)
        elif act < checks + repairs:
            self._repair(node, w, state, act - checks, depth)
        else:
            self._end(w, act - checks - repairs)

    def _end(self, w: WeightedStates, ending: int) -> None:
        sets, totals = self.k.pass_chance.size, self._totals
        ended = totals.ended.setdefault(ending, np.zeros(sets))
        ended += w.by_origin(sets)
        totals.lost += self._spent[:, None] * w.by_origin(sets)
        # without an ending the work just stops, and is worth nothing more
        if self.k.ending_value.shape[0]:
            totals.worth += w.times(self.k.ending_value[ending]).by_origin(sets)

    def _check(
        self, node: Node | None, w: WeightedStates, state: State, c: int, depth: int
    ) -> None:
        totals, measures = self._totals, self.measures
        needed, opened = int(self.k.check_panels[c]), state[2] & int(self.k.check_keeps[c])
        opening = opening_total(needed, opened, measures.panel_minutes)
        minutes = measures.check_minutes[c] + opening
        origin = w.by_origin(self.k.pass_chance.size)
        totals.minutes += origin * minutes
        price = self.k.check_cost[c] + opening_total(needed, opened, self.k.panel_cost)
        totals.worth -= origin * price
        totals.check_chance[c] += origin.sum()
        after = state_after_check(self.k, state, c)
        # restored after the branches, each of which spends on from here
        before, self._spent = self._spent, self._spent + np.array([minutes, 0.0, 0.0])
        for o in range(int(self.k.outcomes[c])):
            child = child_node(node, c, o)
            self._follow(child, w.times(self.k.table[c, o]), after, None, depth - 1)
        self._spent = before

    def _repair(
        self, node: Node | None, w: WeightedStates, state: State, r: int, depth: int
    ) -> None:
        totals, measures = self._totals, self.measures
        sets, opened = self.k.pass_chance.size, state[2]
        needed, origin = int(self.k.repair_panels[r]), w.by_origin(sets)
        opening = opening_total(needed, opened, measures.panel_minutes)
        minutes = measures.repair_minutes[r] + opening
        totals.minutes += origin * minutes
        price = self.k.repair_cost[r] + opening_total(needed, opened, self.k.panel_cost)
        totals.repair_cost += origin * price
        totals.repair_chance[r] += origin.sum()
        totals.parts += origin * measures.repair_parts[r]
        after = w.moved(self.transition_matrix(r))
        passed = after.times(self.k.pass_chance)
        # set 0 is the empty one: nothing is wrong any more
        sound = passed.times(np.arange(sets) == 0).by_origin(sets)
        totals.sound += sound
        totals.missed += passed.by_origin(sets) - sound
        totals.worth += passed.times(self.k.pass_value).by_origin(sets) - origin * price
        state = state_after_failure(self.k, state, r)
        failed = after.times(1.0 - self.k.pass_chance)
        spent = np.array([minutes, price, measures.repair_parts[r]])
        before, self._spent = self._spent, self._spent + spent
        child = child_node(node, self.look.checks + r, 0)
        self._follow(child, failed, state, None, depth - 1)
        self._spent = before
