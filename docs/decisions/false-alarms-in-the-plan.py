"""What a plan loses that takes a sound machine to pass every proof spin.

Run: python docs/decisions/false-alarms-in-the-plan.py [jobs] [family].
"""

import sys
from dataclasses import replace

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.policies import STUDY_MAX_SETS
from counterpoise.workshop.studies.simulated_jobs import SimulatedJob, World, draw_machine

EFFORT = Effort(growths=4)
AGAIN = Action("repair", "prove again")
MEMORY: dict[tuple[str, ...], Action] = {}


def looked(problem):
    """The look-ahead of the study's own policy."""
    look = Lookahead(problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)[0], prune_unlikely=True)
    return look.plan(EFFORT)


def ours(problem, history, label):
    """The study's policy; the same history of the same belief is decided once."""
    failed = any(line.endswith("=failed") for line in history)
    key = (label if failed else "", *history)
    if key not in MEMORY:
        MEMORY[key] = looked(problem).first
    return MEMORY[key]


class AlarmedJob(SimulatedJob):
    """A job whose proofs raise false alarms, counted by their chance as misses are."""

    alarms, proving_again, alarmed, repeated = 0.0, False, 0.0, 0.0
    at_first_alarm = None

    def lost_by_alarms(self):
        """What a pass would have earned at the first alarm, less what was earned from it on."""
        if self.at_first_alarm is None:
            return 0.0
        weight, net = self.at_first_alarm
        return weight * self._real.working - (self.net - net)

    def _do(self, action):
        return self._prove("again") if action == AGAIN else super()._do(action)

    def _repair(self, name):
        index = next(i for i, repair in enumerate(self.problem.repairs) if repair.id == name)
        family, repair = self._world.model.family, self._real.repairs[index]
        entry = family.repairs[name]
        self._open(repair.access)
        self._spend(repair.cost, entry.minutes * entry.people)
        self._truth = self._mended(index)
        belief = repaired(self.problem.prior, self.problem.transitions[index])
        tried = self.problem.tried | 1 << index
        self.problem = replace(self.problem, prior=belief, tried=tried)
        return self._prove("failed")

    def _prove(self, word):
        retest = self._real.retest
        self._spend(retest.cost, self._world.model.family.proof_minutes)
        passing = 1.0 - self.alarms if self._truth == 0 else retest.misses
        passed = self._weight * passing
        back = self._truth != 0
        self.net += passed * (self._real.working - back * retest.comeback)
        self.comeback += passed * back
        self._weight -= passed
        if self._weight <= 1e-12:
            return None
        if self._truth == 0:
            self.alarmed += self._weight
            self.at_first_alarm = self.at_first_alarm or (self._weight, self.net)
        sound = np.arange(self.problem.prior.size) == 0
        belief = self.problem.prior * np.where(sound, self.alarms, 1.0 - retest.misses)
        self.problem = replace(self.problem, prior=belief / belief.sum(), opened=0)
        return word


def deciding(job, label):
    """Ours; after a failed proof also the bare proof where that promises more."""

    def policy(problem, history):
        if job.proving_again and history[-1].endswith("=failed") and problem.prior[0] > 0.0:
            retest, sound = problem.retest, problem.prior[0]
            passing = np.full(problem.prior.size, retest.misses)
            passing[0] = 1.0 - job.alarms
            left = problem.prior * (1.0 - passing)
            after = replace(problem, prior=left / left.sum())
            worth = sound * passing[0] * problem.working - retest.cost
            worth += (1.0 - sound) * retest.misses * (problem.working - retest.comeback)
            worth += left.sum() * looked(after).lower
            if worth > looked(problem).lower:
                job.repeated += job._weight
                return AGAIN
        return ours(problem, history, label)

    return policy


def first_steps(problem, alarms):
    """First steps now, and where a false alarm ends the job: the most that it can cost."""
    now = looked(problem)
    lost = alarms * max(0.0, problem.working - float(problem.ending_values[:, 0].max()))
    cheaper = replace(problem.retest, comeback=problem.retest.comeback - lost)
    then = looked(replace(problem, working=problem.working - lost, retest=cheaper))
    other = {bounds.action: bounds.lower for bounds in then.action_bounds}
    # what keeping to today's first step would cost, were alarms planned for
    return now.first, then.first, then.lower - other.get(now.first, then.lower)


def main() -> None:
    """Print the figures of the decision."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    family = sys.argv[2] if len(sys.argv) > 2 else "front_loader"
    world = World.of(load_family(family), Settings(people=2))
    alarms = world.model.proof.false_alarms
    net, rows, alarmed, repeated, directly = {}, [], 0.0, 0.0, []
    for number in range(jobs):
        machine = draw_machine(world, np.random.default_rng([3, 0, number]))
        problem = world.taken_in(machine)
        rows.append(first_steps(problem, alarms))
        for label, chance, again in (
            ("none", 0.0, False),
            ("alarms", alarms, False),
            ("proving again", alarms, True),
        ):
            rng = np.random.default_rng([3, 2, number])
            job = AlarmedJob(world, problem, problem, machine, rng)
            job.alarms, job.proving_again = chance, again
            net.setdefault(label, []).append(job.play(deciding(job, label)).net)
            alarmed += job.alarmed if label == "alarms" else 0.0
            repeated += job.repeated
            if label == "alarms":
                directly.append(job.lost_by_alarms())
    print(f"{family}, {jobs} jobs, false alarms {100 * alarms:.1f} %")
    base = np.array(net["none"])
    print(f"net without alarms {base.mean():.0f} +- {base.std() / jobs**0.5:.0f}")
    for label in ("alarms", "proving again"):
        lost = base - np.array(net[label])
        error = lost.std() / jobs**0.5
        print(f"lost with {label}: {lost.mean():.1f} +- {error:.1f}, at most {lost.max():.0f}")
    direct = np.array(directly)
    print(f"of it by the alarms themselves {direct.mean():.1f} +- {direct.std() / jobs**0.5:.1f}")
    print(f"false alarms a job {alarmed / jobs:.4f}, proofs repeated a job {repeated / jobs:.4f}")
    changed = [row for row in rows if row[0] != row[1]]
    print(f"first steps that change: {len(changed)}, worth {[round(row[2]) for row in changed]}")


if __name__ == "__main__":
    main()
