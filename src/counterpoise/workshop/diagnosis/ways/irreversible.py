"""What cannot be undone waits: nobody ends a machine before a hand was on what condemns it.

Two spoken answers can carry a belief to 97 % and still rest on one mishearing. So a step that
cannot be undone (parting out, scrap, a new machine instead, a dear repair) is advised only after a
check by hand that bears on what speaks for it, as long as such a check costs minutes. Classes
decide, never names: the kind of a check, and the faults with which one who knew of them would do
the same. Where no such check is near, a machine that nobody has touched or seen run at all still
waits: what was said of it alone ends no machine.

Arrays are over H sets of faults; money is minor units.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.catalog.family import CheckEntry
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import entropy_bits, mutual_information_bits
from counterpoise.reasoning.kernels.bounds import opening_cost
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.hazards import BY_HAND
from counterpoise.workshop.jobs.settings import Settings

# After these the machine is gone; one handed back or passed on can still be mended.
ENDINGS = frozenset({"part_out", "scrap", "sell_as_is", "replace"})
# Whoever did one of these has met the machine, not only heard of it.
AT_THE_MACHINE = BY_HAND | {"spin"}
# Share of what condemns a machine, by its chances, that a hand must have been on (from memory).
COVERED = 0.5
# Bits that a check tells of whether the machine is worth more than the ending; below, it is idle.
LEAST_WORTH_BITS = 0.005
# Bits that a check tells of whether a fault is there, were that as likely as not. Below this it
# does not bear on it (from memory: 0.1 is an answer right 7 times in 10, either way).
LEAST_BITS = 0.1
# Faults less likely than this are not what condemns the machine.
LEAST_NAMED = 0.05
# A fault condemns where one who knew what is wrong would do the same so often; or so much more
# often with it than without it (from memory). A repair is meant for the faults it cures so surely.
OFTEN, MORE_OFTEN = 0.5, 0.2
# Minor units; a set of faults worth less than this over the ending is not worth saving.
_LEAST_WORTH = 1.0
_LEAST_MASS = 1e-9


@dataclass(frozen=True)
class Touch:
    """The check to be done first: its id, its minutes with opening, the faults it is on.

    Without faults it is the first that anybody does at the machine itself.
    """

    check: str
    minutes: float
    faults: tuple[str, ...]


@dataclass(frozen=True)
class Bench:
    """What the gate looks at where a job stands.

    ``chances`` are those of each fault key, ``learned`` the ids of the checks since the last repair
    that told something; ``minutes`` gives those of a check with opening, as the machine stands.
    """

    model: FamilyModel
    problem: Problem
    settings: Settings
    chances: Mapping[str, float]
    learned: Collection[str]
    minutes: Callable[[CheckEntry], float]
    hearsay: bool = False
    # the machine must not be run now
    barred: bool = False

    def near(self, names: Iterable[str], most_minutes: float | None = None) -> dict[str, float]:
        """Minutes of those checks that take no more than the few that may be spent first."""
        checks, most = self.model.family.checks, most_minutes or self.settings.touch_minutes
        may = [name for name in sorted(names) if not (self.barred and checks[name].runs)]
        minutes = {name: self.minutes(checks[name]) for name in may}
        return {name: took for name, took in minutes.items() if took <= most}


def at_the_machine(check: CheckEntry) -> bool:
    """Whether one meets the machine with it, and learns more than what kind of machine it is."""
    return check.kind in AT_THE_MACHINE and check.tells is None


def cannot_be_undone(problem: Problem, action: Action, settings: Settings) -> bool:
    """Whether a step is one that cannot be undone, or a repair above the stated price."""
    if action.kind == "ending":
        return action.id in ENDINGS
    if action.kind != "repair":
        return False
    return repair_price(problem, action.id) >= settings.sure_above_minor


def repair_price(problem: Problem, repair: str) -> float:
    """Minor units of a repair with its proof and the panels still shut before it."""
    index = [each.id for each in problem.repairs].index(repair)
    k = problem.arrays()
    return float(k.repair_cost[index] + opening_cost(k, k.repair_panels[index], problem.opened))


def touch_first(bench: Bench, action: Action) -> Touch | None:
    """The check to be done before ``action``; None where nothing is left to be touched.

    None also where a hand was already on most of what condemns the machine, where no check of a few
    minutes bears on it, and where nothing that could be wrong would make another way better.
    """
    checks = bench.model.family.checks
    tells = _Telling.of(bench, _faults_for(bench, action))
    if tells is None:
        return _first_of_all(bench, action)
    known = [name for name in bench.learned if name in checks and tells.bears(name)]
    left = tells.without(known)
    if left.chance < (1.0 - COVERED) * tells.chance or left.chance <= 0.0:
        return None
    near = bench.near(each.id for each in bench.problem.checks if left.bears(each.id))
    if not near:
        return _first_of_all(bench, action)
    # the most told for a minute; of equals the first by name, so that the advice does not flicker
    best = max(near, key=lambda name: left.bits(name) / max(near[name], 1.0))
    return Touch(best, near[best], left.titles(best))


def clearing_check(bench: Bench, keys: frozenset[str]) -> Touch | None:
    """The check by hand that tells most, for its minutes, whether one of these faults is there.

    None where none is left.
    """
    tells = _Telling.of(bench, keys, least=_LEAST_MASS)
    if tells is None:
        return None
    near = bench.near((c.id for c in bench.problem.checks if tells.bears(c.id)), 1e6)
    best = max(near, key=lambda name: tells.bits(name) / max(near[name], 1.0), default="")
    return Touch(best, near[best], tells.titles(best)) if best else None


def _first_of_all(bench: Bench, action: Action) -> Touch | None:
    """The check to begin with at a machine of which one has only heard; None where one has not."""
    problem, checks = bench.problem, bench.model.family.checks
    if not bench.hearsay or action.kind != "ending":
        return None
    index = [each.id for each in problem.endings].index(action.id)
    saved = worth_if_known(problem) > problem.ending_values[index] + _LEAST_WORTH
    # by whether it is worth more than the ending: (2, H)
    sides = np.array([problem.prior * ~saved, problem.prior * saved])
    tables = {each.id: table for each, table in zip(problem.checks, problem.tables, strict=True)}
    bits = {
        name: _told_of_sides(table, sides)
        for name, table in tables.items()
        if at_the_machine(checks[name])
    }
    near = bench.near(name for name, told in bits.items() if told >= LEAST_WORTH_BITS)
    best = max(near, key=lambda name: bits[name] / max(near[name], 1.0), default="")
    return Touch(best, near[best], ()) if best else None


def _told_of_sides(table: Floats, sides: Floats) -> float:
    """Bits that a check tells of which side it is: (O, H) chances, (2, H) weights of the sides."""
    weights = sides.sum(axis=1)
    if weights.min() <= _LEAST_MASS:
        return 0.0
    by_side = (table @ sides.T) / weights
    return mutual_information_bits(by_side, weights / weights.sum())


def _faults_for(bench: Bench, action: Action) -> frozenset[str]:
    """Keys of the faults with which one who knew of them would do ``action``."""
    model, family = bench.model, bench.model.family
    if action.kind == "repair":
        cures = family.repairs[action.id].cures
        return frozenset(
            key
            for fault in family.faults.values()
            for key in fault.keys
            if cures.get(key, cures.get(fault.id, 0.0)) >= OFTEN
        )
    problem = bench.problem
    index = [each.id for each in problem.endings].index(action.id)
    condemned = worth_if_known(problem) <= problem.ending_values[index] + _LEAST_WORTH
    keys: list[str] = []
    for fault in family.faults.values():
        with_it = problem.prior * model.mask(fault.id, problem.hypotheses)
        often, otherwise = _share(with_it, condemned), _share(problem.prior - with_it, condemned)
        # too rare to be planned for: what the catalog says of it
        if often is None:
            speaks = fault.write_off
        else:
            speaks = often >= OFTEN or often - (otherwise or 0.0) >= MORE_OFTEN
        keys += fault.keys if speaks else ()
    return frozenset(keys)


def _share(weight: Floats, chosen: NDArray[np.bool_]) -> float | None:
    """The share of ``weight`` (H,) that is ``chosen``; None where there is hardly any weight."""
    whole = float(weight.sum())
    return float(weight @ chosen) / whole if whole > _LEAST_MASS else None


def worth_if_known(problem: Problem) -> Floats:
    """(H,) minor units that each set of faults is worth to one who knows it."""
    known = np.zeros(problem.prior.size)
    where = (problem.hypotheses.one_less, problem.prior, problem.tried, problem.opened)
    perfect_information_values(problem.arrays(), *where, known)
    return known


@dataclass(frozen=True)
class _Telling:
    """How well checks tell the faults that speak for a step from all that speaks against it.

    ``for_it`` holds the chance of each fault that speaks for it, by the column of its set;
    ``columns`` and ``against`` (F,) are the sets and chances of all other faults, summing to 1.
    """

    bench: Bench
    for_it: Mapping[int, float]
    columns: list[int]
    against: Floats

    @classmethod
    def of(
        cls, bench: Bench, speaks_for: frozenset[str], least: float = LEAST_NAMED
    ) -> _Telling | None:
        hypotheses = bench.model.hypotheses
        alone = {key: hypotheses.index[(i,)] for i, key in enumerate(hypotheses.fault_ids)}
        chances = {key: bench.chances.get(key, 0.0) for key in alone}
        # what is hardly there condemns nothing
        for_it = {
            alone[key]: chance
            for key, chance in chances.items()
            if key in speaks_for and chance >= least
        }
        others = [key for key in alone if key not in speaks_for and chances[key] > 0.0]
        against = np.array([chances[key] for key in others])
        # nothing that could be wrong speaks against it: no check can tell the two apart
        if not for_it or against.sum() <= _LEAST_MASS:
            return None
        return cls(bench, for_it, [alone[key] for key in others], against / against.sum())

    def bits(self, check: str) -> float:
        """What a check tells of the faults that speak for the step, by their chances.

        A check that tells only of other things, shutting them out, does not count: the part itself
        is to be touched.
        """
        table = self.bench.model.tables[check]
        tells = {column: self._apart_from_all(table, column) for column in self.for_it}
        if max(tells.values(), default=0.0) < LEAST_BITS:
            return 0.0
        return sum(self.for_it[column] * bits for column, bits in tells.items()) / self.chance

    @property
    def chance(self) -> float:
        """The chances of the faults that speak for the step, added up."""
        return sum(self.for_it.values())

    def without(self, known: Collection[str]) -> _Telling:
        """The same without the faults that one of these checks tells of."""
        tables = [self.bench.model.tables[name] for name in known]
        left = {
            column: chance
            for column, chance in self.for_it.items()
            if not any(self._apart_from_all(table, column) >= LEAST_BITS for table in tables)
        }
        return replace(self, for_it=left)

    def _apart_from_all(self, table: Floats, column: int) -> float:
        """Bits that tell a fault from a sound machine or from the other faults, the lesser."""
        sound, other = table[:, 0], table[:, self.columns] @ self.against
        return min(_apart(table[:, column], sound), _apart(table[:, column], other))

    def bears(self, check: str) -> bool:
        """Whether it is done by hand, and tells enough of one of the faults."""
        return self.bench.model.family.checks[check].kind in BY_HAND and self.bits(check) > 0.0

    def titles(self, check: str) -> tuple[str, ...]:
        """The faults that speak for the step and that the check tells of, likeliest first."""
        model, table = self.bench.model, self.bench.model.tables[check]
        chances: dict[str, float] = {}
        for column, chance in self.for_it.items():
            if _apart(table[:, column], table[:, 0]) >= LEAST_BITS:
                fault = model.family.faults[model.fault_of[model.hypotheses.sets[column][0]]]
                title = fault.title[:1].lower() + fault.title[1:]
                chances[title] = chances.get(title, 0.0) + chance
        return tuple(sorted(chances, key=lambda title: -chances[title]))


def _apart(left: Floats, right: Floats) -> float:
    """Bits that tell which of two it is, were they as likely: (O,) chances of outcomes by each."""
    return entropy_bits(0.5 * (left + right)) - 0.5 * (entropy_bits(left) + entropy_bits(right))
