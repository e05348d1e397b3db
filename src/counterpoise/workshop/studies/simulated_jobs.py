"""Virtual jobs: machines drawn from a catalog and worked on by a policy, what happens drawn too.

Money is minor units, times are person-minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.ways.irreversible import ENDINGS
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.policies import Policy
from counterpoise.workshop.studies.world import SimulatedMachine, World

# Ages in years of machines taken in, and their shares (invented, for comparison of policies only).
AGES = (1.0, 4.0, 7.0, 10.0, 13.0)
AGE_SHARES = (0.1, 0.2, 0.3, 0.25, 0.15)
# A policy that neither ends nor repairs for so long is stopped: it would go on for ever.
MOST_STEPS = 60
# Minor units; a machine worth no more than this over its ending was hardly worth saving (from
# memory: a quarter of an hour at the bench).
LEAST_REGRET = 1000.0


@dataclass(frozen=True)
class JobResult:
    """How a virtual job went: net in minor units, bench minutes, probability that it came back.

    ``ended_wrongly``: probability that it was ended for good although worth saving; ``regret``:
    what that cost on average, in minor units, against one who knew what was wrong by then.
    """

    net: float
    minutes: float
    comeback: float
    ended_wrongly: float = 0.0
    regret: float = 0.0


def draw_machine(world: World, rng: np.random.Generator) -> SimulatedMachine:
    """A machine brought in with at least one complaint, its age in years."""
    age = float(rng.choice(AGES, p=AGE_SHARES))
    # of any kind: a study is about the family as a whole
    rows = world.rows(age)
    prior = rows.prior
    names = list(world.model.complaints)
    # a machine that nobody complains of stays at home: draw again
    while True:
        truth = int(rng.choice(prior.size, p=prior / prior.sum()))
        account = world.model.account
        # an owner whose account misleads tells of some other machine
        misled = account is not None and rng.random() < account.misled
        shown = int(rng.choice(prior.size, p=prior / prior.sum())) if misled else truth
        faults = int(rows.base[shown])
        heard = tuple(name for name in names if rng.random() < world.model.complaints[name][faults])
        if heard:
            return SimulatedMachine(truth, age, heard)


def problem_at_intake(model: FamilyModel, settings: Settings, machine: SimulatedMachine) -> Problem:
    """The problem of a machine just taken in, its (H,) prior by ``model``."""
    return World(model, settings).taken_in(machine)


def value_if_known(world: World, machine: SimulatedMachine) -> float:
    """What the job is worth to one who knows what is wrong, in minor units: above any policy."""
    # who knows the fault repairs or ends at once: no check could tell anything
    arrays = world.unchecked(machine.age_years)
    known = np.zeros(arrays.pass_chance.size)
    # all belief on the truth: what remains to be found out is nothing
    known[machine.truth] = 1.0
    return float(hindsight(arrays, known, 0, 0, np.zeros(known.size)))


class SimulatedJob:
    """One virtual job being worked on. The world answers; the belief is the planner's own.

    Whether a proof misses a fault that is left is not drawn but counted by its chance: the job goes
    on as if the fault was noticed, weighing so much less. The means are the same, and vary less.
    The world keeps to the planner's model of a proof: a sound machine always passes.
    """

    def __init__(
        self,
        world: World,
        believed: Problem,
        real: Problem,
        machine: SimulatedMachine,
        rng: np.random.Generator,
    ) -> None:
        self._world, self._real, self._truth, self._rng = world, real, machine.truth, rng
        # begins the history, so that machines that came in alike share remembered decisions
        self._intake_words = f"{machine.age_years:g} years, {' '.join(machine.complaints)}"
        self.problem = believed
        self.net = self.minutes = self.comeback = 0.0
        self.ended_wrongly = self.regret = 0.0
        self._age_years = machine.age_years
        # the share of such jobs that is still being worked on
        self._weight = 1.0

    def play(self, policy: Policy) -> JobResult:
        """Work until an ending or a passed proof; the history begins with the intake."""
        history: tuple[str, ...] = (self._intake_words,)
        # what the policy knows is the problem and the history, never the truth
        for _ in range(MOST_STEPS):
            action = policy(self.problem, history)
            outcome = self._do(action)
            if outcome is None:
                break
            history = (*history, f"{action.id}={outcome}")
        return JobResult(self.net, self.minutes, self.comeback, self.ended_wrongly, self.regret)

    def _do(self, action: Action) -> str | None:
        """Do an action; its outcome, or None where the job is over."""
        if action.kind == "check":
            return self._check(action.id)
        if action.kind == "repair":
            return self._repair(action.id)
        index = next(i for i, ending in enumerate(self.problem.endings) if ending.id == action.id)
        # the ending brings what it does for what is really wrong
        brings = float(self._real.ending_values[index, self._truth])
        self.net += self._weight * brings
        if action.id in ENDINGS:
            self._regret(brings)
        return None

    def _regret(self, brings: float) -> None:
        """Count what an ending that cannot be undone threw away: ``brings`` is what it brought."""
        # what was tried and opened by then is sunk; what is left to do is done by one who knows
        lost = self._worth_saved() - brings
        if lost > LEAST_REGRET:
            self.ended_wrongly += self._weight
            self.regret += self._weight * lost

    def _worth_saved(self) -> float:
        arrays = self._world.unchecked(self._age_years)
        known = np.zeros(arrays.pass_chance.size)
        known[self._truth] = 1.0
        tried, opened = self.problem.tried, self.problem.opened
        return float(hindsight(arrays, known, tried, opened, np.zeros(known.size)))

    def _spend(self, money: float, minutes: float) -> None:
        self.net -= self._weight * money
        self.minutes += self._weight * minutes

    def _open(self, access: str | None) -> None:
        needed = panels_needed(self._real.access, access)
        # what is open is paid for
        missing = needed & ~self.problem.opened
        for i, panel in enumerate(self._real.access):
            if missing >> i & 1:
                entry = self._world.model.family.access[panel.id]
                minutes = (entry.open_min + entry.close_min) * entry.people
                self._spend(panel.open + panel.close, minutes)
        self.problem = replace(self.problem, opened=self.problem.opened | needed)

    def _check(self, name: str) -> str:
        index = next(i for i, check in enumerate(self.problem.checks) if check.id == name)
        entry, check = self._world.model.family.checks[name], self._real.checks[index]
        if check.shuts:
            self.problem = replace(self.problem, opened=0)
        self._open(check.access)
        self._spend(check.cost, entry.minutes * entry.people)
        # drawn by the world's table, believed by the planner's
        chances = self._real.tables[index][:, self._truth]
        outcome = int(self._rng.choice(chances.size, p=chances / chances.sum()))
        belief = self.problem.prior * self.problem.tables[index][outcome]
        self.problem = replace(
            self.problem, prior=belief / belief.sum(), done=self.problem.done | 1 << index
        )
        return check.outcomes[outcome]

    def _repair(self, name: str) -> str | None:
        """Mend and prove; None where the machine is sound, else the proof fails by its chance."""
        index = next(i for i, repair in enumerate(self.problem.repairs) if repair.id == name)
        family, repair = self._world.model.family, self._real.repairs[index]
        entry, retest = family.repairs[name], self._real.retest
        self._open(repair.access)
        self._spend(repair.cost + retest.cost, entry.minutes * entry.people + family.proof_minutes)
        # paid for whether or not it cured anything
        self._truth = self._mended(index)
        if self._truth == 0:
            self.net += self._weight * self._real.working
            return None
        # the share of jobs in which the spin missed the fault ends here, the rest goes on
        missed = self._weight * retest.misses
        self.net += missed * (self._real.working - retest.comeback)
        self.comeback += missed
        self._weight -= missed
        belief = repaired(self.problem.prior, self.problem.transitions[index])
        # set 0 is the sound machine, which the planner takes to pass always
        sound = np.arange(belief.size) == 0
        belief *= 1.0 - np.where(sound, 1.0, self.problem.retest.misses)
        self.problem = replace(
            self.problem,
            prior=belief / belief.sum(),
            tried=self.problem.tried | 1 << index,
            opened=0 if retest.shuts else self.problem.opened,
        )
        return "failed"

    def _mended(self, index: int) -> int:
        """Index of the set of faults that a repair leaves, drawn; as it was where it cures none."""
        transition = self._real.transitions[index]
        here = transition.source == self._truth
        targets, chances = transition.target[here], transition.chance[here]
        # one draw a repair, so that all policies meet the same luck in the same order
        throw = self._rng.random()
        for target, edge in zip(targets.tolist(), np.cumsum(chances).tolist(), strict=True):
            if throw < edge:
                return int(target)
        return self._truth
