"""``counterpoise demo``: three machines of an invented workshop, played from intake to their end."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.report.views.quote import QuotePaper
    from counterpoise.workshop.demo.play import Machine, Said
    from counterpoise.workshop.diagnosis.assessment import OptionView, Suspect
    from counterpoise.workshop.jobs.entries import Body
    from counterpoise.workshop.services.workshop import Workshop

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


@dataclass(frozen=True, slots=True)
class Offer:
    """What the quote came to. ``limit_minor``: the most a repair is worth to this customer.

    ``kept_minor``: of the price, before tax, what the workshop would keep after parts and its own bench time.
    """

    price_minor: int
    ceiling_minor: int
    limit_minor: int
    works: float
    kept_minor: int
    best: str
    accepted: bool


@dataclass(frozen=True, slots=True)
class Story:
    """A machine played to its end."""

    id: str
    lesson: str
    turns: tuple[Turn, ...]
    ending: str
    received_minor: int
    files: tuple[str, ...]
    offer: Offer | None = None
    obvious: Obvious | None = None


@click.command()
@click.option(
    "--folder",
    default="demo",
    show_default=True,
    type=click.Path(file_okay=False),
    help="Where to write.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def demo(folder: str, as_json: bool) -> None:
    """Play three invented machines to their ends: one mended, one not although the owner would pay, one for its parts.

    Says what each finding changed, and writes quotes, job sheets and labels.
    """
    from counterpoise.workshop.demo.play import MACHINES, SETTINGS
    from counterpoise.workshop.services.intake import open_workshop

    _make(Path(folder))
    with TemporaryDirectory() as scratch:
        workshop = open_workshop(str(Path(scratch) / "demo.db"))
        with workshop.store:
            workshop.change_settings(SETTINGS)
            stories = [
                _played(workshop, machine, Path(folder), tell=not as_json) for machine in MACHINES
            ]
    if as_json:
        click.echo(
            json.dumps(
                {"machines": [asdict(story) for story in stories]}, indent=2, ensure_ascii=False
            )
        )
        return
    click.echo(
        f"\nWritten to {folder}: {', '.join(Path(file).name for story in stories for file in story.files)}."
    )


def _played(workshop: Workshop, machine: Machine, folder: Path, tell: bool) -> Story:
    from counterpoise.cli.job.sheet import write_sheet
    from counterpoise.report.paper.sheet import build_sheet
    from counterpoise.report.paper.sheet_spin import with_spin
    from counterpoise.report.views.job import job_view
    from counterpoise.workshop.demo.play import MACHINES, play

    turns: list[Turn] = []
    views: list[JobView] = []
    offers: list[Offer] = []
    if tell:
        _head(machine, MACHINES.index(machine) + 1)
    for job in play(
        workshop,
        machine,
        lambda number, said: _asked(
            job_view(workshop, number), said, _named(folder, machine), offers, tell
        ),
    ):
        seen = job_view(workshop, job.number)
        if tell:
            _tell(views, seen, whole=machine is MACHINES[0])
        if views:
            turns.append(_turn(views[-1], seen))
        views.append(seen)
    last, named = views[-1], _named(folder, machine)
    sheet = with_spin(build_sheet(last.job, last.family, last.assessment, last.settings), last)
    files = write_sheet(sheet, f"{named}-sheet.pdf", f"{named}-sheet.html")
    files += [f"{named}-quote.pdf"] if offers else _labels(last, named)
    obvious = None if offers else _obvious(views)
    if tell:
        _settle(views, obvious)
    closed = last.job.closed
    return Story(
        id=machine.id,
        lesson=machine.lesson,
        turns=tuple(turns),
        ending=closed.ending if closed else "",
        received_minor=(closed.received_minor if closed else None) or 0,
        files=tuple(files),
        offer=offers[0] if offers else None,
        obvious=obvious,
    )


def _named(folder: Path, machine: Machine) -> str:
    return str(folder / machine.id.replace("_", "-"))


def _head(machine: Machine, number: int) -> None:
    from counterpoise.cli.job.show import console, say

    out = console()
    out.print()
    out.rule(say(f" {number}. {machine.lesson} ", "bold red"), style="red", align="left")
    out.print()


def _asked(seen: JobView, said: Said, named: str, offers: list[Offer], tell: bool) -> Body:
    """Quote the work, write the quote, and put the customer's answer down."""
    from counterpoise.report.paper.pdf import quote_pdf
    from counterpoise.report.views.quote import quote_paper
    from counterpoise.workshop.diagnosis.prices import Prices
    from counterpoise.workshop.services.quote_answers import QuoteReply, decision_for

    paper, costs = quote_paper(seen), seen.snapshot.costing()
    Path(f"{named}-quote.pdf").write_bytes(quote_pdf(paper))
    age = seen.job.intake.age_years or seen.settings.unknown_age_years
    worth = costs.works * Prices(seen.family, seen.settings, "customer", age).working
    best = _best(seen)
    offers.append(Offer(
        paper.price_minor, paper.ceiling_minor, round(worth), costs.works,
        costs.estimate.net_minor - costs.own.net_minor, best.title if best else "", said.option == "repair_hand_back",
    ))  # fmt: skip
    if tell:
        _tell_offer(paper, offers[-1])
    answer, _ = decision_for(
        seen.snapshot, QuoteReply(said.option, said.who, paper.price_minor, paper.repairs)
    )
    return replace(answer, why=said.why)


def _tell_offer(paper: QuotePaper, offer: Offer) -> None:
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import about

    out = console()
    out.rule(style="dim")
    out.print(say(f"The quote: {paper.price}, at most {paper.ceiling}", "bold"))
    for passage in paper.passages:
        if passage.title not in {"What we would do", "Our guarantee"}:
            out.print(say(f"   {passage.title}: {' '.join(passage.sentences[:2])}"))
    if not offer.accepted:
        price, limit, kept = (
            about(m, paper.currency)
            for m in (offer.price_minor, offer.limit_minor, offer.kept_minor)
        )
        said = f"   Paying {price} would have bought {limit} worth of machine; we would have kept {kept} of it. We say no."
        out.print(say(said, "bold"))


def _labels(last: JobView, named: str) -> list[str]:
    from counterpoise.report.paper.pdf import labels_pdf
    from counterpoise.report.views.donor import donor

    Path(f"{named}-labels.pdf").write_bytes(labels_pdf(donor(last)))
    return [f"{named}-labels.pdf"]


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


def _moves(
    before: tuple[Suspect, ...], after: tuple[Suspect, ...]
) -> list[tuple[str, float, float]]:
    """The likeliest suspects, and those that were, with their chance before and after."""
    old = {suspect.fault: suspect.probability for suspect in before}
    new = {suspect.fault: suspect.probability for suspect in after}
    titles = {suspect.fault: suspect.title for suspect in (*before, *after)}
    shown = sorted(titles, key=lambda fault: -max(old.get(fault, 0.0), new.get(fault, 0.0)))[
        :_SHOWN
    ]
    return [(titles[fault], old.get(fault, 0.0), new.get(fault, 0.0)) for fault in shown]


def _tell(views: list[JobView], seen: JobView, whole: bool) -> None:
    """Say what an entry changed; of the first machine, show all that the bench page shows when it comes in."""
    from counterpoise.cli.job.show import bench, console, say
    from counterpoise.report.words.numbers import colon

    out = console()
    if not views:
        out.print(bench(seen) if whole else say(f"{seen.title} ({', '.join(seen.facts)})", "bold"))
        out.print(say(seen.job.intake.story, "italic"))
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

    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import about, chance

    grid = Table.grid(padding=(0, 2))
    for title, old, new in _moves(before.assessment.suspects, after.assessment.suspects):
        moved = (
            "the same" if abs(new - old) < _MOVED else "more likely" if new > old else "less likely"
        )
        grid.add_row(say(f"   {title}"), say(f"{chance(old)} to {chance(new)}"), say(moved))
    console().print(grid)
    best, step = _best(after), after.assessment.next
    if step is not None:
        console().print(say(f"   Next: {step.title}"))
    if best is not None and step is not None:
        console().print(
            say(f"   Best today: {best.title}, {about(best.value_minor, after.currency)}")
        )


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
    best = max(
        paid, key=lambda repair: then[repair] - now.get(repair, 0)
    )  # what was found later took most from it
    decision = views[-1].job.decision
    chosen = next(o for o in known[-1].assessment.options if decision and o.id == decision.option)
    title = hopeful.family.repairs[best].title
    return Obvious(
        title, hopeful.last, then[best], now.get(best, 0), chosen.title, chosen.value_minor
    )


def _repairs(seen: JobView) -> dict[str, int]:
    """What beginning with each repair is worth, as the planner sees it."""
    from counterpoise.workshop.diagnosis.analysis import analyse

    plan = analyse(seen.snapshot).plan
    return {
        one.action.id: round(one.lower)
        for one in plan.action_bounds
        if one.action.id in seen.family.repairs
    }


def _settle(views: list[JobView], obvious: Obvious | None) -> None:
    """Say what the obvious repair would have been worth, and what the machine brought."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.entry_lines import option_title
    from counterpoise.report.words.numbers import money

    out, last = console(), views[-1]
    out.rule(style="dim")
    if obvious is not None:
        _tell_obvious(views, obvious)
    closed = last.job.closed
    if closed is not None:
        took = (
            ""
            if closed.received_minor is None
            else f", brought in {money(closed.received_minor, last.currency)}"
        )
        out.print(say(f"Closed: {option_title(closed.ending)}{took}", "bold"))


def _tell_obvious(views: list[JobView], obvious: Obvious) -> None:
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import about, reach

    out, currency = console(), views[-1].currency
    spared = obvious.decided_minor - obvious.now_minor
    out.print(say(f"The obvious: {obvious.repair}", "bold"))
    out.print(
        say(
            f"   after entry {obvious.after_entry} it looked worth {about(obvious.then_minor, currency)}"
        )
    )
    out.print(say(f"   knowing what was found after, {about(obvious.now_minor, currency)}"))
    out.print(say(f"Decided: {obvious.decided}, {about(obvious.decided_minor, currency)}", "bold"))
    out.print(say(f"   {about(spared, currency)} better than the obvious"))
    for option in next(
        seen for seen in reversed(views) if not seen.job.decision
    ).assessment.options:
        wide = reach(option.low_minor, option.high_minor, currency)
        if option.available and option.title != obvious.decided:
            amount = about(option.value_minor, currency)
            out.print(say(f"   {option.title}: {amount}{f' ({wide})' if wide else ''}"))


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{folder}: {error.strerror}", field="folder", remedy="Give another --folder."
        ) from error
