"""The one builder of steps: what to do now with all that stands before it, cautions first.

Page, terminal, sheet and JSON show the steps built here and build none themselves: whoever takes
open panels from elsewhere than the replay of the job leaves out a panel's minutes and, worse, its
cautions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.errors import NotFoundError
from counterpoise.reasoning.hazards import mends
from counterpoise.workshop.diagnosis.assessment import Answer, Opening, Step
from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.hazards import Forbidden, must_not_run, run_texts
from counterpoise.workshop.diagnosis.part_sets import set_notes
from counterpoise.workshop.diagnosis.part_texts import ready_lines
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.entries import NOT_THERE, NOT_THERE_LABEL
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.jobs.in_motion import a_kind
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.offers import NO_SUPPLY, Supply

# What to do once it is decided. Only parting out opens the machine, and has cautions.
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


@dataclass(frozen=True)
class StepBuilder:
    """Builds the steps of one machine. ``opened``: ids of the panels that stand open now."""

    family: Family
    # none: a machine taken as shut gets every caution, which is the safe side
    opened: frozenset[str] = frozenset()
    supply: Supply = NO_SUPPLY
    # by repair, what the rule of its set says of it on this machine
    set_notes: Mapping[str, str] = field(default_factory=dict)
    # features that are not known; none: the machine is taken to have what is looked at
    not_known: frozenset[str] = frozenset()
    # those as good as known; none: it may be of any kind
    features: Mapping[str, str] = field(default_factory=dict)
    # what forbids to switch it on; none: nothing that is known
    must_not_run: tuple[Forbidden, ...] = ()

    @classmethod
    def of(cls, situation: Situation, supply: Supply = NO_SUPPLY) -> StepBuilder:
        """The builder for a job where it stands."""
        not_known = frozenset(situation.family.features) - frozenset(situation.known)
        notes, known = set_notes(situation), situation.known
        barred = must_not_run(situation)
        return cls(situation.family, situation.opened, supply, notes, not_known, known, barred)

    def picked(self, kind: str, step_id: str, *, acknowledged: bool = False) -> Step:
        """A step picked by hand. Raises NotFoundError for an unknown one.

        Where the machine must not be run for it, what is to be done is said only once that was
        ``acknowledged``.
        """
        step = self.named(kind, step_id)
        if not step.forbidden or acknowledged:
            return step
        return replace(step, steps=(), openings=(), answers=(), question="", withheld=True)

    def named(self, kind: str, step_id: str) -> Step:
        """A check, repair or proof by its id, whole. Raises NotFoundError for an unknown one."""
        if kind == "check" and step_id in self.family.checks:
            return self.check(self.family.checks[step_id])
        if kind == "repair" and step_id in self.family.repairs:
            return self.repair(self.family.repairs[step_id])
        # a family has one proof spin, whatever it is asked for by
        if kind == "proof":
            return self.proof()
        known: Mapping[str, CheckEntry | RepairEntry]
        if kind == "check":
            known = self.family.checks
        elif kind == "repair":
            known = self.family.repairs
        else:
            raise NotFoundError(
                f"{kind[:60] or 'Nothing'} is no kind of step",
                remedy="Write it like check:ID, repair:ID or proof.",
            )
        titles = {key: entry.title for key, entry in known.items()}
        raise NotFoundError(
            f"There is no {kind} {step_id[:60]!r} for this family of machines",
            remedy=did_you_mean(step_id[:60], titles),
        )

    def check(self, entry: CheckEntry) -> Step:
        """A check with the panels on its way; probabilities of its answers only a plan knows."""
        return Step(
            kind="check",
            id=entry.id,
            title=entry.title,
            minutes=self.minutes(entry),
            people=self._people(entry),
            tools=entry.tools,
            openings=self.openings(entry.access),
            cautions=(*self._forbidden(entry.runs), *caution_texts(self.family, entry.cautions)),
            steps=entry.steps,
            forbidden=self._forbidden(entry.runs),
            question=entry.question,
            answers=tuple(
                Answer(outcome, label, 0.0, "") for outcome, label in self._outcomes(entry).items()
            ),
            unit=entry.reading.unit if entry.reading else "",
            quantity=entry.reading.quantity if entry.reading else "",
        )

    def _outcomes(self, entry: CheckEntry) -> Mapping[str, str]:
        """The outcomes of a check in words; that there is none where the machine may lack it."""
        if self.not_known.isdisjoint(entry.needs):
            return entry.outcomes
        return {**entry.outcomes, NOT_THERE: NOT_THERE_LABEL}

    def repair(self, entry: RepairEntry) -> Step:
        """A repair with the panels on its way, parts to have ready, and when it is done."""
        # said last: it is what one looks at before the machine is closed
        done = (f"Done when: {entry.done_when}",) if entry.done_when else ()
        return Step(
            kind="repair",
            id=entry.id,
            title=entry.title,
            minutes=self.minutes(entry),
            people=self._people(entry),
            tools=entry.tools,
            openings=self.openings(entry.access),
            cautions=(*self._forbidden(entry.runs), *caution_texts(self.family, entry.cautions)),
            forbidden=self._forbidden(entry.runs),
            # what the set's rule says comes before a part is fetched or a pin drawn
            steps=(
                *((note,) if (note := self.set_notes.get(entry.id)) else ()),
                *ready_lines(self.family, entry, self.supply),
                *entry.steps,
                *done,
            ),
        )

    def proof(self, after: RepairEntry | None = None) -> Step:
        """The run that proves a repair, with its two answers.

        ``after``: a repair that will be done before it; what it mends does not forbid the proof.
        """
        family = self.family
        forbidden = self._forbidden(True, after)
        return Step(
            kind="proof",
            id="proof",
            title=f"Prove it on {a_kind(family.proof_word)}",
            # closing is not added: it was counted with the step that opened
            minutes=family.proof_minutes,
            people=1,
            # nothing to open: it needs the machine shut, whatever stood open before
            tools=(),
            openings=(),
            cautions=(*forbidden, *caution_texts(family, family.proof_cautions)),
            steps=family.proof_steps,
            forbidden=forbidden,
            question="Did it run true?",
            answers=(
                Answer("passed", "It ran true", 0.0, ""),
                Answer("failed", "Still not right", 0.0, ""),
            ),
        )

    def ending(self, name: str) -> Step:
        """A way to end the job; before stripping a machine stand the cautions of all its panels."""
        return Step(
            kind="ending",
            id=name,
            title=OPTIONS[name],
            minutes=0.0,
            people=1,
            tools=(),
            openings=(),
            cautions=(stripping_cautions(self.family, self.features) if name == "part_out" else ()),
            steps=ENDING_STEPS.get(name, ()),
        )

    def minutes(self, entry: CheckEntry | RepairEntry) -> float:
        """Minutes of a check or repair, with opening and closing what is still shut before it."""
        return entry.minutes + sum(opening.minutes for opening in self.openings(entry.access))

    def openings(self, access: str | None) -> tuple[Opening, ...]:
        """The panels and positions still shut on the way to ``access``, outermost first."""
        # innermost first from the catalog; one opens from the outside, so it is turned round
        way = [self.family.access[name] for name in panels_for(self.family, access)]
        return tuple(
            Opening(
                access=panel.id,
                title=panel.title,
                minutes=panel.open_min + panel.close_min,
                people=panel.people,
                tools=panel.tools,
                cautions=caution_texts(self.family, panel.cautions),
                steps=panel.steps,
            )
            for panel in reversed(way)
            if panel.id not in self.opened
        )

    def _forbidden(self, runs: bool, after: RepairEntry | None = None) -> tuple[str, ...]:
        """Why a step must not run the machine; empty where it does not, or may."""
        if not runs:
            return ()
        cures = after.cures if after else {}
        left = (e for e in self.must_not_run if not mends(tuple(e.chances), e.chances, cures))
        return run_texts(tuple(left))

    def _people(self, entry: CheckEntry | RepairEntry) -> int:
        # the most that any part of it needs: nobody starts alone and looks for help in mid-tilt
        return max([entry.people, *(opening.people for opening in self.openings(entry.access))])


def caution_texts(family: Family, cautions: Iterable[str]) -> tuple[str, ...]:
    """The texts of cautions by their ids, the grave ones first, each once.

    KeyError for an id that the family does not have: a caution is never dropped in silence.
    """
    # grave ones first: who reads only the first line reads the one that saves a life
    known = [family.cautions[name] for name in dict.fromkeys(cautions)]
    return tuple(caution.text for caution in sorted(known, key=lambda c: not c.grave))


def stripping_cautions(
    family: Family, features: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """What to mind where a machine is stripped for its parts: every panel may be opened.

    ``features``: those known of it. A panel that leads only to what it cannot have is left out;
    where nothing is known, every panel of the family counts.
    """
    work: list[CheckEntry | RepairEntry] = [*family.checks.values(), *family.repairs.values()]
    # a panel that nothing of the catalog lies behind may be opened all the same
    barred = {panel for entry in work for panel in panels_for(family, entry.access)} - {
        panel
        for entry in work
        if fits(entry.needs, features or {})
        for panel in panels_for(family, entry.access)
    }
    return caution_texts(
        family,
        (
            name
            for panel in family.access.values()
            if panel.id not in barred
            for name in panel.cautions
        ),
    )
