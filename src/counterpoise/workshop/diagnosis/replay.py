"""A job's evidence replayed in order: what is believed now, what stands open, what was done, how long it took."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import norm

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.errors import ModelError
from counterpoise.reasoning.belief import normalised, observe, repaired, to_log
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import Base, base_of, prior_belief
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.settings import Settings

FALSE_ALARM = (
    0.1  # a sound machine comes back a tenth as often as one with a fault left (from memory)
)
UNHEARD = 0.5  # weight of a complaint not made: owners name what troubles them most, not all they notice (from memory)


@dataclass(frozen=True)
class Situation:
    """Where a job stands. ``belief`` is (H,) log; ``done`` are checks that would teach nothing if done again now."""

    base: Base
    intake: Intake
    age_years: float
    belief: Floats
    done: frozenset[str]
    tried: frozenset[str]
    opened: frozenset[str]
    minutes: float
    proof_due: bool = False
    proven: bool = False
    warnings: tuple[str, ...] = ()
    found: Mapping[str, Floats] = field(
        default_factory=dict
    )  # (O,) weights of the findings since the last repair

    @property
    def probabilities(self) -> Floats:
        """(H,) the belief as probabilities."""
        return np.asarray(np.exp(self.belief))


@dataclass
class _State:
    belief: Floats
    findings: dict[str, Finding] = field(
        default_factory=dict
    )  # since the last repair: a check repeated counts once
    tried: set[str] = field(default_factory=set)
    opened: set[str] = field(default_factory=set)
    minutes: float = 0.0
    proof_due: bool = False
    proven: bool = False
    warnings: list[str] = field(default_factory=list)


def replay(family: Family, settings: Settings, job: Job) -> Situation:
    """Belief and state of a job from its standing evidence."""
    base, intake = base_of(family), job.intake
    age = settings.unknown_age_years if intake.age_years is None else intake.age_years
    state = _State(complained(base, intake, prior_belief(base, age, intake.features)))
    standing = {entry.number for entry in job.standing}
    for entry in job.entries:
        body = entry.body
        if isinstance(body, Retraction) and body.comeback:
            _come_back(base, state)
        elif entry.number not in standing:
            continue
        elif isinstance(body, Finding):
            _find(base, state, body)
        elif isinstance(body, RepairDone):
            _repair(base, state, body)
        elif isinstance(body, Proof):
            _prove(base, state, body)
    belief = _weigh(base, state)
    return Situation(
        base=base,
        intake=intake,
        age_years=age,
        belief=belief,
        done=frozenset(state.findings),
        tried=frozenset(state.tried),
        opened=frozenset(state.opened),
        minutes=state.minutes,
        proof_due=state.proof_due,
        proven=state.proven,
        warnings=tuple(state.warnings),
        found=_found(base, state),
    )


def outcome_weights(entry: CheckEntry, finding: Finding) -> Floats | None:
    """(O,) how well each outcome fits what was found; None where nothing was learned.

    A number near an edge speaks partly for both sides: each outcome weighs the chance that the true value lies in its
    range, with a normal error.
    """
    if finding.outcome in {COULD_NOT_TELL, CANNOT_REACH}:
        return None
    if finding.weights:
        return np.asarray(finding.weights, dtype=np.float64)
    outcomes = list(entry.outcomes)
    if finding.reading is not None and entry.reading is not None:
        sd = max(finding.reading_sd or entry.reading.sd, 1e-9)
        edges = np.array([-np.inf, *entry.reading.edges, np.inf])
        weights = np.diff(norm.cdf(edges, loc=finding.reading, scale=sd))
        return np.asarray(weights[::-1] if entry.reading.falling else weights)
    return np.array([float(outcome == finding.outcome) for outcome in outcomes])


def panels_for(family: Family, access: str | None) -> Iterable[str]:
    """The panel and all that lies before it, innermost first."""
    while access is not None:
        yield access
        access = family.access[access].behind


def complained(base: Base, intake: Intake, belief: Floats) -> Floats:
    """Belief after the complaints heard; what an owner who complains does not mention speaks too."""
    for complaint, chance in base.complaints.items():
        if complaint in intake.complaints:
            belief = normalised(belief + to_log(chance), what=f"the complaint {complaint}")
        elif intake.complaints:
            belief = normalised(
                belief + UNHEARD * to_log(1.0 - chance), what=f"no complaint of {complaint}"
            )
    return belief


def _find(base: Base, state: _State, finding: Finding) -> None:
    entry = base.family.checks.get(finding.check)
    if entry is None:
        state.warnings.append(
            f"The check {finding.check} is no longer in the catalog; its finding is not used."
        )
        return
    if finding.outcome != CANNOT_REACH:
        if entry.kind == "spin":
            _shut(base.family, state)
        _open(base.family, state, entry.access)
    state.findings[finding.check] = finding
    state.minutes += entry.minutes if finding.minutes is None else finding.minutes


def _repair(base: Base, state: _State, done: RepairDone) -> None:
    entry = base.family.repairs.get(done.repair)
    if entry is None:
        state.warnings.append(
            f"The repair {done.repair} is no longer in the catalog; it is not used."
        )
        return
    belief = np.exp(_weigh(base, state))
    state.findings = {}
    state.belief = to_log(repaired(belief, base.moves[done.repair]))
    _open(base.family, state, entry.access)
    state.tried.add(done.repair)
    state.minutes += entry.minutes if done.minutes is None else done.minutes
    state.proof_due, state.proven = True, False


def _prove(base: Base, state: _State, proof: Proof) -> None:
    sound = np.array([not faults for faults in base.hypotheses.sets])
    misses = base.family.proof_misses
    passes = np.where(
        sound, 1.0 - misses / 4, misses
    )  # a sound machine seldom fails its proof by a bad load
    belief = _weigh(base, state)
    state.findings = {}
    seen = passes if proof.passed else 1.0 - passes
    _shut(base.family, state)
    state.belief = normalised(belief + to_log(seen), what="the proof spin")
    state.minutes += base.family.proof_minutes if proof.minutes is None else proof.minutes
    state.proof_due, state.proven = False, proof.passed


def _come_back(base: Base, state: _State) -> None:
    """The machine was shut and handed over; now it is said not to be right, and what was mended can be mended anew."""
    sound = np.array([not faults for faults in base.hypotheses.sets])
    belief = _weigh(base, state)
    state.findings, state.opened, state.tried = {}, set(), set()
    state.belief = normalised(
        belief + to_log(np.where(sound, FALSE_ALARM, 1.0)), what="the comeback"
    )
    state.proof_due = state.proven = False


def _open(family: Family, state: _State, access: str | None) -> None:
    for panel in panels_for(family, access):
        if panel not in state.opened:
            state.opened.add(panel)
            state.minutes += family.access[panel].open_min


def _shut(family: Family, state: _State) -> None:
    """Close the machine, as every spin needs it: upright, its panels on, its drain trap shut.

    Closing is counted here and nowhere else; whoever goes on behind a panel opens it again, cautions and all.
    """
    state.minutes += sum(family.access[panel].close_min for panel in state.opened)
    state.opened = set()


def _found(base: Base, state: _State) -> dict[str, Floats]:
    told = {
        name: outcome_weights(base.family.checks[name], finding)
        for name, finding in state.findings.items()
    }
    return {name: weights for name, weights in told.items() if weights is not None}


def _weigh(base: Base, state: _State) -> Floats:
    """Belief with the findings since the last repair, each check once."""
    belief = state.belief
    for name, finding in state.findings.items():
        entry = base.family.checks[name]
        weights = outcome_weights(entry, finding)
        if weights is None:
            continue
        try:
            belief = observe(
                belief, base.tables[name], weights, what=f"the finding of {entry.title!r}"
            )
        except ModelError as error:
            state.warnings.append(f"{error}. It is left out for now.")
    return belief
