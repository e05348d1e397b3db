"""A job in the terminal: the same words in the same order as on the pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from counterpoise.cli.terminal import say
from counterpoise.report.words import numbers as words
from counterpoise.report.words.runners_up import instead
from counterpoise.report.words.standing import standing
from counterpoise.workshop.jobs.entries import CANNOT_REACH, COULD_NOT_TELL

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.report.words.entry_lines import EntryLine
    from counterpoise.workshop.diagnosis.assessment import Assessment, Step

_MOST_SUSPECTS = 6  # beyond these the chances are small, and the page has all of them


def bench(view: JobView, picked: Step | None = None) -> RenderableType:
    """What now, why, what else it could be, what it is worth; ``picked``: a step shown instead."""
    assessment = view.assessment
    # the four questions of the bench page, in its order
    parts = [
        ("NOW", _now(view, picked)),
        ("WHY", _why(view) if picked is None else [say(view.pick_note)]),
        ("ELSE", _else(view)),
        ("WORTH", _worth(view)),
    ]
    return Group(_head(view), *_warned(assessment), *_ticket(parts))


def _head(view: JobView) -> RenderableType:
    return Group(say(f"No. {view.job.number}  {view.title}", "bold"), say(" · ".join(view.facts)))


def _warned(assessment: Assessment) -> list[RenderableType]:
    return [say(f"! {warning}", "bold") for warning in assessment.warnings]


def _ticket(parts: Iterable[tuple[str, Iterable[RenderableType]]]) -> Iterator[RenderableType]:
    # labels at the left, what they hold at the right, a tear line above each: as on the page
    for label, content in parts:
        grid = Table.grid(padding=(0, 2), expand=True)
        grid.add_column(width=6)
        grid.add_column(ratio=1)
        grid.add_row(say(label, "bold red"), Group(*content))
        yield Rule(style="dim", characters="- ")
        yield grid


def _now(view: JobView, picked: Step | None) -> Iterator[RenderableType]:
    from counterpoise.report.views.measures.handling import lifting_lines

    assessment = view.assessment
    step = picked or assessment.next
    if step is None:
        yield say("This job is closed", "bold")
        return
    yield say(step.title, "bold")
    # why the checks end is about the advised step, not about one picked by hand
    if assessment.stop_reason and picked is None:
        yield say(assessment.stop_reason)
    # an ending has no minutes and no tools: it is a decision
    if step.withheld:
        yield from _cautions(step.cautions)
        yield say("What is to be done is shown once you have read this: add --acknowledged.")
    elif step.kind != "ending":
        yield from instructions(step, lifting_lines(step, view.family, view.figures))
    else:
        yield from _cautions(step.cautions)
        yield from _numbered(step.steps)
    yield from _answers(step)


def instructions(step: Step, lifting: tuple[str, ...] = ()) -> Iterator[RenderableType]:
    """How to do a step, in minutes; cautions first; ``lifting``: lines on what tipping takes."""
    # first what to fetch: nobody wants to walk twice
    needs = [words.minutes(step.minutes), words.people(step.people), *step.tools]
    yield say(", ".join(needs if step.openings else [*needs, "nothing to open"]), "dim")
    yield from _cautions((*step.cautions, *lifting))
    for opening in step.openings:
        effort = ", ".join([words.minutes(opening.minutes), *opening.tools])
        yield say(f"Open first: {opening.title} ({effort})", "bold")
        # said once: a caution of the step itself stands above already
        yield from _cautions(text for text in opening.cautions if text not in step.cautions)
        yield from _numbered(opening.steps)
    # opened first, then the step itself
    if step.openings:
        yield say("Then", "bold")
    yield from _numbered(step.steps)


def _cautions(texts: Iterable[str]) -> Iterator[RenderableType]:
    for text in texts:
        yield say(f" ! {text} ", "reverse")


def _numbered(steps: Iterable[str]) -> Iterator[RenderableType]:
    for index, step in enumerate(steps, 1):
        grid = Table.grid(padding=(0, 1))
        grid.add_row(say(f"{index:>2}."), say(step))
        yield grid


def _answers(step: Step) -> Iterator[RenderableType]:
    if step.kind == "check":
        yield say(step.question or "What did you find?", "bold")
        grid = Table.grid(padding=(0, 2))
        if step.unit:
            grid.add_row(say("  --reading N"), say(f"{step.quantity}, in {step.unit}"))
        for answer in step.answers:
            grid.add_row(say(f"  {answer.outcome}"), say(answer.label))
        # honest answers too: a guess would be taken for evidence
        grid.add_row(say(f"  {COULD_NOT_TELL}"), say("Could not tell"))
        grid.add_row(say(f"  {CANNOT_REACH}"), say("Cannot reach it"))
        yield grid
    elif step.question:
        yield say(step.question, "bold")
        grid = Table.grid(padding=(0, 2))
        for answer in step.answers:
            grid.add_row(say(f"  --{answer.outcome}"), say(answer.label))
        yield grid


def _why(view: JobView) -> Iterator[RenderableType]:
    assessment, currency = view.assessment, view.currency
    if assessment.why:
        yield say(assessment.why)
    # who reads why should know which figures are this workshop's own
    for text in assessment.changed:
        yield say(text[:1].upper() + text[1:], "dim")
    step = assessment.next
    if step is None:
        return
    if assessment.careful:
        yield say(assessment.careful.text)
    for answer in step.answers:
        if answer.leads_to:
            yield say(
                f"  {answer.label}: then {answer.leads_to[:1].lower()}{answer.leads_to[1:]}", "dim"
            )
    # what it would cost to do another step, so that one's own habit can be weighed
    for rival in assessment.rivals:
        note = f"; {rival.note}" if rival.note else ""
        yield say(f"Instead: {rival.title} ({instead(rival, currency)}{note})")
    if assessment.contest:
        yield say(f'"{assessment.contest.title}" would be the better step if')
        for turning in assessment.contest.turnings:
            yield say(f"  {turning.text}", "dim")
        yield say(
            "  (one figure moved at a time, both ways of going on held as planned now)", "dim"
        )


def _else(view: JobView) -> Iterator[RenderableType]:
    # of a closed job the question is no longer what it could be, but what it was
    if view.job.closed:
        yield from (say(fault) for fault in view.wrong or ("Nothing was named.",))
        return
    grid = Table.grid(padding=(0, 2))
    for rank, suspect in enumerate(view.assessment.suspects[:_MOST_SUSPECTS]):
        # those decide whether the machine is worth another hour
        mark = " (may end the machine)" if suspect.write_off else ""
        grid.add_row(say(suspect.title + mark), say(standing(suspect, rank == 0)))
    yield grid


def _worth(view: JobView) -> Iterator[RenderableType]:
    assessment, currency = view.assessment, view.currency
    if assessment.next is not None:
        ahead = words.minutes(assessment.minutes_expected)
        value = words.about(assessment.value_minor, currency)
        yield say(f"Going on as advised: {value}, about {ahead} from here")
        if assessment.ahead:
            yield say(assessment.ahead)
        yield say(f"{assessment.ways_title}:")
    grid = Table.grid(padding=(0, 2))
    for option in assessment.options:
        # an option that this job cannot have is left out here; the page says why
        if option.available:
            amount = words.about(option.value_minor, currency)
            reach = words.reach(option.low_minor, option.high_minor, currency)
            title = f"{option.title} ({assessment.best_mark})" if option.best else option.title
            grid.add_row(
                say(title), Text(amount, justify="right"), say(f"{reach}" if reach else "")
            )
    yield grid
    best = next((option for option in assessment.options if option.best), None)
    if best is not None and assessment.next is not None:
        yield from (say(sentence, "dim") for sentence in best.hinges)
    if view.assumed_money:
        yield say(f"Assumed: {view.assumed_money}", "dim")


def evidence(lines: Iterable[EntryLine]) -> RenderableType:
    """Every entry: number, time, who, minutes, what; those taken back are marked."""
    grid = Table.grid(padding=(0, 2))
    for line in lines:
        result = f"{words.colon(line.what)} {line.result}" if line.result else ""
        back = f" (taken back by entry {line.retracted})" if line.retracted else ""
        spent = "" if line.minutes is None else words.minutes(line.minutes)
        text = say(f"{line.what}{result}{back}", "dim" if line.retracted else "")
        if line.note:
            text.append_text(say(f"\n{line.note}", "italic"))
        grid.add_row(
            say(str(line.number)), say(words.when(line.at)), say(line.by), say(spent), text
        )
    return Padding(grid, (1, 0, 0, 0))
