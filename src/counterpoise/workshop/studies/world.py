"""The world of a study: a catalog that machines are drawn from and behave by, laid out once.

Money is minor units, ages are years.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.evidence.complaint import after_complaints
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model, joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.rows import Rows, all_rows
from counterpoise.workshop.diagnosis.offered import with_room
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.jobs.settings import Settings

MOST_BELIEFS = 512  # kept at a time


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
    _unchecked: dict[float, Arrays] = field(default_factory=dict, repr=False, compare=False)
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

    def answering(self, believed: Problem, age_years: float) -> Problem:
        """What checks and repairs of a plan really do here, check by check as in ``believed``.

        A plan leaves out the checks that tell least by its own catalog; this one might keep others.
        """
        whole = self._all_checks(age_years)
        place = {check.id: i for i, check in enumerate(whole.checks)}
        asked = [place[check.id] for check in believed.checks]
        return replace(
            whole,
            checks=tuple(whole.checks[i] for i in asked),
            tables=tuple(whole.tables[i] for i in asked),
        )

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

    def unchecked(self, age_years: float) -> Arrays:
        """The same without checks, as arrays: who knows what is wrong needs none."""
        # packing arrays is what takes time, and a study asks for the same five ages
        if age_years not in self._unchecked:
            without_checks = replace(self.costed(age_years), checks=(), tables=())
            self._unchecked[age_years] = without_checks.arrays()
        return self._unchecked[age_years]

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
