"""The bench page's answers, computed: what now, why, what else it could be, what it is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.figure_names import figure_name
from counterpoise.money import OptionResult
from counterpoise.reasoning.likelihood_words import likelihood_word
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.advice import Adviser
from counterpoise.workshop.diagnosis.analysis import EFFORT, Analysis, analyse
from counterpoise.workshop.diagnosis.assessment import (
    Assessment,
    CarefulComparison,
    Contest,
    OptionView,
    Rival,
    Step,
    Suspect,
)
from counterpoise.workshop.diagnosis.evidence.set_reader import SPIN
from counterpoise.workshop.diagnosis.evidence.strange_pairs import strange_pairs
from counterpoise.workshop.diagnosis.hazards import (
    LOCAL_CODES,
    leave_texts,
    must_not_leave,
    must_not_run,
    run_texts,
)
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.phrases import SAFE_ENDING, SAME_STEP, careful_text
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.diagnosis.sensitivity import contest, two_ways
from counterpoise.workshop.diagnosis.ways.first_step import held_text, untouched_warning
from counterpoise.workshop.diagnosis.ways.going_on import going_on, likely_end
from counterpoise.workshop.diagnosis.ways.options import weigh_options
from counterpoise.workshop.diagnosis.ways.words import ahead_text, faults_that_end
from counterpoise.workshop.jobs.entries import Finding, Job
from counterpoise.workshop.jobs.entry_checks import OPTIONS

LEAST_LISTED = 0.01  # suspects less likely than this are not listed
MOST_RIVALS = 4
# Learned figures that moved by less (as a log: a fifth) are not worth a line, nor are more of them.
LEAST_MOVE, MOST_LEARNED = 0.18, 5
# From this chance on that a machine is not worth saving, money put into it deserves a warning.
WRITE_OFF_WARNING = 0.10


def assess(case: JobCase, effort: Effort = EFFORT) -> Assessment:
    """Everything that is shown of a job; deterministic. Takes up to a second of processor time."""
    return assessment_of(analyse(case, effort))


def assessment_of(analysis: Analysis) -> Assessment:
    """What is shown of a job that was analysed; money in integer minor units, times in minutes."""
    job, situation = analysis.job, analysis.situation
    adviser, going = Adviser(analysis), going_on(analysis)
    options = weigh_options(analysis, going)
    ends = faults_that_end(analysis)
    # the step may be prescribed by evidence (a proof is due) where the plan would say another
    next_step, why, stop = adviser.next()
    # a closed job is looked at, not worked on
    rivals = () if job.closed else adviser.rivals(MOST_RIVALS)
    careful = _careful(analysis, adviser, next_step)
    # the careful mode may stop where the plan would not: then it is not sure that all is worth less
    if careful and next_step and next_step.kind == "ending" and careful.id != next_step.id:
        why = SAFE_ENDING
    held = analysis.held
    # why a proof must wait is said with the step itself
    if held and not held.proof and next_step and next_step.kind == "check":
        why = held_text(held, adviser.title(held.action), analysis.prices.settings.currency)
    # what is closed is not measured again
    strange = () if job.closed else strange_pairs(situation)
    forbidden = _forbidden(analysis)
    return Assessment(
        job=job.number,
        value_minor=round(going.value),
        # the lower bound is what a policy that exists earns; the upper one only limits it
        lower_minor=round(going.low),
        upper_minor=round(going.high),
        minutes_so_far=situation.minutes,
        # from here on; a closed job has no more to come
        minutes_expected=0.0 if job.closed else going.minutes,
        next=next_step,
        why=why,
        stop_reason=stop,
        rivals=rivals,
        careful=careful,
        contest=_contest(analysis, next_step, rivals),
        suspects=_marked(suspects(situation), ends),
        options=tuple(_option_view(option) for option in options),
        warnings=(
            *situation.warnings,
            *forbidden,
            *(pair.text for pair in strange),
            *untouched_warning(analysis.case, analysis.planned),
            *_write_off_warning(situation, ends),
        ),
        contradictions=strange,
        forbidden=forbidden,
        error_minor=round(going.error),
        likely_end=likely_end(analysis, going, next((o.id for o in options if o.best), "")),
        ahead="" if job.closed else ahead_text(analysis, going, next_step),
        changed=() if job.closed else _changed(job, situation, next_step),
    )


def _changed(job: Job, situation: Situation, step: Step | None) -> tuple[str, ...]:
    """The figures that the workshop changed, of what is listed, was found, and is to be done now.

    Each as a sentence; figures changed elsewhere have little to do with what is shown, and of those
    learned from closed jobs only what moved most.
    """
    family, entries = situation.family, set[str]()
    if not family.changes:
        return ()
    entries |= {f"faults.{one.fault}" for one in suspects(situation)}
    found = [entry.body for entry in job.standing if isinstance(entry.body, Finding)]
    entries |= {f"checks.{body.check}" for body in found}
    entries |= {SPIN for body in found if body.recording}
    if step is not None:
        entries |= {f"{step.kind}s.{step.id}", "proof" if step.kind == "proof" else ""}
        entries |= {f"access.{opening.access}" for opening in step.openings}
        repair = family.repairs.get(step.id)
        entries |= {f"parts.{part}" for part in (repair.parts if repair else ())}
    near = [
        change
        for change in family.changes
        if any(change.place.startswith(f"{entry}.") for entry in entries if entry)
    ]
    # of a check that was done, what it showed; what it might have shown is for the page of learning
    shown = {(body.check, body.outcome) for body in found}
    return tuple(
        f"{figure_name(family, change.place)}: {change.text}."
        for change in [*(c for c in near if not c.jobs), *_moved_most(near, shown)]
    )


def _moved_most(
    changes: Sequence[ChangedFigure], shown: set[tuple[str, str]]
) -> list[ChangedFigure]:
    """The learned figures that matter here, the one that moved most first."""
    kept = []
    for change in changes:
        fields = change.place.split(".")
        rows = "under" in fields or "otherwise" in fields
        beside = rows and (fields[1], fields[-1]) not in shown
        if change.jobs and change.moved >= LEAST_MOVE and not beside:
            kept.append(change)
    return sorted(kept, key=lambda change: (-change.moved, change.place))[:MOST_LEARNED]


def _forbidden(analysis: Analysis) -> tuple[str, ...]:
    """What must not be run or handed on, said over all else; of a closed job nothing."""
    situation = analysis.situation
    if analysis.job.closed:
        return ()
    barred = (*run_texts(must_not_run(situation)), *leave_texts(must_not_leave(situation)))
    return (*barred, LOCAL_CODES) if barred else ()


def _option_view(option: OptionResult) -> OptionView:
    return OptionView(
        id=option.id,
        title=OPTIONS[option.id],
        value_minor=option.value_minor,
        low_minor=option.low_minor,
        high_minor=option.high_minor,
        hinges_on=option.hinges_on,
        best=option.best,
        available=option.available,
        hinges=tuple(hinge.sentence for hinge in option.hinges),
        days=option.days,
        per_hour_minor=option.per_hour_minor,
        chance_best=option.chance_best,
        chance_loss=option.chance_loss,
    )


def _is_planned(analysis: Analysis, step: Step | None) -> bool:
    """Whether a step is the plan's own choice, not one that evidence or a decision prescribes."""
    first = analysis.plan.first
    return step is not None and (step.kind, step.id) == (first.kind, first.id)


def _contest(analysis: Analysis, step: Step | None, rivals: tuple[Rival, ...]) -> Contest | None:
    """What would make the runner-up the better step; None where the step is not the plan's."""
    if not rivals or not _is_planned(analysis, step):
        return None
    # what care or a hand put first is not first by the figures as they are
    if analysis.held or (analysis.careful and analysis.careful.action != analysis.careful.instead):
        return None
    return contest(two_ways(analysis), analysis.plan, step, rivals[0])


def _careful(analysis: Analysis, adviser: Adviser, step: Step | None) -> CarefulComparison | None:
    """What the careful mode would do differently, and what that costs.

    None where it is off or has no say.
    """
    choice = analysis.careful
    # a check that goes before what cannot be undone has its own reason
    if choice is None or analysis.held or not _is_planned(analysis, step):
        return None
    # the other step is named, since what it costs to be careful is what that one would bring
    title = adviser.title(choice.instead)
    cost, mean, worst = (round(figure) for figure in (choice.cost, choice.mean, choice.worst))
    currency = analysis.prices.settings.currency
    # where both are the same step, that it holds up is worth saying too
    differs = choice.action != choice.instead
    text = careful_text(title, (cost, mean, worst), currency) if differs else SAME_STEP
    return CarefulComparison(choice.instead.kind, choice.instead.id, title, cost, mean, worst, text)


def suspects(situation: Situation) -> tuple[Suspect, ...]:
    """The faults by probability, grades together, likeliest first, without the hardly possible."""
    model = situation.model
    by_key = situation.key_chances
    listed = []
    for fault_id, chance in model.by_fault(by_key).items():
        # the list is read at a bench: what is hardly possible only hides what is likely
        if chance < LEAST_LISTED:
            continue
        fault = model.family.faults[fault_id]
        grades = tuple((grade.title, by_key[f"{fault.id}:{grade.id}"]) for grade in fault.grades)
        word = likelihood_word(chance)
        listed.append(
            Suspect(fault.id, fault.title, fault.means, chance, word, grades, fault.write_off)
        )
    return tuple(listed)


def _marked(listed: tuple[Suspect, ...], ends: frozenset[str]) -> tuple[Suspect, ...]:
    """The suspects, marked as ending the machine only where the figures of this job say so too."""
    return tuple(replace(each, write_off=each.write_off and each.fault in ends) for each in listed)


def _write_off_warning(situation: Situation, ends: frozenset[str]) -> list[str]:
    listed = _marked(suspects(situation), ends)
    risky = [s for s in listed if s.write_off and s.probability >= WRITE_OFF_WARNING]
    # a machine that ran true is not one that is hardly worth saving
    if not risky or situation.proven:
        return []
    names = " or ".join(f"“{s.title}”" for s in risky)
    return [f"Check first: {names} writes this machine off."]


__all__ = ["assess", "assessment_of", "suspects"]
