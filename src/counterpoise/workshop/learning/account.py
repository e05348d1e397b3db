"""A closed job looked back on: what was wrong when it came in, given all that came after.

The bench believes what is wrong *now*; a machine that was mended has nothing. Here the evidence is
followed backwards: findings, repairs, proofs and comebacks say how well each set of faults at the
intake explains what was put down since, and the closing says what was seen. Arrays are over K kinds
of machine and S sets of faults.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.belief import Transition, mean_after, repaired
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.complaint import log_likelihood_of_complaints
from counterpoise.workshop.diagnosis.evidence.set_reader import reads_spins
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN, Kinds, kinds_of
from counterpoise.workshop.diagnosis.replay import COMEBACK_FALSE_ALARM, outcome_weights
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    Closed,
    Finding,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.machine_features import contradicted
from counterpoise.workshop.jobs.settings import Settings

# What a word at the closing is worth, as the chance of it where it is wrong (from memory). "Likely"
# says little: whoever said it had the same evidence.
SAW_WRONGLY, LIKELY_WRONGLY, RULED_OUT_WRONGLY = 0.02, 0.35, 0.05


@dataclass(frozen=True)
class Cure:
    """A repair that was proved: of each fault key, the chances that it was there, and was cured."""

    repair: str
    there: Mapping[str, float]
    cured: Mapping[str, float]


@dataclass(frozen=True)
class Account:
    """A job looked back on.

    ``prior`` (S,) before the complaint, by the family's figures; ``heard`` (S,) the chance of the
    complaint, ``later`` (S,) of all that was put down after it, the closing's ``label`` (S,) apart:
    each relative to the others of its own. ``readings`` are those before the first repair, by check
    (each (O,)), where the machine has what is looked at; ``cures`` the repairs that were proved.
    ``spins`` are the recordings before the first repair as (check, words (O,)); where there are
    any, ``beside`` (S,) is the chance of all that was put down and seen but them.
    """

    prior: Floats
    heard: Floats
    later: Floats
    label: Floats
    readings: Mapping[str, tuple[Floats, ...]]
    cures: tuple[Cure, ...]
    spins: tuple[tuple[str, Floats], ...] = ()
    beside: Floats | None = None

    def belief(self, *, labelled: bool = True) -> Floats:
        """(S,) what was wrong when it came in; ``labelled``: the closing counts too."""
        joint = self.prior * self.heard * self.later * (self.label if labelled else 1.0)
        return np.asarray(joint / joint.sum())


@dataclass(frozen=True)
class _Repair:
    name: str
    moves: Transition
    fits: Floats


# a repair, or what was learned of the machine as it stood then, (S,) or (K, S)
_Step = _Repair | Floats


def account_of(family: Family, settings: Settings, job: Job) -> Account:
    """Look back on a job by the figures of ``family``; an open one has no label."""
    model = family_model(family)
    intake = job.intake
    age = settings.unknown_age_years if intake.age_years is None else intake.age_years
    kinds = kinds_of(family, intake.features, contradicted(family, job))
    heard = np.exp(log_likelihood_of_complaints(model, intake))
    first, steps = _steps(model, kinds, job, heard)
    # by kind of machine first: a finding may say more of the kind than of the fault
    prior = np.exp(joint_prior(model, age, kinds))
    label = label_of(model, job.closed) if job.closed else np.ones(len(model.sound))
    after = _backwards(prior.shape, steps)
    account = _of_account(model, kinds, heard)
    spins, beside = _spins(family, job), None
    # only where there is a recording: it is all looked back on once more
    if spins:
        _, without = _steps(model, kinds, job, heard, recorded=False)
        beside = _later(prior, _backwards(prior.shape, without)[0], account)
        # whoever called a cause likely had heard what the recording says
        beside *= label_of(model, replace(job.closed, likely=())) if job.closed else 1.0
    return Account(
        prior=prior.sum(axis=0),
        heard=account / account.max(),
        later=_later(prior, after[0], account),
        label=label,
        readings=first.readings,
        cures=_cures(model, prior * label, steps, after),
        spins=spins,
        beside=beside,
    )


def _spins(family: Family, job: Job) -> tuple[tuple[str, Floats], ...]:
    """(check, words (O,)) of the recordings before the first repair, as they were read."""
    spins = []
    for entry in job.standing:
        body = entry.body
        if isinstance(body, RepairDone | Proof):
            break
        if isinstance(body, Finding) and body.recording and reads_spins(family, body.check):
            words = outcome_weights(family.checks[body.check], body)
            # a hand that tapped one answer says nothing of the reader
            if words is not None and np.count_nonzero(words) > 1:
                spins.append((body.check, words))
    return tuple(spins)


def label_of(model: FamilyModel, closed: Closed) -> Floats:
    """(S,) how well each set of faults fits what the closing says it really was."""
    likelihood = np.ones(len(model.sound))
    for key in closed.faults:
        likelihood *= np.where(_has(model, key), 1.0, SAW_WRONGLY)
    for key in closed.likely:
        likelihood *= np.where(_has(model, key), 1.0, LIKELY_WRONGLY)
    for key in closed.ruled_out:
        likelihood *= np.where(_has(model, key), RULED_OUT_WRONGLY, 1.0)
    return likelihood


def _has(model: FamilyModel, key: str) -> Floats:
    """(S,) whether a fault, or one grade of it, is in each set; nowhere if it is unknown by now."""
    if key in model.family.faults:
        return np.asarray(model.mask(key))
    if key in model.hypotheses.fault_ids:
        return np.asarray(model.hypotheses.present[:, model.hypotheses.fault_ids.index(key)])
    # a job outlives its catalog: what is no longer in it tells sets apart no more
    return np.ones(len(model.sound), dtype=np.bool_)


def _later(prior: Floats, after: Floats, account: Floats) -> Floats:
    """(S,) chance of all that came after the complaint, from (K, S) of all that was put down."""
    by_set = prior.sum(axis=0)
    whole = (prior * after).sum(axis=0) / np.where(by_set > 0, by_set, 1.0)
    # the complaint is in the first findings too, which hang together with it
    return np.asarray(whole / np.where(account > 0, account, 1.0))


def _of_account(model: FamilyModel, kinds: Kinds, heard: Floats) -> Floats:
    """(S,) chance of the complaint alone, misled or not."""
    log = StandingEvidence(model, kinds, heard).log_likelihood()
    return np.asarray(np.exp(log if log.ndim == 1 else log[0]))


def _steps(
    model: FamilyModel, kinds: Kinds, job: Job, heard: Floats, *, recorded: bool = True
) -> tuple[StandingEvidence, list[_Step]]:
    """The findings before the first repair, and all that was learned or done, in order.

    Not ``recorded``: as if no finding had been a recording.
    """
    standing = {entry.number for entry in job.standing}
    evidence, first = StandingEvidence(model, kinds, heard), None
    steps: list[_Step] = []
    for entry in job.entries:
        body = entry.body
        back = isinstance(body, Retraction) and body.comeback
        if entry.number not in standing and not back:
            continue
        if isinstance(body, Finding):
            if body.recording and not recorded:
                continue
            evidence = _with(model, evidence, body)
            continue
        known = isinstance(body, RepairDone) and body.repair in model.family.repairs
        if not (back or known or isinstance(body, Proof)):
            continue
        first = evidence if first is None else first
        steps.append(_likelihood(evidence))
        # what was found speaks of the machine as it was before
        evidence = StandingEvidence(model, kinds)
        if isinstance(body, RepairDone):
            fits = kinds.fit(model.family.repairs[body.repair].needs).astype(np.float64)
            steps.append(_Repair(body.repair, model.transitions[body.repair], fits))
        elif isinstance(body, Proof):
            recorded = bool(body.recording)
            steps.append(model.proof.likelihood(model.sound, passed=body.passed, recorded=recorded))
        else:
            steps.append(np.where(model.sound, COMEBACK_FALSE_ALARM, 1.0))
    steps.append(_likelihood(evidence))
    return evidence if first is None else first, steps


def _with(model: FamilyModel, evidence: StandingEvidence, body: Finding) -> StandingEvidence:
    entry = model.family.checks.get(body.check)
    if entry is None:
        return evidence
    weights = outcome_weights(entry, body)
    if weights is not None:
        return evidence.with_reading(body.check, weights)
    # not reached, not told: nothing was learned, and that is no pass
    if body.outcome in {COULD_NOT_TELL, CANNOT_REACH}:
        return evidence
    return evidence.with_kind_told(body.check, body.outcome)


def _likelihood(evidence: StandingEvidence) -> Floats:
    log = evidence.log_likelihood()
    top = log.max()
    # nothing explains it all: it is left out, as the bench would leave the later finding out
    return np.exp(log - top) if np.isfinite(top) else np.ones_like(log)


def _backwards(shape: tuple[int, ...], steps: list[_Step]) -> list[Floats]:
    """(K, S) how well each set explains what came from each step on; the last is all ones."""
    after = [np.ones(shape)]
    for step in reversed(steps):
        later = after[-1]
        if isinstance(step, _Repair):
            rows = [
                mean_after(row, step.moves) * (1.0 - MISTAKEN) if fit else row * MISTAKEN
                for row, fit in zip(later, step.fits, strict=True)
            ]
            before = np.array(rows)
        else:
            before = later * step
        # relative weights: scaled, so that long jobs do not run out of digits
        after.append(before / before.max() if before.max() > 0 else np.ones(shape))
    return after[::-1]


def _cures(
    model: FamilyModel, start: Floats, steps: list[_Step], after: list[Floats]
) -> tuple[Cure, ...]:
    """Each repair with a proof behind it: what it met, and what of that was gone afterwards."""
    cures, belief = [], start
    # what says nothing of the machine's state is the same for all sets
    telling = [i for i, step in enumerate(steps) if not isinstance(step, _Repair) and np.ptp(step)]
    for place, step in enumerate(steps):
        if not isinstance(step, _Repair):
            belief = belief * step
            belief = belief / belief.sum() if belief.sum() > 0 else start
            continue
        # a repair that nothing was learned after says nothing of itself
        if any(i > place for i in telling):
            cures.append(_cure(model, step, belief, after[place], after[place + 1]))
        rows = [
            repaired(row, step.moves) if fit else row
            for row, fit in zip(belief, step.fits, strict=True)
        ]
        belief = np.array(rows)
    return tuple(cures)


def _cure(model: FamilyModel, step: _Repair, belief: Floats, before: Floats, later: Floats) -> Cure:
    """What a repair met and cured, by fault key, given all that came before and after it."""
    present, moves = model.hypotheses.present, step.moves
    fitting = np.flatnonzero(step.fits)
    smoothed = (belief[fitting] * before[fitting]).sum(axis=0)
    total = (belief * before).sum()
    moved = (belief[fitting][:, moves.source] * later[fitting][:, moves.target]).sum(axis=0)
    # ``before`` was scaled: the same factor puts moves beside what they came from
    stay = (belief[fitting] * later[fitting]).sum(axis=0)
    left = np.bincount(moves.source, moves.chance, len(stay))
    whole = np.bincount(moves.source, moved * moves.chance, len(stay)) + stay * (1.0 - left)
    scale = smoothed.sum() / whole.sum() if whole.sum() > 0 else 0.0
    there, cured = {}, {}
    for key in model.family.repairs[step.name].cures:
        column = model.hypotheses.fault_ids.index(key)
        had = present[:, column]
        gone = had[moves.source] & ~had[moves.target]
        there[key] = float(smoothed[had].sum() / total) if total > 0 else 0.0
        mended = scale * (moved * moves.chance)[gone].sum() / total if total > 0 else 0.0
        cured[key] = min(float(mended), there[key])
    return Cure(step.name, there, cured)
