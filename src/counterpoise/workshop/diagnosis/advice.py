"""What is advised: the plan's first step, why, why checking stops, what rivals would cost."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.planning.first_steps import StepWorth
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.assessment import Answer, Rival, Step
from counterpoise.workshop.diagnosis.phrases import again, amount, minutes_text
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import NOT_THERE, NOT_THERE_LABEL
from counterpoise.workshop.jobs.entry_checks import ENDINGS, OPTIONS
from counterpoise.workshop.jobs.in_motion import a_kind

# Minor units; a check worth less than this is said to change nothing.
_LEAST_GAIN = 1.0


class Adviser:
    """What to do now with one job, by its analysis."""

    def __init__(self, analysis: Analysis) -> None:
        self._situation, self._planned = analysis.situation, analysis.planned
        self._job, self._plan, self._compared = analysis.job, analysis.plan, analysis.comparison
        self._build = StepBuilder.of(analysis.situation, analysis.case.supply)
        self._family: Family = analysis.situation.family

    def next(self) -> tuple[Step | None, str, str]:
        """The step to do now, why, and why checking stops (empty while it goes on).

        What evidence settles goes before the plan: a closed job has no step (None), a repair waits
        for its proof, a proven or decided one for its ending.
        """
        closed, decision = self._job.closed, self._job.decision
        if closed is not None:
            return None, f"The job is closed: {ENDINGS[closed.ending].lower()}.", ""
        # a repair is believed only once a spin has shown it: no check goes before that
        if self._situation.proof_due:
            return self._proof()
        if self._situation.proven:
            return (
                self._build.ending(WORKING_ENDING[self._situation.intake.owner]),
                f"The {self._family.proof_title.lower()} ran true.",
                "It runs true: nothing is left to check.",
            )
        # a decision to repair leaves the plan free to say which repair; any other ends the work
        if decision and decision.option not in WORKING_ENDING.values():
            return (
                self._build.ending(decision.option),
                f"It was decided: {OPTIONS[decision.option].lower()}.",
                "The decision is made.",
            )
        step = self._step(self._plan.first)
        return step, self._why(step), self._stop_reason()

    def _proof(self) -> tuple[Step, str, str]:
        """The proof spin; where the machine must not be run yet, what comes before it."""
        step = self._build.proof()
        if not step.forbidden:
            proof = a_kind(self._family.proof_word)
            return step, f"A repair counts once {proof} has shown that it holds.", ""
        # the plan begins with the check that clears it, where there is one, and runs nothing
        return self._step(self._plan.first), f"The proof must wait. {step.forbidden[0]}", ""

    def rivals(self, most: int) -> tuple[Rival, ...]:
        """The runners-up, best first, and minor units that each would cost on average."""
        others = self._compared.others if self._compared else ()
        return tuple(self._rival(each) for each in others[:most])

    def title(self, action: Action) -> str:
        """What an action is called."""
        if action.kind == "check":
            title = self._family.checks[action.id].title
            return again(title) if action.id in self._situation.done else title
        if action.kind == "repair":
            return self._family.repairs[action.id].title
        return OPTIONS.get(action.id, "Nothing more to try")

    def _step(self, action: Action) -> Step:
        if action.kind == "check":
            entry = self._family.checks[action.id]
            step = self._build.check(entry)
            return replace(
                step,
                title=self.title(action),
                answers=self._answers(entry),
                gain_minor=self._gain(),
            )
        if action.kind == "repair":
            step = self._build.repair(self._family.repairs[action.id])
            return replace(step, gain_minor=self._gain())
        return self._build.ending(action.id)

    def _answers(self, entry: CheckEntry) -> tuple[Answer, ...]:
        """The answers of the check that the plan begins with: probability, what each leads to."""
        # outcomes are those of the planned problem, whose checks are fewer than the catalog's
        problem = self._planned.problem
        index = next(i for i, check in enumerate(problem.checks) if check.id == entry.id)
        # where the machine may have no such thing, that is an answer too
        labels = {**entry.outcomes, NOT_THERE: NOT_THERE_LABEL}
        outcomes = problem.checks[index].outcomes
        chances = (problem.tables[index] @ problem.prior).tolist()
        return tuple(
            Answer(outcome, labels[outcome], chance, "")
            for outcome, chance in zip(outcomes, chances, strict=True)
        )

    def _gain(self) -> int:
        """Minor units that the step is worth over the best way without it.

        For a check that is the best way without a further check, for a repair it is stopping.
        """
        # a repair competes with stopping; a check with all that could be done without its answer
        own = {"check", "repair"} if self._plan.first.kind == "repair" else {"check"}
        gain = self._compared.gain_over(frozenset(own)) if self._compared else None
        return 0 if gain is None else round(gain)

    def _rival(self, step: StepWorth) -> Rival:
        kind, action_id = step.action.kind, step.action.id
        minutes = 0.0
        if kind == "check":
            minutes = self._build.minutes(self._family.checks[action_id])
        elif kind == "repair":
            minutes = self._build.minutes(self._family.repairs[action_id])
        return Rival(
            kind if kind != "exhausted" else "ending",
            action_id,
            self.title(step.action),
            minutes,
            round(step.behind),
            error_minor=round(step.error),
            about_as_good=step.about_as_good,
        )

    def _why(self, step: Step) -> str:
        money = amount(step.gain_minor, self._family.currency)
        if step.kind == "ending":
            return "Nothing that could still be found or mended is worth more than this."
        if step.kind == "repair":
            return (
                "It is the surest cure for its minutes and parts;"
                f" worth {money} more than stopping here."
            )
        took = minutes_text(step.minutes)
        if step.gain_minor < _LEAST_GAIN:
            return f"Going on without it is about as good; it takes {took} and can be taken back."
        return f"It settles most for what it takes; worth {money} on average after its {took}."

    def _stop_reason(self) -> str:
        """Why no further check is advised; empty while one is."""
        if self._plan.first.kind == "check":
            return ""
        # upper bounds: what a check could be worth at most, if the rest were known
        checks = [
            bounds.upper for bounds in self._plan.action_bounds if bounds.action.kind == "check"
        ]
        most = max(0.0, max(checks, default=self._plan.lower) - self._plan.lower)
        if most < _LEAST_GAIN:
            return "No result of a check could change the decision."
        return (
            "No check is worth its minutes now. The most that any could still be worth, if it told"
            f" everything, is {amount(round(most), self._family.currency)}."
        )
