"""``counterpoise demo``: one job of an invented workshop, played from intake to its end."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.view import JobView
    from counterpoise.workshop.assessment import OptionView, Suspect

_SHOWN = 4
_MOVED = 0.005


@dataclass(frozen=True, slots=True)
class Turn:
    """What an entry changed: suspects before and after, the advised step, the best way to end the job."""

    entry: int
    what: str
    result: str
    suspects: tuple[tuple[str, float, float], ...]  # (title, before, after)
    advised: str
    best: str
    value_minor: int


@click.command()
@click.option("--folder", default="demo", show_default=True, type=click.Path(file_okay=False), help="Where to write.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def demo(folder: str, as_json: bool) -> None:
    """Play an invented job to its end, say what each finding changed, and write its sheet."""
    from counterpoise.cli.jobs import write_sheet
    from counterpoise.report.sheet import build_sheet

    _make(Path(folder))
    turns, obvious, last = _play(tell=not as_json)
    sheet = build_sheet(last.job, last.family, last.assessment, last.settings)
    files = write_sheet(sheet, str(Path(folder) / "sheet.pdf"), str(Path(folder) / "sheet.html"))
    if as_json:
        told = {"turns": [asdict(turn) for turn in turns], "obvious": asdict(obvious), "files": files}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    click.echo(f"\nThe job sheet is in {' and '.join(files)}.")


def _play(tell: bool) -> tuple[list[Turn], Obvious, JobView]:
    from counterpoise.report.taking import open_desk
    from counterpoise.report.view import view
    from counterpoise.workshop.demo import SETTINGS, play

    with TemporaryDirectory() as scratch:
        desk = open_desk(str(Path(scratch) / "demo.db"))
        with desk.store:
            desk.change_settings(SETTINGS)
            turns: list[Turn] = []
            views: list[JobView] = []
            for job in play(desk):
                seen = view(desk, job.number)
                if tell:
                    _tell(views, seen)
                if views:
                    turns.append(_turn(views[-1], seen))
                views.append(seen)
    obvious = _obvious(views)
    if tell:
        _settle(views, obvious)
    return turns, obvious, views[-1]


def _turn(before: JobView, after: JobView) -> Turn:
    line, best = after.lines[-1], _best(after)
    return Turn(
        entry=line.number,
        what=line.what,
        result=line.result,
        suspects=tuple(_moves(before.assessment.suspects, after.assessment.suspects)),
        advised=after.assessment.next.title if after.assessment.next else "",
        best=best.title if best else "",
        value_minor=best.value_minor if best else 0,
    )


def _best(seen: JobView) -> OptionView | None:
    return next((option for option in seen.assessment.options if option.best), None)


def _moves(before: tuple[Suspect, ...], after: tuple[Suspect, ...]) -> list[tuple[str, float, float]]:
    """The likeliest suspects, and those that were, with their chance before and after."""
    old = {suspect.fault: suspect.probability for suspect in before}
    new = {suspect.fault: suspect.probability for suspect in after}
    titles = {suspect.fault: suspect.title for suspect in (*before, *after)}
    shown = sorted(titles, key=lambda fault: -max(old.get(fault, 0.0), new.get(fault, 0.0)))[:_SHOWN]
    return [(titles[fault], old.get(fault, 0.0), new.get(fault, 0.0)) for fault in shown]


def _tell(views: list[JobView], seen: JobView) -> None:
    from counterpoise.cli.show import bench, console, say
    from counterpoise.report.words import colon

    out = console()
    if not views:
        out.print(bench(seen))
        return
    before, line = views[-1], seen.lines[-1]
    out.rule(style="dim")
    result = f"{colon(line.what)} {line.result}" if line.result else ""
    out.print(say(f"{line.number}. {line.what}{result}", "bold"))
    if line.note:
        out.print(say(line.note, "italic"))
    if line.kind in {"Finding", "Repair", "Proof spin"}:
        _tell_moves(before, seen)


def _tell_moves(before: JobView, after: JobView) -> None:
    from rich.table import Table

    from counterpoise.cli.show import console, say
    from counterpoise.report.words import about, chance

    grid = Table.grid(padding=(0, 2))
    for title, old, new in _moves(before.assessment.suspects, after.assessment.suspects):
        moved = "the same" if abs(new - old) < _MOVED else "more likely" if new > old else "less likely"
        grid.add_row(say(f"   {title}"), say(f"{chance(old)} to {chance(new)}"), say(moved))
    console().print(grid)
    best, step = _best(after), after.assessment.next
    if step is not None:
        console().print(say(f"   Next: {step.title}"))
    if best is not None and step is not None:
        console().print(say(f"   Best today: {best.title}, {about(best.value_minor, after.currency)}"))


@dataclass(frozen=True, slots=True)
class Obvious:
    """The repair that looked best when hopes were highest: its worth then, and knowing what was found after."""

    repair: str
    after_entry: int
    then_minor: int
    now_minor: int
    decided: str
    decided_minor: int


def _obvious(views: list[JobView]) -> Obvious:
    """Set the obvious repair against what was decided, both appraised by the planner on what was known by then."""
    known = views[: next(at for at, seen in enumerate(views) if seen.job.decision)]
    hopeful = max(known, key=lambda seen: seen.assessment.value_minor)
    then, now = _repairs(hopeful), _repairs(known[-1])
    paid = [repair for repair, worth in then.items() if worth > 0] or list(then)
    best = max(paid, key=lambda repair: then[repair] - now.get(repair, 0))  # what was found later took most from it
    decision = views[-1].job.decision
    chosen = next(o for o in known[-1].assessment.options if decision and o.id == decision.option)
    title = hopeful.family.repairs[best].title
    return Obvious(title, hopeful.last, then[best], now.get(best, 0), chosen.title, chosen.value_minor)


def _repairs(seen: JobView) -> dict[str, int]:
    """What beginning with each repair is worth, as the planner sees it."""
    from counterpoise.workshop.assess import consider

    plan = consider(seen.family, seen.settings, seen.job).plan
    return {one.action.id: round(one.lower) for one in plan.appraisals if one.action.id in seen.family.repairs}


def _settle(views: list[JobView], obvious: Obvious) -> None:
    """Say what the obvious repair would have been worth, and what the machine brought."""
    from counterpoise.cli.show import console, say
    from counterpoise.report.lines import option_title
    from counterpoise.report.words import about, money, reach

    out, last = console(), views[-1]
    spared = obvious.decided_minor - obvious.now_minor
    out.rule(style="dim")
    out.print(say(f"The obvious: {obvious.repair}", "bold"))
    out.print(say(f"   after entry {obvious.after_entry} it looked worth {about(obvious.then_minor, last.currency)}"))
    out.print(say(f"   knowing what was found after, {about(obvious.now_minor, last.currency)}"))
    out.print(say(f"Decided: {obvious.decided}, {about(obvious.decided_minor, last.currency)}", "bold"))
    out.print(say(f"   {about(spared, last.currency)} better than the obvious"))
    for option in next(seen for seen in reversed(views) if not seen.job.decision).assessment.options:
        wide = reach(option.low_minor, option.high_minor, last.currency)
        if option.available and option.title != obvious.decided:
            amount = about(option.value_minor, last.currency)
            out.print(say(f"   {option.title}: {amount}{f' ({wide})' if wide else ''}"))
    closed = last.job.closed
    if closed is not None:
        took = "" if closed.received_minor is None else f", brought in {money(closed.received_minor, last.currency)}"
        out.print(say(f"Closed: {option_title(closed.ending)}{took}", "bold"))


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: {error.strerror}", field="folder", remedy="Give another --folder.") from error
