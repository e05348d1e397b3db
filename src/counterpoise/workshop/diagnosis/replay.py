"""A job's evidence replayed in order: the belief now, what stands open, what was done, how long."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.stats import norm

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.reasoning.belief import normalised, repaired, to_log
from counterpoise.reasoning.hazards import mends
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.bench_time import BenchTime
from counterpoise.workshop.diagnosis.evidence.complaint import log_likelihood_of_complaints
from counterpoise.workshop.diagnosis.evidence.set_reader import as_set
from counterpoise.workshop.diagnosis.evidence.situation import KNOWN, Situation
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence, weighed
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN, Kinds, kinds_of
from counterpoise.workshop.jobs.comeback import guaranteed
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    NOT_THERE,
    Finding,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.machine_features import contradicted
from counterpoise.workshop.jobs.settings import Settings

__all__ = ["KNOWN", "Situation", "replay"]

# A sound machine is brought back a tenth as often as one with a fault left (from memory).
COMEBACK_FALSE_ALARM = 0.1
# A reading without any error would make one outcome certain; below this an error counts as none.
_LEAST_READING_SD = 1e-9


@dataclass
class _State:
    """What changes from entry to entry.

    ``belief`` (K, S) is that before the findings since the last repair, which ``evidence`` holds.
    """

    model: FamilyModel
    kinds: Kinds
    # (K, S) log probabilities
    belief: Floats
    # Weighed only when the belief is asked for: what findings say hangs on those beside them.
    evidence: StandingEvidence
    time: BenchTime
    done: set[str] = field(default_factory=set)
    tried: set[str] = field(default_factory=set)
    # checks of what the machine is: no repair changes that
    kind_checks: set[str] = field(default_factory=set)
    # what was repaired and waits for its proof: a run may show whether it held
    mended: set[str] = field(default_factory=set)
    proof_due: bool = False
    proven: bool = False
    warnings: list[str] = field(default_factory=list)


def replay(family: Family, settings: Settings, job: Job) -> Situation:
    """Belief and state of a job from its standing evidence; an unknown age counts as usual."""
    model = family_model(family)
    # a price learned after the intake stands in for the one said at it
    intake = replace(job.intake, new_machine_minor=job.new_machine_minor)
    age = settings.unknown_age_years if intake.age_years is None else intake.age_years
    doubted = contradicted(family, job)
    kinds = kinds_of(family, intake.features, doubted)
    heard = np.exp(log_likelihood_of_complaints(model, intake))
    prior = joint_prior(model, age, kinds)
    state = _State(model, kinds, prior, StandingEvidence(model, kinds, heard), BenchTime(family))
    state.warnings += [
        f"{family.features[name].title} At intake it was {at_intake!r}, but {title!r} says"
        " otherwise: one of the two is wrong, and both count."
        for name, title in doubted.items()
        for at_intake in (family.features[name].values[intake.features[name]],)
    ]
    # Entries are replayed in the order they were written, since a repair changes what a finding
    # before it is worth; one that was taken back never happened.
    standing = {entry.number for entry in job.standing}
    for entry in job.entries:
        body = entry.body
        # A comeback is a retraction that stands for something: the closing it takes back was right.
        if isinstance(body, Retraction) and body.comeback:
            _add_comeback(state)
        elif entry.number not in standing:
            continue
        elif isinstance(body, Finding):
            _add_finding(state, body)
        elif isinstance(body, RepairDone):
            _add_repair(state, body)
        elif isinstance(body, Proof):
            _add_proof(state, body)
    belief = _belief_with_findings(state)
    return Situation(
        model=model,
        intake=intake,
        age_years=age,
        kinds=kinds,
        belief=belief,
        evidence=state.evidence,
        before=state.belief,
        done=frozenset(state.done | state.kind_checks),
        tried=frozenset(state.tried),
        opened=frozenset(state.time.opened),
        opened_by_checks=frozenset(state.time.opened_by_checks),
        minutes=state.time.minutes,
        proof_due=state.proof_due,
        proven=state.proven,
        warnings=tuple(state.warnings),
        free=guaranteed(job, settings),
        mended=frozenset(state.mended),
    )


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
        words = np.asarray(finding.weights, dtype=np.float64)
        # kept as they were read, and taken as closed jobs taught to take them
        return as_set(entry, words) if finding.recording else words
    if finding.reading is not None and entry.reading is not None:
        sd = max(finding.reading_sd or entry.reading.sd, _LEAST_READING_SD)
        edges = np.array([-np.inf, *entry.reading.edges, np.inf])
        weights = np.diff(norm.cdf(edges, loc=finding.reading, scale=sd))
        # outcomes stand mildest first; where a low number is bad, the ranges run the other way
        return np.asarray(weights[::-1] if entry.reading.falling else weights)
    return np.array([float(outcome == finding.outcome) for outcome in entry.outcomes])


def _add_finding(state: _State, finding: Finding) -> None:
    entry = state.model.family.checks.get(finding.check)
    if entry is None:
        state.warnings.append(
            f"The check {finding.check} is no longer in the catalog; its finding is not used."
        )
        return
    state.time.checked(entry, finding.minutes, reached=finding.outcome != CANNOT_REACH)
    state.done.add(finding.check)
    if entry.tells:
        state.kind_checks.add(entry.id)
    weights = outcome_weights(entry, finding)
    if weights is not None:
        state.evidence = state.evidence.with_reading(finding.check, weights)
    elif finding.outcome not in {COULD_NOT_TELL, CANNOT_REACH}:
        state.evidence = state.evidence.with_kind_told(finding.check, finding.outcome)


def _add_repair(state: _State, done: RepairDone) -> None:
    entry = state.model.family.repairs.get(done.repair)
    # a job outlives its catalog: what is no longer in it must not stop the job from being read
    if entry is None:
        state.warnings.append(
            f"The repair {done.repair} is no longer in the catalog; it is not used."
        )
        return
    belief = np.exp(_belief_with_findings(state))
    _forget(state)
    before = belief.sum(axis=0)
    transition = state.model.transitions[done.repair]
    fits = state.kinds.fit(entry.needs)
    for kind in np.flatnonzero(fits):
        belief[kind] = repaired(belief[kind], transition)
    # who has carried it out had a machine that it fits
    belief *= np.where(fits, 1.0 - MISTAKEN, MISTAKEN)[:, None]
    state.belief = normalised(to_log(belief), what=f"the repair {entry.title!r}")
    state.time.repaired(entry, done.minutes)
    state.tried.add(done.repair)
    state.mended |= _mended_by(state.model, entry, before)
    # a proof that ran true before this repair says nothing of the machine after it
    state.proof_due, state.proven = True, False


def _mended_by(model: FamilyModel, entry: RepairEntry, belief: Floats) -> set[str]:
    """Keys of the faults that forbid and that a repair mends, by the belief (S,) before it."""
    barring = [f for f in model.family.faults.values() if f.must_not_run or f.must_not_leave]
    # most families have none, and need no chances here
    chances = model.key_chances(belief) if barring else {}
    return {key for f in barring if mends(f.keys, chances, entry.cures) for key in f.keys}


def _add_proof(state: _State, proof: Proof) -> None:
    model = state.model
    likelihood = model.proof.likelihood(
        model.sound, passed=proof.passed, recorded=bool(proof.recording)
    )
    belief = _belief_with_findings(state)
    _forget(state)
    state.time.proven(proof.minutes)
    state.belief = normalised(belief + to_log(likelihood), what="the proof spin")
    state.proof_due, state.proven, state.mended = False, proof.passed, set()


def _add_comeback(state: _State) -> None:
    """The machine was handed over, shut; now it is said not to be right, and is mended anew."""
    belief = _belief_with_findings(state)
    _forget(state)
    state.tried, state.mended = set(), set()
    state.time.came_back()
    # an owner who was told it is mended also calls for what is no fault
    complains = np.where(state.model.sound, COMEBACK_FALSE_ALARM, 1.0)
    state.belief = normalised(belief + to_log(complains), what="the comeback")
    state.proof_due = state.proven = False


def _forget(state: _State) -> None:
    """What was found speaks of the machine as it was; each check may be done anew now."""
    state.evidence, state.done = StandingEvidence(state.model, state.kinds), set()


def _belief_with_findings(state: _State) -> Floats:
    """(K, S) log belief with the findings since the last repair, all readings of each check."""
    belief, state.evidence, warnings = weighed(state.belief, state.evidence)
    state.warnings += warnings
    return belief
