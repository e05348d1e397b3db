"""The demo in the terminal: each entry, what it changed, and how the machine ended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.cli.demo.story import best_option, chance_moves
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.cli.demo.story import Obvious, Offer
    from counterpoise.report.views.job import JobView
    from counterpoise.report.views.quote import QuotePaper
    from counterpoise.workshop.demo.play import Machine

_MOVED = 0.005  # half a per cent: what rounds to the same figure is called the same


def print_head(machine: Machine, number: int) -> None:
    """Print what is to be learned of a machine; ``number`` from 1."""
    out = console()
    out.print()
    out.rule(say(f" {number}. {machine.lesson} ", "bold red"), style="red", align="left")
    out.print()


def print_entry(views: list[JobView], view: JobView, whole: bool) -> None:
    """Print the last entry of ``view`` and what it changed since the last of ``views``.

    Where ``views`` is empty the machine comes in: with ``whole`` all of the bench page is printed.
    """
    from counterpoise.cli.job.show import bench
    from counterpoise.report.words.numbers import colon

    out = console()
    if not views:
        out.print(bench(view) if whole else say(f"{view.title} ({', '.join(view.facts)})", "bold"))
        out.print(say(view.job.intake.story, "italic"))
        return
    before, line = views[-1], view.lines[-1]
    out.rule(style="dim")
    result = f"{colon(line.what)} {line.result}" if line.result else ""
    out.print(say(f"{line.number}. {line.what}{result}", "bold"))
    if line.note:
        out.print(say(line.note, "italic"))
    # a remark or a decision moves no belief
    if line.kind in {"Finding", "Repair", "Proof spin"}:
        _print_moves(before, view)


def _print_moves(before: JobView, after: JobView) -> None:
    from rich.table import Table

    from counterpoise.report.words.numbers import about, chance

    grid = Table.grid(padding=(0, 2))
    for title, old, new in chance_moves(before.assessment.suspects, after.assessment.suspects):
        # words beside the figures: "less likely" is what one remembers
        moved = (
            "the same" if abs(new - old) < _MOVED else "more likely" if new > old else "less likely"
        )
        grid.add_row(say(f"   {title}"), say(f"{chance(old)} to {chance(new)}"), say(moved))
    console().print(grid)
    best, step = best_option(after), after.assessment.next
    if step is None:
        return
    console().print(say(f"   Next: {step.title}"))
    if after.assessment.checking:
        # while a check is advised, no way as it stands now is what the machine is worth
        worth = about(after.assessment.value_minor, after.currency)
        console().print(say(f"   Going on as advised: {worth}"))
    elif best is not None:
        worth = about(best.value_minor, after.currency)
        console().print(say(f"   Best today: {best.title}, {worth}"))


def print_offer(paper: QuotePaper, offer: Offer) -> None:
    """Print a quote in short and, where it will be declined, why the workshop says no itself."""
    from counterpoise.report.words.numbers import about

    out = console()
    out.rule(style="dim")
    out.print(say(f"The quote: {paper.price}, at most {paper.ceiling}", "bold"))
    for passage in paper.passages:
        # the work was just printed as the next step, and the paper has the small print
        if passage.title not in {"What we would do", "Our guarantee"}:
            out.print(say(f"   {passage.title}: {' '.join(passage.sentences[:2])}"))
    if not offer.accepted:
        amounts = (offer.price_minor, offer.limit_minor, offer.kept_minor)
        price, limit, kept = (about(minor, paper.currency) for minor in amounts)
        refusal = (
            f"   Paying {price} would have bought {limit} worth of machine; "
            f"we would have kept {kept} of it. We say no."
        )
        out.print(say(refusal, "bold"))


def print_end(views: list[JobView], obvious: Obvious | None) -> None:
    """Print how the machine ended, and what the obvious repair was worth; None for no such."""
    from counterpoise.report.words.entry_lines import option_title
    from counterpoise.report.words.numbers import money

    out, last = console(), views[-1]
    out.rule(style="dim")
    if obvious is not None:
        _print_obvious(views, obvious)
    closed = last.job.closed
    if closed is not None:
        received = closed.received_minor
        took = "" if received is None else f", brought in {money(received, last.currency)}"
        out.print(say(f"Closed: {option_title(closed.ending)}{took}", "bold"))


def _print_obvious(views: list[JobView], obvious: Obvious) -> None:
    from counterpoise.report.words.numbers import about, reach

    out, currency = console(), views[-1].currency
    # what looking cost nothing of: the difference between the two, as known at the decision
    spared = obvious.decided_minor - obvious.now_minor
    out.print(say(f"The obvious: {obvious.repair}", "bold"))
    hoped = about(obvious.then_minor, currency)
    out.print(say(f"   after entry {obvious.after_entry} it looked worth {hoped}"))
    out.print(say(f"   knowing what was found after, {about(obvious.now_minor, currency)}"))
    out.print(say(f"Decided: {obvious.decided}, {about(obvious.decided_minor, currency)}", "bold"))
    out.print(say(f"   {about(spared, currency)} better than the obvious"))
    # after the decision every option is conditional on it; the last undecided view compares them
    undecided = next(view for view in reversed(views) if not view.job.decision)
    for option in undecided.assessment.options:
        wide = reach(option.low_minor, option.high_minor, currency)
        if option.available and option.title != obvious.decided:
            amount = about(option.value_minor, currency)
            out.print(say(f"   {option.title}: {amount}{f' ({wide})' if wide else ''}"))
