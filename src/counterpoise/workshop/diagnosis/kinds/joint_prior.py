"""The belief in kinds of machine and sets of faults before the complaint, kept for the next page.

Arrays are over K kinds, S sets of faults of the family.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from counterpoise.reasoning.belief import to_log
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.prior import prior_odds, prior_of_kinds

_PRIORS_KEPT = 16  # by age and what is known of a machine; 1.3 MB each at most


def joint_prior(model: FamilyModel, age_years: float, kinds: Kinds) -> Floats:
    """(K, S) log belief before the complaint, by kind of machine and set of faults.

    The catalog's shares hold among machines that come in, so each kind is as likely as its share,
    however often machines of it fail.
    """
    # the shares of the kinds hang on what is doubted of the machine, the rest does not
    by_kind = model.remembered.of(
        "prior", (age_years, kinds.key), lambda: _by_kind(model, age_years, kinds), _PRIORS_KEPT
    )
    return np.asarray(by_kind + to_log(kinds.share)[:, None])


def _by_kind(model: FamilyModel, age_years: float, kinds: Kinds) -> Floats:
    """(K, S) log belief in the sets of faults of each kind."""
    odds = prior_odds(model.family, model.hypotheses, age_years, kinds, model.odds_scale)
    return prior_of_kinds(odds, model.hypotheses, model.company)


def prior_belief(model: FamilyModel, age_years: float, features: Mapping[str, str]) -> Floats:
    """(S,) log belief before the complaint, over all kinds of machines with these features."""
    joint = joint_prior(model, age_years, kinds_of(model.family, features))
    return joint[0] if len(joint) == 1 else to_log(np.exp(joint).sum(axis=0))
