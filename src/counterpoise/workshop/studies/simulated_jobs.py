"""Virtual jobs: machines drawn from a catalog, worked on by a policy, with what really happens drawn as well."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.family_model import Base, base_of, prior_belief
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import Situation, complained
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.policies import Policy

AGES = (1.0, 4.0, 7.0, 10.0, 13.0)
AGE_SHARES = (
    0.1,
    0.2,
    0.3,
    0.25,
    0.15,
)  # of machines taken in (invented, for comparison of policies only)
MOST_STEPS = 60
MOST_BELIEFS = 512  # kept at a time


@dataclass(frozen=True)
class World:
    """A catalog that machines are drawn from and behave by; it need not be the one that is believed.

    What is the same for many machines is laid out once: a study takes in thousands of the same age and complaints.
    """

    base: Base
    settings: Settings
    _costed: dict[float, Problem] = field(default_factory=dict, repr=False, compare=False)
    _unchecked: dict[float, Arrays] = field(default_factory=dict, repr=False, compare=False)
    _beliefs: dict[tuple[float, tuple[str, ...]], Floats] = field(
        default_factory=dict, repr=False, compare=False
    )

    @classmethod
    def of(cls, family: Family, settings: Settings) -> World:
        """The world in which the catalog is right."""
        return cls(base_of(family), settings)

    def costed(self, age_years: float) -> Problem:
        """What there is to do with a machine of this age and what that costs; its prior is that of no complaint."""
        if age_years not in self._costed:
            intake = _intake(self.base, age_years, ())
            belief = prior_belief(self.base, age_years, {})
            nothing: frozenset[str] = frozenset()
            situation = Situation(
                self.base, intake, age_years, belief, nothing, nothing, nothing, 0.0
            )
            self._costed[age_years] = build_problem(situation, self.settings)
        return self._costed[age_years]

    def unchecked(self, age_years: float) -> Arrays:
        """The same without checks, as one needs none who knows what is wrong."""
        if age_years not in self._unchecked:
            self._unchecked[age_years] = replace(
                self.costed(age_years), checks=(), tables=()
            ).arrays()
        return self._unchecked[age_years]

    def taken_in(self, machine: Machine) -> Problem:
        """The problem as one sees it when the machine has been taken in as the workshop's own."""
        key = (machine.age_years, machine.complaints)
        if key not in self._beliefs:
            if len(self._beliefs) >= MOST_BELIEFS:
                self._beliefs.clear()
            prior = prior_belief(self.base, machine.age_years, {})
            self._beliefs[key] = np.exp(complained(self.base, _intake(self.base, *key), prior))
        return replace(self.costed(machine.age_years), prior=self._beliefs[key])


def _intake(base: Base, age_years: float, complaints: tuple[str, ...]) -> Intake:
    return Intake(base.family.id, "workshop", "virtual", complaints, age_years)


@dataclass(frozen=True)
class Machine:
    """A machine as it is (a row of the hypotheses) and as it comes in."""

    truth: int
    age_years: float
    complaints: tuple[str, ...]


@dataclass(frozen=True)
class Played:
    """How a virtual job went: net value in minor units, bench minutes, and the chance that the machine came back."""

    net: float
    minutes: float
    comeback: float


def draw_machine(world: World, rng: np.random.Generator) -> Machine:
    """A machine brought in with at least one complaint."""
    age = float(rng.choice(AGES, p=AGE_SHARES))
    prior = np.exp(prior_belief(world.base, age, {}))
    names = list(world.base.complaints)
    while True:
        truth = int(rng.choice(prior.size, p=prior / prior.sum()))
        heard = tuple(name for name in names if rng.random() < world.base.complaints[name][truth])
        if heard:
            return Machine(truth, age, heard)


def start(base: Base, settings: Settings, machine: Machine) -> Problem:
    """The problem of one machine taken in as the workshop's own, as one sees it who believes ``base``."""
    return World(base, settings).taken_in(machine)


def perfect(world: World, machine: Machine) -> float:
    """What the job is worth to one who knows what is wrong: an upper bound on any policy."""
    arrays = world.unchecked(machine.age_years)
    row = np.zeros(arrays.pass_chance.size)
    row[machine.truth] = 1.0
    return float(hindsight(arrays, row, 0, 0, np.zeros(row.size)))


class Bench:
    """One virtual job being worked on. The world answers; the belief is the planner's own.

    Whether a proof misses a fault that is left is not drawn but counted by its chance: the job goes on as if the fault
    was seen, weighing so much less. The means are the same, and vary less.
    """

    def __init__(
        self,
        world: World,
        believed: Problem,
        real: Problem,
        machine: Machine,
        rng: np.random.Generator,
    ) -> None:
        self._world, self._real, self._truth, self._rng = world, real, machine.truth, rng
        self._begin = f"{machine.age_years:g} years, {' '.join(machine.complaints)}"
        self.problem = believed
        self.net = self.minutes = self.comeback = 0.0
        self._weight = 1.0

    def play(self, policy: Policy) -> Played:
        """Work until an ending or a passed proof; the history told to the policy begins with how the machine came."""
        history: tuple[str, ...] = (self._begin,)
        for _ in range(MOST_STEPS):
            action = policy(self.problem, history)
            outcome = self._do(action)
            if outcome is None:
                break
            history = (*history, f"{action.id}={outcome}")
        return Played(self.net, self.minutes, self.comeback)

    def _do(self, action: Action) -> str | None:
        if action.kind == "check":
            return self._check(action.id)
        if action.kind == "repair":
            return self._repair(action.id)
        number = next(i for i, e in enumerate(self.problem.endings) if e.id == action.id)
        self.net += self._weight * float(self._real.ending_values[number, self._truth])
        return None

    def _spend(self, money: float, minutes: float) -> None:
        self.net -= self._weight * money
        self.minutes += self._weight * minutes

    def _open(self, access: str | None) -> None:
        needed = panels_needed(self._real.access, access)
        missing = needed & ~self.problem.opened
        for i, panel in enumerate(self._real.access):
            if missing >> i & 1:
                entry = self._world.base.family.access[panel.id]
                self._spend(
                    panel.open + panel.close, (entry.open_min + entry.close_min) * entry.people
                )
        self.problem = replace(self.problem, opened=self.problem.opened | needed)

    def _check(self, name: str) -> str:
        number = next(i for i, c in enumerate(self.problem.checks) if c.id == name)
        entry, check = self._world.base.family.checks[name], self._real.checks[number]
        self._open(check.access)
        self._spend(check.cost, entry.minutes * entry.people)
        chances = self._real.tables[number][:, self._truth]
        outcome = int(self._rng.choice(chances.size, p=chances / chances.sum()))
        belief = self.problem.prior * self.problem.tables[number][outcome]
        self.problem = replace(
            self.problem, prior=belief / belief.sum(), done=self.problem.done | 1 << number
        )
        return check.outcomes[outcome]

    def _repair(self, name: str) -> str | None:
        number = next(i for i, r in enumerate(self.problem.repairs) if r.id == name)
        family, repair = self._world.base.family, self._real.repairs[number]
        entry = family.repairs[name]
        self._open(repair.access)
        self._spend(
            repair.cost + self._real.retest.cost,
            entry.minutes * entry.people + family.proof_minutes,
        )
        self._truth = self._mended(number)
        if self._truth == 0:
            self.net += self._weight * self._real.working
            return None
        missed = self._weight * self._real.retest.misses
        self.net += missed * (self._real.working - self._real.retest.comeback)
        self.comeback += missed
        self._weight -= missed
        belief = repaired(self.problem.prior, self.problem.transitions[number])
        belief *= 1.0 - np.where(np.arange(belief.size) == 0, 1.0, self.problem.retest.misses)
        self.problem = replace(
            self.problem, prior=belief / belief.sum(), tried=self.problem.tried | 1 << number
        )
        return "failed"

    def _mended(self, number: int) -> int:
        moves = self._real.transitions[number]
        here = moves.source == self._truth
        targets, chances = moves.target[here], moves.chance[here]
        throw = self._rng.random()
        for target, edge in zip(targets.tolist(), np.cumsum(chances).tolist(), strict=True):
            if throw < edge:
                return int(target)
        return self._truth
