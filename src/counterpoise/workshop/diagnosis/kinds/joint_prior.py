"""The belief in kinds of machine and sets of faults before the complaint, kept for the next page.

Arrays are over K kinds, S sets of faults of the family.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from counterpoise.reasoning.belief import to_log
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.prior import prior_odds, prior_of_kinds

_PRIORS_KEPT = 16  # by family, age and what is known of a machine; 1.3 MB each at most


def joint_prior(model: FamilyModel, age_years: float, kinds: Kinds) -> Floats:
    """(K, S) log belief before the complaint, by kind of machine and set of faults.

    The catalog's shares hold among machines that come in, so each kind is as likely as its share,
    however often machines of it fail.
    """
    by_kind = _prior_by_kind(AgedKinds(model, age_years, kinds))
    return np.asarray(by_kind + to_log(kinds.share)[:, None])


class AgedKinds:
    """A model, an age and kinds as a cache key: by the kinds' features, whatever their shares."""

    def __init__(self, model: FamilyModel, age_years: float, kinds: Kinds) -> None:
        self.model, self.age_years, self.kinds = model, age_years, kinds
        self._key = id(model), age_years, kinds.key

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, AgedKinds) and other._key == self._key


@lru_cache(maxsize=_PRIORS_KEPT)
def _prior_by_kind(key: AgedKinds) -> Floats:
    """(K, S) log belief in the sets of faults of each kind: a job's pages ask for it each time."""
    model = key.model
    return prior_of_kinds(
        prior_odds(model.family, model.hypotheses, key.age_years, key.kinds, model.odds_scale),
        model.hypotheses,
        model.company,
    )


def prior_belief(model: FamilyModel, age_years: float, features: Mapping[str, str]) -> Floats:
    """(S,) log belief before the complaint, over all kinds of machines with these features."""
    joint = joint_prior(model, age_years, kinds_of(model.family, features))
    return joint[0] if len(joint) == 1 else to_log(np.exp(joint).sum(axis=0))
