"""Virtual jobs: a machine worked on by a way of working, what happens drawn, as a job of the store.

Each finding and repair becomes an entry of a job, so a way of working believes what the bench page
would believe. Money is minor units, times are person-minutes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import Family, RepairEntry
from counterpoise.reasoning.actions import Action
from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.ways.at_stake import LEAST_LOST, lost_by
from counterpoise.workshop.diagnosis.ways.irreversible import ENDINGS
from counterpoise.workshop.jobs.entries import Body, Entry, Finding, Job, Proof, RepairDone
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.answers import Answers
from counterpoise.workshop.studies.bench_world import BenchMachine, BenchWorld
from counterpoise.workshop.studies.stand import Policy, Stand

# A policy that neither ends nor repairs for so long is stopped: it would go on for ever.
MOST_STEPS = 60
# No day of its own: nothing in a virtual job may hang on the calendar.
_LONG_AGO = "2000-01-01T00:00:00Z"
# Purposes of the streams of luck beside those of the answers.
_OF_REPAIRS, _OF_REPEATS = 2, 3


@dataclass(frozen=True)
class JobResult:
    """How a virtual job went: net in minor units, bench minutes, probability that it came back.

    ``ended_wrongly``: probability that it was ended for good although worth saving; ``regret``:
    what that cost on average, in minor units, against one who knew what was wrong by then.
    ``expected_regret`` is the same as the bench's belief had it at the ending: it varies less.
    """

    net: float
    minutes: float
    comeback: float
    ended_wrongly: float = 0.0
    regret: float = 0.0
    expected_regret: float = 0.0


def value_if_known(world: BenchWorld, machine: BenchMachine) -> float:
    """What the job is worth to one who knows what is wrong, in minor units: above any policy."""
    # who knows the fault repairs or ends at once: no check could tell anything
    return world.worth(machine, machine.faults, frozenset(), frozenset())


class SimulatedJob:
    """One virtual job being worked on. The world answers; the belief is the planner's own.

    Whether a proof misses a fault that is left is not drawn but counted by its chance: the job goes
    on as if the fault was noticed, weighing so much less. The means are the same, and vary less.
    The world keeps to the planner's model of a proof: a sound machine always passes.

    ``believed`` is the catalog that the ways of working go by. ``seed`` sets the luck: the same for
    every way of working, check by check. ``repeat_share``: the chance that a check, but for a
    question, is done a second time of one's own accord.
    """

    def __init__(
        self,
        world: BenchWorld,
        believed: Family,
        machine: BenchMachine,
        seed: Sequence[int],
        repeat_share: float = 0.0,
    ) -> None:
        self._world, self._believed, self._machine = world, believed, machine
        self._seed, self._repeat_share = tuple(seed), repeat_share
        self._faults, self._real = machine.faults, world.real(machine)
        self._put_down = dict(machine.put_down)
        # what was put down since the intake
        self._bodies: tuple[Body, ...] = ()
        # begins the history, so that machines that came in alike share remembered decisions
        self.history: tuple[str, ...] = (_intake_words(machine),)
        self._repairs_done = 0
        self._answers = self._answering({})
        account = world.model.account
        if account is not None:
            self._answers.led_astray[account.id] = world.faults(machine.account)
        self._tried: frozenset[str] = frozenset()
        self._opened: frozenset[str] = frozenset()
        self.net = self.minutes = self.comeback = 0.0
        self.ended_wrongly = self.regret = self.expected_regret = 0.0
        # the share of such jobs that is still being worked on
        self._weight = 1.0

    def play(self, policy: Policy) -> JobResult:
        """Work until an ending or a passed proof; the history begins with the intake."""
        # what the policy knows is the job as it was put down, never the truth
        for _ in range(MOST_STEPS):
            action = policy(self.stand(), self.history)
            if not self._do(action):
                break
        return JobResult(
            self.net,
            self.minutes,
            self.comeback,
            self.ended_wrongly,
            self.regret,
            self.expected_regret,
        )

    def stand(self) -> Stand:
        """Where the job stands, by what was put down."""
        intake = replace(self._machine.intake(self._believed), features=dict(self._put_down))
        entries = [
            Entry(i, _LONG_AGO, "", body) for i, body in enumerate((intake, *self._bodies), 1)
        ]
        return Stand(JobCase(Job(1, tuple(entries)), self._believed, self._world.settings))

    def _do(self, action: Action) -> bool:
        """Do an action; whether the job goes on."""
        if action.kind == "check":
            self._check(action.id)
            return True
        if action.kind == "repair":
            return self._repair(action.id)
        index = next(i for i, ending in enumerate(self._real.endings) if ending.id == action.id)
        # the ending brings what it does for what is really wrong
        brings = float(self._real.ending_values[index, self._faults])
        self.net += self._weight * brings
        self.history = (*self.history, action.id)
        if action.id in ENDINGS:
            self._regret(brings)
            self.expected_regret += self._weight * self._regret_by_belief(action.id)
        return False

    def _regret(self, brings: float) -> None:
        """Count what an ending that cannot be undone threw away: ``brings`` is what it brought."""
        # what was tried and opened by then is sunk; what is left to do is done by one who knows
        saved = self._world.worth(self._machine, self._faults, self._tried, self._opened)
        lost = saved - brings
        if lost > LEAST_LOST:
            self.ended_wrongly += self._weight
            self.regret += self._weight * lost

    def _regret_by_belief(self, ending: str) -> float:
        """What an ending throws away on average, by what the bench believes, in minor units."""
        problem = self.stand().problem
        return float(problem.prior @ lost_by(problem, ending))

    def _put(self, body: Body, words: str) -> None:
        self._bodies, self.history = (*self._bodies, body), (*self.history, words)

    def _spend(self, money: float, minutes: float) -> None:
        self.net -= self._weight * money
        self.minutes += self._weight * minutes

    def _open(self, access: str | None) -> None:
        way = frozenset(panels_for(self._world.family, access))
        # what is open is paid for
        for panel in self._real.access:
            if panel.id in way - self._opened:
                entry = self._world.family.access[panel.id]
                minutes = (entry.open_min + entry.close_min) * entry.people
                self._spend(panel.open + panel.close, minutes)
        self._opened |= way

    def _check(self, name: str) -> None:
        entry = self._world.family.checks[name]
        rng = self._luck(_OF_REPEATS, list(self._world.family.checks).index(name))
        # who asks twice hears the same, and who knows what a machine is does not look again
        unasked = entry.kind != "ask" and not entry.tells and rng.random() < self._repeat_share
        first_time = not any(isinstance(b, Finding) and b.check == name for b in self._bodies)
        for _ in range(2 if unasked and first_time else 1):
            if entry.kind == "spin":
                self._opened = frozenset()
            self._open(entry.access)
            minutes = entry.minutes * entry.people
            self._spend(minutes * self._world.settings.bench_rate_minor / 60.0, minutes)
            outcome = self._answers.next(name)
            self._put(Finding(name, outcome), f"{name}={outcome}")

    def _repair(self, name: str) -> bool:
        """Mend and prove; whether the job goes on: the machine is not sound."""
        family, retest = self._world.family, self._real.retest
        entry = family.repairs[name]
        self._open(entry.access)
        minutes = entry.minutes * entry.people
        features = self._world.features(self._machine)
        if any(features[key] != value for key, value in entry.needs.items()):
            self._cannot_be_done(entry, minutes)
            return True
        repair = next(each for each in self._real.repairs if each.id == name)
        self._spend(repair.cost + retest.cost, minutes + family.proof_minutes)
        # paid for whether or not it cured anything
        self._faults = self._mended(name)
        if self._faults == 0:
            self.net += self._weight * self._real.working
            self.history = (*self.history, f"{name}=passed")
            return False
        # the share of jobs in which the spin missed the fault ends here, the rest goes on
        missed = self._weight * retest.misses
        self.net += missed * (self._real.working - retest.comeback)
        self.comeback += missed
        self._weight -= missed
        self._tried, self._repairs_done = self._tried | {name}, self._repairs_done + 1
        self._opened = frozenset() if retest.shuts else self._opened
        self._put(RepairDone(name), f"{name}=failed")
        self._bodies = (*self._bodies, Proof(passed=False))
        # what misled anybody before speaks of the machine as it was
        self._answers = self._answering({})
        return True

    def _cannot_be_done(self, entry: RepairEntry, minutes: float) -> None:
        """A repair of another kind of machine: the time is lost, and the kind is known now."""
        # parts go back on the shelf; nothing was mended, so nothing is proved
        self._spend(minutes * self._world.settings.bench_rate_minor / 60.0, minutes)
        features = self._world.features(self._machine)
        self._put_down |= {name: features[name] for name in entry.needs}
        self.history = (*self.history, f"{entry.id}=not this kind")

    def _mended(self, name: str) -> int:
        """The set of faults that a repair leaves, drawn; as it was where it cures none."""
        index = next(i for i, each in enumerate(self._real.repairs) if each.id == name)
        transition = self._real.transitions[index]
        here = transition.source == self._faults
        targets, chances = transition.target[here], transition.chance[here]
        # by the repair, so that all ways of working meet the same luck
        throw = self._luck(_OF_REPAIRS, list(self._world.family.repairs).index(name)).random()
        for target, edge in zip(targets.tolist(), np.cumsum(chances).tolist(), strict=True):
            if throw < edge:
                return int(target)
        return self._faults

    def _answering(self, led_astray: dict[str, tuple[str, ...]]) -> Answers:
        world = self._world
        return Answers(
            world.family,
            world.features(self._machine),
            world.faults(self._faults),
            self._luck,
            lambda rng: world.faults(world.draw_background(rng)),
            led_astray,
        )

    @property
    def _luck(self) -> Callable[[int, int], np.random.Generator]:
        # by purpose, number and the repairs before: what was done in between changes no luck
        before = (*self._seed, self._repairs_done)
        return lambda purpose, number: np.random.default_rng([*before, purpose, number])


def _intake_words(machine: BenchMachine) -> str:
    features = [f"{name} {value}" for name, value in sorted(machine.put_down.items())]
    return f"{machine.age_years:g} years, {' '.join(machine.complaints)}; {', '.join(features)}"


__all__ = ["JobResult", "Settings", "SimulatedJob", "value_if_known"]
