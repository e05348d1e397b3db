"""The job sheet in parts, the same for page and paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.report.drawings.pictures import job_machine
from counterpoise.report.views.job import JobView
from counterpoise.report.views.measures.handling import lifting_lines, tips
from counterpoise.report.words import numbers
from counterpoise.report.words.entry_lines import OWNERS, EntryLine, figure_words
from counterpoise.report.words.standing import standing
from counterpoise.workshop.diagnosis.assessment import Assessment, Step
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.machine_features import known_features
from counterpoise.workshop.jobs.machine_figures import figures_of_job

# one sheet for the bench: what is likelier than a tail of rare faults
_MOST_SUSPECTS = 5
_LEAST_LIKELY = 0.01
_MOST_PHOTOS = 6  # a page of them
# kinds of lines that say by themselves what they are
PLAIN = frozenset({"Finding", "Note", "Machine data"})
NOT_LISTED = frozenset({"Taken in", "Taken back"})

# fields and rows that a person typed, or that are drawings: in every language the same
TYPED = frozenset(
    {"workshop", "story", "note", "address", "drawing", "svg"}
    | {"Maker and model", "Serial number", "Owner"}
)


@dataclass(frozen=True, slots=True)
class Row:
    """A label and its text."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """Something put down: when, what, what it showed, how long it took (or empty).

    ``joint`` is the sign between what was asked and what it showed.
    """

    number: int
    when: str
    what: str
    result: str
    minutes: str
    note: str
    # a question mark needs no colon after it
    joint: str = ":"
    typed: bool = False  # what was done is somebody's own words: no other language has them


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of work, or a panel to open on the way; its cautions are printed before its steps."""

    title: str
    needs: str
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    # on paper there is a line beside it to write the answer on
    done_when: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """A way to end the job with its worth in words; ``range`` empty where it is a single amount."""

    title: str
    value: str
    range: str
    # what the worth depends on most: who knows it better decides better
    hinges_on: str
    best: bool


@dataclass(frozen=True, slots=True)
class SheetSpin:
    """What the machine does in a spin, sound and with its fault; ``svg`` is the figure or empty."""

    title: str
    sentences: tuple[str, ...]
    svg: str


@dataclass(frozen=True, slots=True)
class SheetPhoto:
    """A photo by its id, with the entry that it belongs to in words."""

    id: str
    words: str


@dataclass(frozen=True, slots=True)
class SheetCurve:
    """The last recorded spin: title, what it says, and its figure as SVG or empty."""

    title: str
    sentence: str
    svg: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that the sheet of a job says, in words; ``spin`` None without a model of it.

    ``curve`` is None where no spin was recorded.
    """

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
    # the reason of the decision, else that of the advice
    why: str
    work: tuple[Part, ...]
    ended: str
    address: str = ""
    spin: SheetSpin | None = None
    # what must not be run or handed on, said over all else
    mind: tuple[str, ...] = ()
    photos: tuple[SheetPhoto, ...] = ()
    curve: SheetCurve | None = None
    # the machine with what is to be done, else with what was looked at (SVG); empty for neither
    drawing: str = ""


def build_sheet(view: JobView, address: str = "") -> Sheet:
    """The sheet of a job as it stands; ``address`` is where it can be looked up, or empty."""
    job, assessment, intake = view.job, view.assessment, view.job.intake
    complaints = view.family.complaints
    standing = [line for line in view.lines if not line.retracted]
    return Sheet(
        workshop=view.settings.workshop_name,
        number=job.number,
        title=intake.title,
        machine=_machine(view),
        heard=tuple(complaints[c].title if c in complaints else c for c in intake.complaints),
        story=intake.story,
        # the intake is the head of the sheet; a retraction only says what no longer stands
        lines=tuple(_line(line) for line in standing if line.kind not in NOT_LISTED),
        spent=numbers.minutes(assessment.minutes_so_far),
        suspects=() if job.closed else _suspects(assessment),
        ways=() if job.closed else _ways(assessment, view.currency),
        decision=_last(standing, "Decision", ", "),
        why=job.decision.why if job.decision else assessment.stop_reason or assessment.why,
        work=_work(view),
        mind=assessment.forbidden,
        photos=_photos(standing),
        ended=_last(standing, "Closed", ": "),
        address=address,
        drawing=str(job_machine(view.family, job, assessment.next, assessment.suspects)),
    )


def _machine(view: JobView) -> tuple[Row, ...]:
    job, family, intake = view.job, view.family, view.job.intake
    features = [
        family.features[key].values.get(value, value)
        for key, value in known_features(family, job).items()
        if key in family.features
    ]
    figures = [
        figure_words(figure.id, figure.value, family) for figure in figures_of_job(job).values()
    ]
    # in the order in which a machine is recognised
    rows = {
        "Machine": family.title,
        "Maker and model": " ".join(part for part in (intake.maker, intake.model) if part),
        "Serial number": intake.serial,
        "Age": numbers.age(intake.age_years),
        "Sort": "; ".join(features),
        "Machine data": "; ".join(figures),
        "Whose": OWNERS[intake.owner],
        "Owner": intake.contact,
        "Taken in": numbers.when(job.entries[0].at),
    }
    return tuple(Row(label, text) for label, text in rows.items() if text)


def _line(line: EntryLine) -> Line:
    # "Proof spin: Proof spin" says nothing twice
    plain = line.what == line.kind or line.kind in PLAIN
    what = line.what if plain else f"{line.kind}: {line.what}"
    return Line(
        number=line.number,
        when=numbers.when(line.at),
        what=what,
        result=line.result,
        minutes="" if line.minutes is None else numbers.minutes(line.minutes),
        note=line.note,
        joint=numbers.colon(what),
        typed=line.kind == "Note",
    )


def _photos(standing: Sequence[EntryLine]) -> tuple[SheetPhoto, ...]:
    """The last photos of the job, oldest first, each once."""
    # by id: the same picture put down twice is the same photo
    named = {
        key: f"{line.number}. {_line(line).what}" + (f": {line.result}" if line.result else "")
        for line in standing
        for key in line.photos
    }
    return tuple(SheetPhoto(key, words) for key, words in named.items())[-_MOST_PHOTOS:]


def _suspects(assessment: Assessment) -> tuple[Row, ...]:
    # under one in a hundred is a suspicion that only makes the list longer
    likely = [s for s in assessment.suspects if s.probability >= _LEAST_LIKELY]
    return tuple(
        Row(each.title, standing(each, rank == 0))
        for rank, each in enumerate(likely[:_MOST_SUSPECTS])
    )


def _ways(assessment: Assessment, currency: str) -> tuple[Way, ...]:
    return tuple(
        Way(
            option.title,
            numbers.about(option.value_minor, currency),
            numbers.reach(option.low_minor, option.high_minor, currency),
            option.hinges_on,
            option.best,
        )
        for option in assessment.options
        if option.available
    )


def _last(lines: Sequence[EntryLine], kind: str, joint: str) -> str:
    """The last line of a kind with its result; empty where there is none."""
    last = next((line for line in reversed(lines) if line.kind == kind), None)
    if last is None:
        return ""
    return f"{last.what}{joint}{last.result}" if last.result else last.what


def _work(view: JobView) -> tuple[Part, ...]:
    """The advised step with the panels on its way; after a repair, the run that proves it."""
    step = view.assessment.next
    # nothing is left to do: the sheet says how it ended instead
    if view.job.closed is not None or step is None or step.kind == "ending":
        return ()
    steps = [step]
    if step.kind == "repair":
        # the proof is printed with the repair: it is forgotten otherwise
        build = StepBuilder.of(view.situation)
        steps.append(build.proof(after=view.family.repairs.get(step.id)))
    return tuple(
        part
        for each in steps
        for part in _parts(each, view.family, lifting_lines(each, view.family, view.figures))
    )


def _parts(step: Step, family: Family, lifting: tuple[str, ...]) -> list[Part]:
    """The panels on the way, then the step; a caution that stands above already is not said twice.

    ``lifting``: what tipping this machine takes, said before it is tipped.
    """
    way: list[Part] = []
    above: tuple[str, ...] = ()
    for opening in step.openings:
        cautions = (*opening.cautions, *(lifting if tips(family, opening.access) else ()))
        needs = _needs(opening.minutes, opening.people, opening.tools)
        title = f"Open first: {opening.title}"
        way.append(Part(title, needs, _not_in(above, cautions), opening.steps))
        # one box of cautions read well beats the same box three times
        above += cautions
    # what opening takes stands at the panels: said again here it would be counted twice
    opened = sum(opening.minutes for opening in step.openings)
    needs = _needs(step.minutes - opened, step.people, step.tools)
    cautions = _not_in(above, step.cautions)
    return [*way, Part(step.title, needs, cautions, step.steps, step.question)]


def _not_in(above: tuple[str, ...], cautions: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(text for text in cautions if text not in above)


def _needs(minutes: float, people: int, tools: tuple[str, ...]) -> str:
    # one person is what everybody assumes
    hands = "" if people == 1 else numbers.people(people)
    return ", ".join(part for part in (numbers.minutes(minutes), hands, *tools) if part)
