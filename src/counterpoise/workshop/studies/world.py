"""Machines of no known kind, drawn from a catalog with what they complain of; laid out once.

How they are worked on, with findings that mislead, is :mod:`.bench_world`'s.

Money is minor units, ages are years.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.evidence.complaint import after_complaints
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.rows import Rows, all_rows
from counterpoise.workshop.diagnosis.offered import with_room
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.jobs.settings import Settings

MOST_BELIEFS = 512  # kept at a time
# Ages in years of machines taken in, and their shares (invented, for comparison of policies only).
AGES = (1.0, 4.0, 7.0, 10.0, 13.0)
AGE_SHARES = (0.1, 0.2, 0.3, 0.25, 0.15)


@dataclass(frozen=True)
class SimulatedMachine:
    """A machine as it is (``truth``: index of its kind and faults), and as it comes in."""

    truth: int
    age_years: float
    complaints: tuple[str, ...]


@dataclass(frozen=True)
class World:
    """A catalog that machines are drawn from and behave by; it need not be the one believed.

    What is the same for many machines is laid out once: a study takes in thousands of the same age
    and complaints.
    """

    model: FamilyModel
    settings: Settings
    _whole: dict[float, Problem] = field(default_factory=dict, repr=False, compare=False)
    _costed: dict[float, Problem] = field(default_factory=dict, repr=False, compare=False)
    _rows: dict[float, Rows] = field(default_factory=dict, repr=False, compare=False)
    _beliefs: dict[tuple[float, tuple[str, ...]], Floats] = field(
        default_factory=dict, repr=False, compare=False
    )

    @classmethod
    def of(cls, family: Family, settings: Settings) -> World:
        """The world in which the catalog is right."""
        return cls(family_model(family), settings)

    def costed(self, age_years: float) -> Problem:
        """What there is to do with a machine of this age and what that costs, in minor units.

        Its prior is that of no complaint.
        """
        if age_years not in self._costed:
            self._costed[age_years] = with_room(self._all_checks(age_years))
        return self._costed[age_years]

    def _all_checks(self, age_years: float) -> Problem:
        # belief apart, a problem is the same for all machines of an age
        if age_years not in self._whole:
            belief = joint_prior(self.model, age_years, self.kinds)
            intake = _intake(self.model, age_years, ())
            nothing = StandingEvidence(self.model, self.kinds)
            situation = Situation(
                self.model, intake, age_years, self.kinds, belief, nothing, before=belief
            )
            self._whole[age_years] = build_problem(
                situation, self.settings, rows=self.rows(age_years), limited=False
            )
        return self._whole[age_years]

    @property
    def kinds(self) -> Kinds:
        """All kinds of machines: of a machine in a study nothing is known beforehand."""
        return kinds_of(self.model.family, {})

    def rows(self, age_years: float) -> Rows:
        """The kinds and sets of faults of machines of this age, before any complaint."""
        if age_years not in self._rows:
            prior = joint_prior(self.model, age_years, self.kinds)
            self._rows[age_years] = all_rows(self.model, self.kinds, np.exp(prior))
        return self._rows[age_years]

    def taken_in(self, machine: SimulatedMachine) -> Problem:
        """The problem of a machine just taken in as the workshop's own; its prior is (H,)."""
        key = (machine.age_years, machine.complaints)
        if key not in self._beliefs:
            # a study meets more ages and complaints than memory should hold; few come often
            if len(self._beliefs) >= MOST_BELIEFS:
                self._beliefs.clear()
            prior = joint_prior(self.model, machine.age_years, self.kinds)
            heard = after_complaints(self.model, _intake(self.model, *key), prior)
            self._beliefs[key] = self.rows(machine.age_years).mass(np.exp(heard))
        return replace(self.costed(machine.age_years), prior=self._beliefs[key])


def _intake(model: FamilyModel, age_years: float, complaints: tuple[str, ...]) -> Intake:
    return Intake(model.family.id, "workshop", "virtual", complaints, age_years)


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
