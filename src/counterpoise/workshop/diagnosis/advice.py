"""What is advised: the step that the plan puts first, why, why checking stops, and what the rivals would cost."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.workshop.diagnosis.assessment import Answer, Rival, Step
from counterpoise.workshop.diagnosis.phrases import amount, minutes_text
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING, Thought
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.parts.offers import NOTHING, Supply


class Adviser:
    """What to do now with one job, by its plan."""

    def __init__(
        self, situation: Situation, thought: Thought, plan: Plan, supply: Supply = NOTHING
    ) -> None:
        self._situation, self._thought, self._plan = situation, thought, plan
        self._build = StepBuilder.of(situation, supply)
        self._family: Family = situation.base.family

    def next(self, job: Job) -> tuple[Step | None, str, str]:
        """The step to do now, why, and why checking stops (empty while it goes on)."""
        if job.closed is not None:
            return None, f"The job is closed: {OPTIONS[job.closed.ending].lower()}.", ""
        if self._situation.proof_due:
            return self._build.proof(), "A repair counts once a spin has shown that it holds.", ""
        owner = self._situation.intake.owner
        if self._situation.proven:
            return (
                self._build.ending(WORKING_ENDING[owner]),
                "The proof spin ran true.",
                "It runs true: nothing is left to check.",
            )
        decided = job.decision.option if job.decision else ""
        if decided and decided not in WORKING_ENDING.values():
            return (
                self._build.ending(decided),
                f"It was decided: {OPTIONS[decided].lower()}.",
                "The decision is made.",
            )
        step = self._step(self._plan.first)
        return step, self._why(step), self._stop_reason()

    def rivals(self, most: int) -> tuple[Rival, ...]:
        """The runners-up, and what choosing each would cost on average."""
        others = [one for one in self._plan.action_bounds if one.action != self._plan.first]
        return tuple(self._rival(one, self._plan.lower - one.lower) for one in others[:most])

    def _step(self, action: Action) -> Step:
        if action.kind == "check":
            entry = self._family.checks[action.id]
            step = self._build.check(entry)
            return replace(step, answers=self._answers(entry), gain_minor=self._gain())
        if action.kind == "repair":
            step = self._build.repair(self._family.repairs[action.id])
            return replace(step, gain_minor=self._gain())
        return self._build.ending(action.id)

    def _answers(self, entry: CheckEntry) -> tuple[Answer, ...]:
        number = next(
            (i for i, c in enumerate(self._thought.problem.checks) if c.id == entry.id), None
        )
        if number is None:
            return tuple(
                Answer(outcome, label, 0.0, "") for outcome, label in entry.outcomes.items()
            )
        after = self._thought.look.results_of(number)
        return tuple(
            Answer(outcome, label, mass, self._then(act) if mass > 0 else "")
            for (outcome, label), (mass, act) in zip(entry.outcomes.items(), after, strict=True)
        )

    def _then(self, act: int) -> str:
        return self.title(action_of(self._thought.problem, act))

    def title(self, action: Action) -> str:
        """What an action is called."""
        if action.kind == "check":
            return self._family.checks[action.id].title
        if action.kind == "repair":
            entry = self._family.repairs.get(action.id)
            return entry.title if entry else "Spin it again"
        return OPTIONS.get(action.id, "Nothing more to try")

    def _gain(self) -> int:
        """What the recommended step is worth over the best way without a further check, or over stopping."""
        without = {"ending"} if self._plan.first.kind == "repair" else {"ending", "repair"}
        others = [one.lower for one in self._plan.action_bounds if one.action.kind in without]
        return round(self._plan.lower - max(others)) if others else 0

    def _rival(self, one: ActionBounds, loss: float) -> Rival:
        kind, name = one.action.kind, one.action.id
        if kind == "check":
            check = self._family.checks[name]
            return Rival("check", name, check.title, self._build.minutes(check), round(loss))
        if kind == "repair" and name in self._family.repairs:
            repair = self._family.repairs[name]
            return Rival("repair", name, repair.title, self._build.minutes(repair), round(loss))
        return Rival("ending", name, self.title(one.action), 0.0, round(loss))

    def _why(self, step: Step) -> str:
        money = amount(step.gain_minor, self._currency)
        if step.kind == "ending":
            return "Nothing that could still be found or mended is worth more than this."
        if step.kind == "repair":
            return f"It is the surest cure for its minutes and parts; worth {money} more than stopping here."
        ways = {
            answer.leads_to
            for answer in step.answers
            if answer.probability > 0.02 and answer.leads_to
        }
        lead = (
            "Its answer decides what comes next"
            if len(ways) > 1
            else "It settles how sure we can be"
        )
        return f"{lead}; worth {money} on average after its {minutes_text(step.minutes)}."

    def _stop_reason(self) -> str:
        if self._plan.first.kind == "check":
            return ""
        checks = [one.upper for one in self._plan.action_bounds if one.action.kind == "check"]
        most = max(0.0, max(checks, default=self._plan.lower) - self._plan.lower)
        if most < 1.0:
            return "No result of a check could change the decision."
        return (
            "No check is worth its minutes now. The most that any could still be worth, if it told everything, is "
            f"{amount(round(most), self._currency)}."
        )

    @property
    def _currency(self) -> str:
        return self._family.currency
