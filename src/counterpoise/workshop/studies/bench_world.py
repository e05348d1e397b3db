"""The machines of a study as they come to the bench: of any kind, with an owner's account.

What is not known of a machine is drawn by the catalog's shares; who puts a feature down may err.
Money is minor units, ages are years. Arrays are over K kinds and S sets of faults.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.evidence.complaint import UNMENTIONED_WEIGHT
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import WRONG_AT_INTAKE, Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.world import AGE_SHARES, AGES


@dataclass(frozen=True)
class BenchMachine:
    """A machine as it is, and as it comes in; its age in years.

    ``kind`` and ``faults`` number its kind and set of faults; ``account`` is the set of faults that
    its owner tells of, another one where the account misleads. ``put_down`` are the features that
    the intake has, right or wrong.
    """

    kind: int
    faults: int
    age_years: float
    complaints: tuple[str, ...]
    account: int
    put_down: Mapping[str, str]

    @property
    def misled(self) -> bool:
        """Whether the owner's account is that of some other machine."""
        return self.account != self.faults

    def intake(self, family: Family) -> Intake:
        """What is put down when it comes in as the workshop's own."""
        return Intake(
            family.id,
            "workshop",
            "virtual",
            self.complaints,
            self.age_years,
            features=dict(self.put_down),
        )


@dataclass(frozen=True)
class BenchWorld:
    """A catalog that machines are drawn from and behave by; it need not be the one believed."""

    model: FamilyModel
    settings: Settings
    _priors: dict[float, Floats] = field(default_factory=dict, repr=False, compare=False)
    _real: dict[tuple[float, int], Problem] = field(default_factory=dict, repr=False, compare=False)
    _packed: dict[tuple[float, int], Arrays] = field(
        default_factory=dict, repr=False, compare=False
    )

    @classmethod
    def of(cls, family: Family, settings: Settings) -> BenchWorld:
        """The world in which this catalog is right."""
        return cls(family_model(family), settings)

    @property
    def family(self) -> Family:
        """The catalog that is right here."""
        return self.model.family

    @cached_property
    def kinds(self) -> Kinds:
        """Every kind of machine, by the catalog's shares."""
        return kinds_of(self.family, {})

    def features(self, machine: BenchMachine) -> Mapping[str, str]:
        """The features that a machine really has."""
        return self.kinds.machines[machine.kind]

    def faults(self, number: int) -> tuple[str, ...]:
        """The fault keys of a set of faults."""
        sets = self.model.hypotheses
        return tuple(sets.fault_ids[each] for each in sets.sets[number])

    def draw(self, rng: np.random.Generator, known_share: float = 1.0) -> BenchMachine:
        """A machine brought in with at least one complaint.

        ``known_share``: the chance of each of its features to be put down at intake.
        """
        age = float(rng.choice(AGES, p=AGE_SHARES))
        # the sums of the chances, so that a draw is a search and no pass over all sets
        sums = self._prior_sums(age)
        count = len(self.model.hypotheses.sets)
        # a machine that nobody complains of stays at home: draw again
        while True:
            place = int(np.searchsorted(sums, rng.random() * sums[-1], side="right"))
            kind, faults = divmod(place, count)
            account, heard = self.account_of(faults, rng)
            if heard:
                put_down = self._put_down(kind, known_share, rng)
                return BenchMachine(kind, faults, age, heard, account, put_down)

    def account_of(self, faults: int, rng: np.random.Generator) -> tuple[int, tuple[str, ...]]:
        """The set of faults that the owner of a machine tells of, and the complaints made.

        Owners name some of what they notice, as the belief takes their silence; of one kin one.
        """
        misled = self.model.account.misled if self.model.account else 0.0
        account = self.draw_background(rng) if rng.random() < misled else faults
        present = self.faults(account)
        # each fault there, and the complaint's own leak, may bring it about
        heard = []
        for name, complaint in self.family.complaints.items():
            causes = [complaint.leak, *(self._complained[key].get(name, 0.0) for key in present)]
            noticed = any(rng.random() < chance for chance in causes)
            if noticed and rng.random() < UNMENTIONED_WEIGHT:
                heard.append(name)
        kin = [self.family.complaints[name].kin for name in heard]
        # who calls a noise a squeal does not call it a rattle too
        of_kin = {each: [n for n, k in zip(heard, kin, strict=True) if k == each] for each in kin}
        said = {each: names[int(rng.integers(len(names)))] for each, names in of_kin.items()}
        named = (n for n, k in zip(heard, kin, strict=True) if not k or said[k] == n)
        return account, tuple(named)

    @cached_property
    def _complained(self) -> Mapping[str, Mapping[str, float]]:
        """By fault key, the chance of each complaint."""
        faults = self.family.faults.values()
        return {key: fault.complaints.get(key, {}) for fault in faults for key in fault.keys}

    def draw_background(self, rng: np.random.Generator) -> int:
        """The set of faults of some machine of the family, of which nothing is known."""
        sums = self._background_sums
        return int(np.searchsorted(sums, rng.random() * sums[-1], side="right"))

    @cached_property
    def _background_sums(self) -> Floats:
        return np.cumsum(self.model.background)

    def _prior_sums(self, age_years: float) -> Floats:
        if age_years not in self._priors:
            prior = np.exp(joint_prior(self.model, age_years, self.kinds))
            self._priors[age_years] = np.cumsum(prior.ravel())
        return self._priors[age_years]

    def _put_down(
        self, kind: int, known_share: float, rng: np.random.Generator
    ) -> Mapping[str, str]:
        """The features that somebody puts down, each with its chance of being wrong."""
        machine, said = self.kinds.machines[kind], {}
        for name, feature in self.family.features.items():
            # nobody is asked for what such a machine cannot differ in
            asked = all(machine[other] == value for other, value in feature.needs.items())
            if not asked or rng.random() >= known_share:
                continue
            said[name] = machine[name]
            if rng.random() < WRONG_AT_INTAKE:
                others = [value for value in feature.share if value != machine[name]]
                said[name] = others[int(rng.integers(len(others)))]
        return said

    def real(self, machine: BenchMachine) -> Problem:
        """What can be done to a machine and what that costs and brings, by its set of faults.

        Of its own kind, and without checks: what those show is drawn, and no table says it.
        """
        key = (machine.age_years, machine.kind)
        if key not in self._real:
            self._real[key] = self._problem(*key)
        return self._real[key]

    def _problem(self, age_years: float, kind: int) -> Problem:
        kinds = kinds_of(self.family, self.kinds.machines[kind])
        belief = joint_prior(self.model, age_years, kinds)
        situation = Situation(
            self.model,
            Intake(self.family.id, "workshop", "virtual", (), age_years),
            age_years,
            kinds,
            belief,
            StandingEvidence(self.model, kinds),
            before=belief,
            # a check that was done is not offered, and needs no table
            done=frozenset(self.family.checks),
        )
        rows = all_rows(self.model, kinds, np.exp(belief))
        return build_problem(situation, self.settings, rows=rows)

    def worth(
        self, machine: BenchMachine, faults: int, tried: frozenset[str], opened: frozenset[str]
    ) -> float:
        """What a machine with these faults is worth to one who knows them, in minor units, exactly.

        ``tried``: repairs that did not mend it; ``opened``: panels that stand open.
        """
        key, problem = (machine.age_years, machine.kind), self.real(machine)
        # packing arrays is what takes time
        if key not in self._packed:
            self._packed[key] = problem.arrays()
        known = np.zeros(problem.prior.size)
        known[faults] = 1.0
        done = sum(1 << i for i, each in enumerate(problem.repairs) if each.id in tried)
        open_ = sum(1 << i for i, each in enumerate(problem.access) if each.id in opened)
        # not the bound of hindsight: what nobody could earn, nobody can regret
        worth, parts = np.zeros(known.size), problem.hypotheses.one_less
        return float(
            perfect_information_values(self._packed[key], parts, known, done, open_, worth)
        )
