"""Where a job stands once its evidence is replayed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.contradictions import (
    Contradiction,
    contradictions,
    to_repeat,
)
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds
from counterpoise.workshop.jobs.entries import Intake

# From this chance on a feature of the machine counts as known: nobody is asked to look again.
KNOWN = 0.95


@dataclass(frozen=True)
class Situation:
    """Where a job stands. ``minutes`` are bench minutes so far.

    ``belief`` is (K, S): log probabilities by kind of machine (``kinds``) and set of faults.

    ``done``: checks that would teach nothing if done again now; ``tried``: repairs since the
    machine last came back; ``opened``: panels and positions open now; ``opened_by_checks``: those
    that a check was the first to open since it last came back. ``evidence`` is what was found since
    the last repair and ``before`` the (K, S) log belief without it. ``free``: it came back within
    its guarantee.
    """

    model: FamilyModel
    intake: Intake
    age_years: float
    kinds: Kinds
    belief: Floats
    evidence: StandingEvidence
    before: Floats
    done: frozenset[str] = frozenset()
    tried: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()
    opened_by_checks: frozenset[str] = frozenset()
    minutes: float = 0.0
    proof_due: bool = False
    proven: bool = False
    warnings: tuple[str, ...] = ()
    free: bool = False
    # fault keys that were repaired since the machine was last run to prove it
    mended: frozenset[str] = frozenset()

    @cached_property
    def joint(self) -> Floats:
        """(K, S) the belief as probabilities, by kind of machine and set of faults."""
        return np.asarray(np.exp(self.belief))

    @cached_property
    def probabilities(self) -> Floats:
        """(S,) the belief in each set of faults, whatever the kind of machine."""
        return np.asarray(self.joint.sum(axis=0))

    @cached_property
    def key_chances(self) -> Mapping[str, float]:
        """The chance of each fault key, whatever the kind of machine."""
        return self.model.key_chances(self.probabilities)

    @cached_property
    def kind_chances(self) -> Floats:
        """(K,) the belief in each kind of machine, whatever is wrong with it."""
        return np.asarray(self.joint.sum(axis=1))

    @cached_property
    def feature_chances(self) -> Mapping[str, Mapping[str, float]]:
        """By feature, the chance of each of its values that is possible."""
        features = self.family.features
        return {name: self.kinds.chances(name, self.kind_chances) for name in features}

    @cached_property
    def known(self) -> Mapping[str, str]:
        """The features of the machine that are as good as known, by intake or by findings."""
        best = {
            name: max(chances.items(), key=lambda pair: pair[1])
            for name, chances in self.feature_chances.items()
        }
        return {name: value for name, (value, chance) in best.items() if chance >= KNOWN}

    @cached_property
    def contradictions(self) -> tuple[Contradiction, ...]:
        """Findings that hardly go together, the strangest first."""
        return contradictions(self.probabilities, self.evidence)

    @cached_property
    def again(self) -> frozenset[str]:
        """Checks that were done and are worth doing again, since they contradict each other."""
        return to_repeat(self.evidence, self.contradictions)

    def fit(self, needs: Mapping[str, str]) -> float:
        """Chance that what needs these features can be on this machine."""
        return float(self.kinds.fit(needs) @ self.kind_chances)

    @property
    def family(self) -> Family:
        """The family of the machine."""
        return self.model.family
