"""What a complaint and a finding say, each by itself. Arrays: S sets of faults, O outcomes."""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from counterpoise.catalog.family import CheckEntry
from counterpoise.reasoning.belief import normalised, to_log
from counterpoise.reasoning.evidence import misled_together
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    NOT_THERE,
    Finding,
    Intake,
)

# Weight of a complaint not made: owners name what troubles them most, not all they notice
# (from memory).
UNMENTIONED_WEIGHT = 0.5
# A reading without any error would make one outcome certain; below this an error counts as none.
_LEAST_READING_SD = 1e-9


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


def outcome_weights(entry: CheckEntry, finding: Finding) -> Floats | None:
    """(O,) how well each outcome fits what was found; None where nothing was learned of faults.

    A number near an edge speaks partly for both sides: each outcome weighs the chance that the true
    value lies in its range, with a normal error.
    """
    if finding.outcome in {COULD_NOT_TELL, CANNOT_REACH, NOT_THERE}:
        return None
    # what the machine is, not what is wrong with it
    if entry.tells:
        return None
    # a recording of a spin speaks for several outcomes at once
    if finding.weights:
        return np.asarray(finding.weights, dtype=np.float64)
    if finding.reading is not None and entry.reading is not None:
        sd = max(finding.reading_sd or entry.reading.sd, _LEAST_READING_SD)
        edges = np.array([-np.inf, *entry.reading.edges, np.inf])
        weights = np.diff(norm.cdf(edges, loc=finding.reading, scale=sd))
        # outcomes stand mildest first; where a low number is bad, the ranges run the other way
        return np.asarray(weights[::-1] if entry.reading.falling else weights)
    return np.array([float(outcome == finding.outcome) for outcome in entry.outcomes])
