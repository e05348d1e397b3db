"""What going on comes to, in a sentence; and which faults end this very machine by its figures."""

from __future__ import annotations

from counterpoise.money.quote import out_of_ten
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.assessment import Step
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING
from counterpoise.workshop.diagnosis.ways.going_on import GoingOn
from counterpoise.workshop.diagnosis.ways.irreversible import worth_if_known
from counterpoise.workshop.jobs.entry_checks import OPTIONS

_LEAST_MASS = 1e-9
# From this chance on that it is handed over repaired, that is what going on most likely comes to.
_LIKELY = 0.5
# Minor units; a machine worth less than this over its ending is not worth mending.
_LEAST_WORTH = 1.0


def ahead_text(analysis: Analysis, going: GoingOn, step: Step | None) -> str:
    """What going on as advised comes to; empty where nothing is left open."""
    if step is None or step.kind == "ending":
        return ""
    working = OPTIONS[WORKING_ENDING[analysis.situation.intake.owner]].lower()
    often = out_of_ten(going.repaired)
    if step.kind == "check":
        likely = "then most likely" if going.repaired >= _LIKELY else "then perhaps"
        return f'First the check; {likely} "{working}" ({often}).'
    proof = f"The {analysis.situation.family.proof_title.lower()}"
    begin = proof if step.kind == "proof" else "The repair"
    return f'{begin} first; it comes to "{working}" {often}.'


def faults_that_end(analysis: Analysis) -> frozenset[str]:
    """Ids of the faults with which one who knew of them would rather end this machine than mend it.

    A catalog calls a fault the end of most machines; whether it is that of this one is a matter of
    its age, its owner and the prices.
    """
    problem, model = analysis.planned.problem, analysis.situation.model
    if not problem.endings:
        return frozenset()
    saved = worth_if_known(problem) - problem.ending_values.max(axis=0) > _LEAST_WORTH
    ends = set()
    for fault in model.family.faults.values():
        with_it = problem.prior * model.mask(fault.id, problem.hypotheses)
        mass = float(with_it.sum())
        # too rare to be planned for: the catalog's word stands
        if mass <= _LEAST_MASS or float(with_it @ saved) < 0.5 * mass:
            ends.add(fault.id)
    return frozenset(ends)
