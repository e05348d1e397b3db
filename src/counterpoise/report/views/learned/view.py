"""What was learned of closed jobs and whether it is any good, as page, terminal and API tell it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.figure_names import figure_name
from counterpoise.report.views.learned.spin_reader import reader_sentences

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.learning.scores import Difference
    from counterpoise.workshop.learning.judged import Judged
    from counterpoise.workshop.learning.learned import LearnedFigure
    from counterpoise.workshop.services.learned.learning import LearningState
    from counterpoise.workshop.services.workshop import Workshop

# A page shows what moved; the rest stands in JSON.
MOST_SHOWN = 40
# Figures that moved by less than this (as a log: a twentieth) are as good as unmoved.
LEAST_MOVE = 0.05


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A learned figure: what it is of, what it was and is, its range (eight times in ten).

    ``jobs`` are the numbers of the jobs behind it; ``taken_back``: the written one is used.
    """

    place: str
    name: str
    text: str
    range: str
    jobs: tuple[int, ...]
    taken_back: bool
    written: float
    here: float
    low: float
    high: float


@dataclass(frozen=True)
class LearningView:
    """What was learned of a family: how it stands, its figures, how they foretold.

    ``judged`` holds sentences; empty where that was not asked for. ``others``: what other workshops
    have a part in, in sentences; empty where none has. ``reader``: how that of spins is set by
    closed jobs with a recording; empty where there are none.
    """

    family: str
    title: str
    standing: str
    jobs: int
    frozen: bool
    off: bool
    rows: tuple[FigureRow, ...]
    others: tuple[str, ...] = ()
    reader: tuple[str, ...] = ()
    more: int = 0
    judged: tuple[str, ...] = ()
    reliability: tuple[tuple[str, str, str, str], ...] = ()


def learning_view(workshop: Workshop, family: str, *, judged: bool = False) -> LearningView:
    """What was learned of a family, brought up to date first. Raises InputError."""
    written = workshop.learning.written(family)
    state = workshop.learning.catch_up(family)
    moved = [each for each in state.figures if abs(each.moved) >= LEAST_MOVE]
    # what was taken back stays in sight, or nobody could give it back
    moved += [f for f in state.figures if f.place in state.taken_back and f not in moved]
    good = workshop.learning.judged(family) if judged and state.figures else None
    return LearningView(
        family=family,
        title=written.title,
        standing=_standing(state),
        jobs=state.jobs,
        frozen=state.frozen,
        off=state.off,
        rows=tuple(_row(written, each, state) for each in moved[:MOST_SHOWN]),
        others=_others(workshop, state),
        reader=reader_sentences(state.reader),
        more=max(0, len(moved) - MOST_SHOWN),
        judged=_sentences(good) if good else (),
        reliability=_reliability(good) if good else (),
    )


def _row(family: Family, figure: LearnedFigure, state: LearningState) -> FigureRow:
    change = ChangedFigure(
        figure.place, figure.written, figure.here, "", "", figure.of,
        figure.pool, figure.workshops, figure.records,
    )  # fmt: skip
    return FigureRow(
        figure.place,
        figure_name(family, figure.place),
        change.text,
        f"{change.said(figure.low)} to {change.said(figure.high)}",
        figure.jobs,
        figure.place in state.taken_back,
        figure.written,
        figure.here,
        figure.low,
        figure.high,
    )


def _standing(state: LearningState) -> str:
    """How learning stands, in a sentence or two."""
    if state.off:
        return "Put off: the figures are those of the catalog, and no closed job moves them."
    if state.figures and state.jobs < state.least:
        return (
            f"Figures of others are in use: {_more(state)} before anything is learned of our own."
        )
    if not state.figures:
        # how many more, not how many: that is what somebody waits for
        return f"Too little to tell yet: {_more(state)} before anything is learned."
    frozen = f" Frozen: closings after {state.until[:10]} are left out." if state.frozen else ""
    settled = "" if state.settled else " The shares have not settled; take them with care."
    return f"Learned from {state.jobs} closed jobs, in {state.rounds} rounds.{settled}{frozen}"


def _others(workshop: Workshop, state: LearningState) -> tuple[str, ...]:
    """What other workshops have a part in, and who of them is left out."""
    if not workshop.learning.pool.digest():
        return ()
    from counterpoise.workshop.services.learned.pool import state as pool_state

    pool = pool_state(workshop)
    started = sum(each.pool is not None for each in state.figures)
    shops = len(pool.workshops)
    count = "workshop counts" if shops == 1 else "workshops count"
    noted = [each for each in workshop.learning.pool.records() if each.family == state.family]
    said = (
        f"{shops} other {count} with us; {started} figures of this kind start from what they have."
    )
    return (
        *([said] if shops else []),
        *(f"Left out: {name[:8]}, for {why}." for name, why in pool.left_out.items()),
        *(
            f"Records {each.name}: {each.of}, each as {each.weight:g} of a job ({each.source})."
            for each in noted
        ),
    )


def _more(state: LearningState) -> str:
    need = max(0, state.least - state.jobs)
    return f"{need} more closed {'job' if need == 1 else 'jobs'}"


def _sentences(judged: Judged) -> tuple[str, ...]:
    half = judged.half_life
    if judged.too_few_to_fade:
        fading = (
            f"Fading: too few to tell ({judged.causes.jobs} foretold,"
            f" {judged.least_to_fade} are needed). Old jobs count like new ones."
        )
    elif half is None:
        fading = "Old jobs count like new ones: no fading foretold clearly better."
    else:
        # said, and not yet used: see docs/learning.md
        fading = f"Jobs would best count half after {half / 365:.3g} years; they count whole."
    return (
        f"What was wrong: {_said(judged.causes, 'bits a job', 1 / 0.6931471805599453)}",
        f"Minutes: {_said(judged.minutes, '% of the written minutes a step', 100.0)}",
        f"Prices: {_said(judged.prices, '% of the written price a sale', 100.0)}",
        fading,
    )


def _said(difference: Difference, unit: str, factor: float) -> str:
    if difference.too_few:
        return f"too few to tell ({difference.jobs} foretold, 20 are needed)."
    size = f"{difference.mean * factor:+.2f} ± {difference.error * factor:.2f} {unit}"
    words = {
        "better": "foretold better than by the catalog",
        "worse": "foretold worse than by the catalog: put it off, or take the figure back",
        "no difference": "no difference that could be told from luck",
    }[difference.verdict]
    return f"{words}: {size}, of {difference.jobs}."


def _reliability(judged: Judged) -> tuple[tuple[str, str, str, str], ...]:
    """By how likely it was said: by the catalog, by what was learned; said and come true."""
    # the same cases in both, sorted by what either said
    by_low = {each.low: each for each in judged.learned}
    rows = []
    for each in judged.written:
        here = by_low.get(each.low)
        learned = "" if here is None else f"{here.said:.0%} said, {here.happened:.0%} came true"
        rows.append(
            (
                f"{each.low:.0%} to {each.high:.0%}",
                f"{each.said:.0%} said, {each.happened:.0%} came true",
                learned,
                str(each.count),
            )
        )
    return tuple(rows)
