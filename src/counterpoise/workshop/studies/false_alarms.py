"""How often findings are said to go badly together though nothing was read wrong.

Machines are drawn from the catalog with all that may lead findings astray: an owner whose account
is of no use, a look at something that misleads, a slip. Checks are drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.reasoning.belief import normalised
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.complaint import log_likelihood_of_complaints
from counterpoise.workshop.diagnosis.evidence.contradictions import contradictions
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.jobs.entries import Intake

AGE_YEARS = 7.0
# checks a job, from and to
FEWEST, MOST = 3, 8


@dataclass(frozen=True)
class Alarms:
    """Jobs that were warned, by whether a finding was read wrong in them."""

    sound: int = 0
    sound_warned: int = 0
    misread: int = 0
    misread_warned: int = 0

    @property
    def rate(self) -> float:
        """Share of the jobs in which nothing was read wrong that were warned."""
        return self.sound_warned / max(self.sound, 1)


def false_alarms(family: Family, jobs: int, seed: int) -> Alarms:
    """Draw ``jobs`` jobs on one kind of machine of a family, and count the warnings."""
    rng = np.random.default_rng(seed)
    model = family_model(family)
    # the commonest kind: what is not known of a machine is no matter of slips
    usual = {name: max(f.share, key=lambda v: f.share[v]) for name, f in family.features.items()}
    kinds = kinds_of(family, usual)
    prior = joint_prior(model, AGE_YEARS, kinds)
    checks = [c for c in family.checks.values() if not c.tells and kinds.fit(c.needs).all()]
    counts = {False: [0, 0], True: [0, 0]}
    for _ in range(jobs):
        evidence, misread = _job(model, kinds, np.exp(prior[0]), checks, rng)
        belief = np.exp(normalised(prior + evidence.log_likelihood())).sum(axis=0)
        counts[misread][0] += 1
        counts[misread][1] += bool(contradictions(belief, evidence))
    return Alarms(*counts[False], *counts[True])


def _job(
    model: FamilyModel,
    kinds: Kinds,
    prior: Floats,
    checks: list[CheckEntry],
    rng: np.random.Generator,
) -> tuple[StandingEvidence, bool]:
    """What was found in one drawn job, and whether any of it was read wrong."""
    machine, heard = _brought_in(model, prior, rng)
    intake = Intake(model.family.id, "customer", "virtual", tuple(heard))
    evidence = StandingEvidence(model, kinds, np.exp(log_likelihood_of_complaints(model, intake)))
    misread = False
    for number in rng.choice(len(checks), int(rng.integers(FEWEST, MOST + 1)), replace=False):
        entry, outcomes = checks[number], len(checks[number].outcomes)
        thing = model.thing_of(entry.id)
        table, slips = (
            model.trusted[entry.id][:, machine[thing.id if thing else ""]],
            model.slips[entry.id],
        )
        # without its slip, which is drawn by itself to know of it
        shown = np.maximum((table - slips) / (1.0 - slips.sum()), 0.0)
        outcome = int(rng.choice(outcomes, p=shown / shown.sum()))
        if rng.random() < slips.sum():
            read = int(rng.choice(outcomes, p=slips / slips.sum()))
            misread |= read != outcome
            outcome = read
        evidence = evidence.with_reading(entry.id, np.eye(outcomes)[outcome])
    return evidence, misread


def _brought_in(
    model: FamilyModel, prior: Floats, rng: np.random.Generator
) -> tuple[dict[str, int], list[str]]:
    """The set of faults that findings of each thing come from ("" for all others), complaints."""
    account = model.account
    while True:
        own = int(rng.choice(prior.size, p=prior / prior.sum()))
        machine = {"": own}
        for thing in model.family.same_thing.values():
            astray = rng.random() < thing.misled
            machine[thing.id] = int(rng.choice(prior.size, p=model.background)) if astray else own
        told_of = machine[account.id if account else ""]
        heard = [name for name, p in model.complaints.items() if rng.random() < p[told_of]]
        # a machine that nobody complains of stays at home
        if heard:
            return machine, heard
