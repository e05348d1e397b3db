"""From a plan to something a person can do: the step with cautions first, why it, what rivals would cost."""

from __future__ import annotations

from collections.abc import Sequence

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.workshop.diagnosis.assessment import Answer, Opening, Rival, Step
from counterpoise.workshop.diagnosis.part_texts import ready
from counterpoise.workshop.diagnosis.phrases import amount, minutes_text
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING, Thought
from counterpoise.workshop.diagnosis.replay import Situation, panels_for
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.parts.offers import NOTHING, Supply

ENDING_STEPS = {
    "repair_resell": ("Clean it, note what was done, and offer it for sale.",),
    "repair_hand_back": ("Hand it back with the job sheet.",),
    "sell_as_is": ("Offer it unrepaired, with what was found written on it.",),
    "hand_back": ("Hand it back as it came, with what was found.",),
    "replace": ("Tell the owner plainly that a new machine is the better buy, and why.",),
    "refer_on": ("Pass it on to a workshop that can do this.",),
    "part_out": (
        "Strip the good assemblies, label them with this job's number.",
        "Take the rest to the yard.",
    ),
    "scrap": ("Take it to the yard.",),
}


class Stepper:
    """Turns the plan of one job into steps."""

    def __init__(
        self, situation: Situation, thought: Thought, plan: Plan, supply: Supply = NOTHING
    ) -> None:
        self._situation, self._thought, self._plan, self._supply = situation, thought, plan, supply
        self._family: Family = situation.base.family

    def next(self, job: Job) -> tuple[Step | None, str, str]:
        """The step to do now, why, and why checking stops (empty while it goes on)."""
        if job.closed is not None:
            return None, f"The job is closed: {OPTIONS[job.closed.ending].lower()}.", ""
        if self._situation.proof_due:
            return self.proof(), "A repair counts once a spin has shown that it holds.", ""
        owner = self._situation.intake.owner
        if self._situation.proven:
            return (
                self.ending(WORKING_ENDING[owner]),
                "The proof spin ran true.",
                "It runs true: nothing is left to check.",
            )
        decided = job.decision.option if job.decision else ""
        if decided and decided not in WORKING_ENDING.values():
            return (
                self.ending(decided),
                f"It was decided: {OPTIONS[decided].lower()}.",
                "The decision is made.",
            )
        step = self._step(self._plan.first)
        return step, self._why(step), self._stop_reason()

    def rivals(self, most: int) -> tuple[Rival, ...]:
        """The runners-up, and what choosing each would cost on average."""
        others = [one for one in self._plan.action_bounds if one.action != self._plan.first]
        return tuple(self._rival(one, self._plan.lower - one.lower) for one in others[:most])

    def proof(self) -> Step:
        """The proof spin."""
        family = self._family
        return Step(
            kind="proof",
            id="proof",
            title="Prove it on a spin",
            minutes=family.proof_minutes,
            people=1,
            tools=(),
            openings=(),
            cautions=self._texts(family.proof_cautions),
            steps=family.proof_steps,
            question="Did it run true?",
            answers=(
                Answer("passed", "Yes, it ran true", 0.0, ""),
                Answer("failed", "No, not yet", 0.0, ""),
            ),
        )

    def ending(self, name: str) -> Step:
        """A way to end the job."""
        return Step("ending", name, OPTIONS[name], 0.0, 1, (), (), (), ENDING_STEPS.get(name, ()))

    def check(self, entry: CheckEntry) -> Step:
        """A check with all that stands before it."""
        openings = self._openings(entry.access)
        return Step(
            kind="check",
            id=entry.id,
            title=entry.title,
            minutes=self._minutes(entry),
            people=max([entry.people, *(self._family.access[o.access].people for o in openings)]),
            tools=entry.tools,
            openings=openings,
            cautions=self._texts(entry.cautions),
            steps=entry.steps,
            question=entry.question,
            answers=self._answers(entry),
            unit=entry.reading.unit if entry.reading else "",
            quantity=entry.reading.quantity if entry.reading else "",
            gain_minor=self._gain(),
        )

    def repair(self, entry: RepairEntry) -> Step:
        """A repair with all that stands before it."""
        openings = self._openings(entry.access)
        steps = (*ready(self._family, entry, self._supply), *entry.steps)
        if entry.done_when:
            steps = (*steps, f"Done when: {entry.done_when}")
        return Step(
            kind="repair",
            id=entry.id,
            title=entry.title,
            minutes=self._minutes(entry),
            people=max([entry.people, *(self._family.access[o.access].people for o in openings)]),
            tools=entry.tools,
            openings=openings,
            cautions=self._texts(entry.cautions),
            steps=steps,
            gain_minor=self._gain(),
        )

    def _step(self, action: Action) -> Step:
        if action.kind == "check":
            return self.check(self._family.checks[action.id])
        if action.kind == "repair":
            return self.repair(self._family.repairs[action.id])
        return self.ending(action.id)

    def _openings(self, access: str | None) -> tuple[Opening, ...]:
        entries = [self._family.access[name] for name in panels_for(self._family, access)]
        return tuple(
            Opening(
                a.id, a.title, a.open_min + a.close_min, a.steps, a.tools, self._texts(a.cautions)
            )
            for a in reversed(entries)
            if a.id not in self._situation.opened
        )

    def _texts(self, cautions: Sequence[str]) -> tuple[str, ...]:
        known = [self._family.cautions[name] for name in cautions]
        return tuple(caution.text for caution in sorted(known, key=lambda c: not c.grave))

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
            return Rival("check", name, check.title, self._minutes(check), round(loss))
        if kind == "repair" and name in self._family.repairs:
            repair = self._family.repairs[name]
            return Rival("repair", name, repair.title, self._minutes(repair), round(loss))
        return Rival("ending", name, self.title(one.action), 0.0, round(loss))

    def _minutes(self, entry: CheckEntry | RepairEntry) -> float:
        return entry.minutes + sum(opening.minutes for opening in self._openings(entry.access))

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
