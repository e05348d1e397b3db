"""Which check puts a hand on the faults that matter: what each tells of them, and its minutes.

Arrays are over F faults, each alone; chances are 0..1.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import CheckEntry
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import entropy_bits
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.hazards import BY_HAND
from counterpoise.workshop.jobs.settings import Settings

# Whoever did one of these has met the machine, not only heard of it.
AT_THE_MACHINE = BY_HAND | {"spin"}
# Bits that a check tells of whether a fault is there, were that as likely as not. Below this it
# does not bear on it (from memory: 0.1 is an answer right 7 times in 10, either way).
LEAST_BITS = 0.1
# Faults less likely than this are not what condemns the machine.
LEAST_NAMED = 0.05
LEAST_MASS = 1e-9


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

    def most_telling(self, bits: Mapping[str, float], most_minutes: float) -> Touch | None:
        """The check that tells most for its minutes, of those that may be done in so many.

        ``bits`` by the check's id. Of equals the first by name, so that the advice does not
        flicker.
        """
        checks = self.model.family.checks
        may = [name for name in sorted(bits) if not (self.barred and checks[name].runs)]
        minutes = {name: self.minutes(checks[name]) for name in may}
        near = [name for name, took in minutes.items() if took <= most_minutes]
        best = max(near, key=lambda name: bits[name] / max(minutes[name], 1.0), default="")
        return Touch(best, minutes[best], ()) if best else None


def at_the_machine(check: CheckEntry) -> bool:
    """Whether one meets the machine with it, and learns more than what kind of machine it is."""
    return check.kind in AT_THE_MACHINE and check.tells is None


@dataclass(frozen=True)
class Telling:
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
    ) -> Telling | None:
        """Of the faults by these keys that are likely at least ``least``; None without any.

        None also where nothing that could be wrong speaks against them.
        """
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
        if not for_it or against.sum() <= LEAST_MASS:
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

    def without(self, known: Collection[str]) -> Telling:
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
