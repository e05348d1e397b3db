"""What the complaints of an owner say, by themselves. Arrays are over S sets of faults."""

from __future__ import annotations

import numpy as np

from counterpoise.reasoning.belief import normalised, to_log
from counterpoise.reasoning.evidence import misled_together
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.jobs.entries import (
    Intake,
)

# Weight of a complaint not made: owners name what troubles them most, not all they notice
# (from memory).
UNMENTIONED_WEIGHT = 0.5


def log_likelihood_of_complaints(model: FamilyModel, intake: Intake) -> Floats:
    """(S,) log likelihood of the complaints made; what a complaining owner leaves out speaks too.

    Zero everywhere, which says nothing, where the owner complains of nothing.
    """
    total = np.zeros(len(model.hypotheses.sets))
    # Who calls a noise a squeal has spoken of the noise, and is silent on scrape and rattle without
    # meaning that there is none.
    catalog = model.family.complaints
    kin = {catalog[name].kin for name in intake.complaints if name in catalog} - {""}
    # An owner who complains of nothing (a machine bought for resale) says nothing by silence.
    if not intake.complaints:
        return total
    for complaint, chance in model.complaints.items():
        if complaint in intake.complaints:
            # to_log, not log: a complaint that a set of faults cannot cause rules it out
            total += to_log(chance)
        elif catalog[complaint].kin not in kin:
            total += UNMENTIONED_WEIGHT * to_log(1.0 - chance)
    return total


def after_complaints(model: FamilyModel, intake: Intake, belief: Floats) -> Floats:
    """Log belief (S,) or (K, S) after the complaints, ``belief`` before."""
    heard = np.exp(log_likelihood_of_complaints(model, intake))
    account = model.account
    likelihood = misled_together(heard, account.misled if account else 0.0, model.background)
    return normalised(belief + to_log(likelihood), what="the complaint")
