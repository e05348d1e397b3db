"""The job sheet in parts, the same for page and paper."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.report.views.measures.handling import TIPPING, lifting_lines
from counterpoise.report.words import numbers as words
from counterpoise.report.words.entry_lines import OWNERS, EntryLine, entry_lines, figure_words
from counterpoise.workshop.diagnosis.assessment import Assessment, Step
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Intake, Job
from counterpoise.workshop.jobs.machine_figures import figures_of_job
from counterpoise.workshop.jobs.settings import Settings

_MOST_SUSPECTS = 5
PLAIN = frozenset({"Finding", "Note", "Own figures"})  # lines that say by themselves what they are


@dataclass(frozen=True, slots=True)
class Row:
    """A label and its text."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """Something put down: when, what, what it showed; ``joint`` is the sign between the two."""

    number: int
    when: str
    what: str
    result: str
    minutes: str
    note: str
    joint: str = ":"


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of work, or a panel to open on the way: cautions come before the steps."""

    title: str
    needs: str
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    done_when: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """A way to end the job with its worth."""

    title: str
    value: str
    range: str
    hinges_on: str
    best: bool


@dataclass(frozen=True, slots=True)
class SheetSpin:
    """What the machine does in a spin, sound and with its fault: title, sentences, figure as SVG (or empty)."""

    title: str
    sentences: tuple[str, ...]
    svg: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that the sheet of a job says."""

    workshop: str
    number: int
    title: str
    machine: tuple[Row, ...]
    heard: tuple[str, ...]
    story: str
    lines: tuple[Line, ...]
    spent: str
    suspects: tuple[Row, ...]
    ways: tuple[Way, ...]
    decision: str
    why: str
    work: tuple[Part, ...]
    ended: str
    address: str = ""
    spin: SheetSpin | None = None


def build_sheet(
    job: Job, family: Family, found: Assessment, settings: Settings, address: str = ""
) -> Sheet:
    """The sheet of a job as it stands. ``address`` is where the job can be looked up, if anywhere."""
    told = entry_lines(job, family, settings.currency)
    intake = job.intake
    return Sheet(
        workshop=settings.workshop_name,
        number=job.number,
        title=intake.title,
        machine=_machine(intake, family, job),
        heard=tuple(
            family.complaints[c].title if c in family.complaints else c for c in intake.complaints
        ),
        story=intake.story,
        lines=tuple(
            _line(line)
            for line in told
            if not line.retracted and line.kind not in {"Taken in", "Taken back"}
        ),
        spent=words.minutes(found.minutes_so_far),
        suspects=() if job.closed else _suspects(found),
        ways=() if job.closed else _ways(found, settings.currency),
        decision=_decision(told),
        why=job.decision.why if job.decision else found.stop_reason or found.why,
        work=_work(job, found, family),
        ended=next(
            (
                _ending(line)
                for line in reversed(told)
                if line.kind == "Closed" and not line.retracted
            ),
            "",
        ),
        address=address,
    )


def _machine(intake: Intake, family: Family, job: Job) -> tuple[Row, ...]:
    known = [
        family.features[key].values.get(value, value)
        for key, value in intake.features.items()
        if key in family.features
    ]
    rows = {
        "Machine": family.title,
        "Maker and model": " ".join(part for part in (intake.maker, intake.model) if part),
        "Serial number": intake.serial,
        "Age": words.age(intake.age_years),
        "Sort": "; ".join(known),
        "Its own figures": "; ".join(
            figure_words(one.id, one.value, family) for one in figures_of_job(job).values()
        ),
        "Whose": OWNERS[intake.owner],
        "Owner": intake.contact,
        "Taken in": words.when(job.entries[0].at),
    }
    return tuple(Row(label, text) for label, text in rows.items() if text)


def _line(line: EntryLine) -> Line:
    spent = "" if line.minutes is None else words.minutes(line.minutes)
    what = (
        line.what if line.what == line.kind or line.kind in PLAIN else f"{line.kind}: {line.what}"
    )
    return Line(
        line.number, words.when(line.at), what, line.result, spent, line.note, words.colon(what)
    )


def _suspects(found: Assessment) -> tuple[Row, ...]:
    shown = [s for s in found.suspects if s.probability >= 0.01][:_MOST_SUSPECTS]
    return tuple(Row(s.title, f"{s.word}, {words.chance(s.probability)}") for s in shown)


def _ways(found: Assessment, currency: str) -> tuple[Way, ...]:
    return tuple(
        Way(
            option.title,
            words.about(option.value_minor, currency),
            words.reach(option.low_minor, option.high_minor, currency),
            option.hinges_on,
            option.best,
        )
        for option in found.options
        if option.available
    )


def _decision(told: tuple[EntryLine, ...]) -> str:
    last = next(
        (line for line in reversed(told) if line.kind == "Decision" and not line.retracted), None
    )
    if last is None:
        return ""
    return f"{last.what}, {last.result}" if last.result else last.what


def _ending(line: EntryLine) -> str:
    return f"{line.what}: {line.result}" if line.result else line.what


def _work(job: Job, found: Assessment, family: Family) -> tuple[Part, ...]:
    """The advised step with the panels on its way; after a repair, the spin that proves it."""
    if job.closed is not None or found.next is None or found.next.kind == "ending":
        return ()
    steps = [found.next]
    if found.next.kind == "repair":
        steps.append(StepBuilder(family).proof())
    return tuple(part for step in steps for part in _parts(step, lifting_lines(step, family)))


def _parts(step: Step, lifting: tuple[str, ...]) -> list[Part]:
    """The panels on the way, then the step; a caution that stands above already is not said twice.

    ``lifting``: what tipping this machine takes, said before it is tipped.
    """
    way: list[Part] = []
    said: tuple[str, ...] = ()
    for o in step.openings:
        cautions = (*o.cautions, *(lifting if o.access in TIPPING else ()))
        way.append(
            Part(
                f"Open first: {o.title}",
                _needs(o.minutes, o.people, o.tools),
                _new(cautions, said),
                o.steps,
            )
        )
        said += cautions
    needs = _needs(step.minutes, step.people, step.tools)
    return [*way, Part(step.title, needs, _new(step.cautions, said), step.steps, step.question)]


def _new(cautions: tuple[str, ...], said: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(text for text in cautions if text not in said)


def _needs(minutes: float, people: int, tools: tuple[str, ...]) -> str:
    hands = "" if people == 1 else words.people(people)
    return ", ".join(part for part in (words.minutes(minutes), hands, *tools) if part)
