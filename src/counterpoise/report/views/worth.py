"""A repair against a new machine: years left, cost by the year, and what each rule says."""

from __future__ import annotations

from dataclasses import dataclass, fields

from markupsafe import Markup

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money import RepairOrNew, Replacement, repair_or_new
from counterpoise.report.figures.money_axis import Amount, money_axis
from counterpoise.report.views.job import JobView
from counterpoise.report.words.family_money import REPLACING, FigureLine, assumed, figure_lines
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.settings import Settings

# where the work can hardly succeed, cost by the year grows without bound; it is shown, not refused
_LEAST_CHANCE = 0.001


@dataclass(frozen=True, slots=True)
class WorthOfKind(RepairOrNew):
    """A repair against a new machine of a family, with the figures reckoned with.

    ``assumed``: a sentence on those that the family's file leaves out; empty where none.
    """

    family: str
    figures: tuple[FigureLine, ...]
    assumed: str


def worth_of_kind(
    family: Family,
    settings: Settings,
    age_years: float,
    price_minor: int,
    *,
    works: float = 1.0,
    used_minor: int | None = None,
) -> WorthOfKind:
    """A repair at a price against a new machine of this family; ``works``: chance that it holds.

    ``used_minor``: what a used one of that age costs, None where that is not known.
    """
    money = money_of(family, settings)
    # how long machines live is set by family: the workshop's own records know better than a book
    new = Replacement(money.new_machine_minor, money.life, settings.discount_rate_percent)
    answer = repair_or_new(
        new,
        age_years,
        price_minor,
        works=works,
        used_minor=used_minor,
        currency=settings.currency,
    )
    return WorthOfKind(
        **{part.name: getattr(answer, part.name) for part in fields(answer)},
        family=family.id,
        figures=figure_lines(family, settings, REPLACING),
        assumed=assumed(family, settings, REPLACING),
    )


def untouched(view: JobView) -> dict[str, str]:
    """By the id of a way that cannot be undone, what nobody has put a hand to yet."""
    # planning takes a moment; who lists jobs needs none of it
    from counterpoise.workshop.diagnosis.ways.first_step import untouched_texts

    return {} if view.job.closed else untouched_texts(view.snapshot)


def leaving(view: JobView) -> dict[str, str]:
    """By the id of a way, why the machine must not leave so; empty where it may.

    Beside a way that hands it on, that a safeguard must be named; beside a sale, that it is barred.
    """
    from counterpoise.workshop.diagnosis.hazards import (
        HANDED_ON,
        LOCAL_CODES,
        SOLD,
        leave_texts,
        must_not_leave,
    )

    texts = leave_texts(must_not_leave(view.situation))
    if not texts:
        return {}
    said = " ".join(texts)
    # repaired, it leaves as any other machine does
    ways = (SOLD | HANDED_ON) - {"repair_resell", "repair_hand_back"}
    return {
        way: f"{said} It may not be sold so."
        if way in SOLD
        else f"{said} Only with a safeguard, named below. {LOCAL_CODES}"
        for way in sorted(ways)
    }


def against_new(view: JobView) -> RepairOrNew | None:
    """The advised work against a new machine: years left, cost by the year in minor units.

    None for the workshop's own machine, for a closed job, and where nothing can be mended.
    """
    job = view.job
    if job.intake.owner != "customer" or job.closed is not None:
        return None
    try:
        costing = view.snapshot.costing()
    # nothing to mend is no error here: then there is nothing to compare
    except InputError:
        return None
    # the same years and the same new machine as the ways are weighed with
    prices = view.snapshot.prices
    return repair_or_new(
        prices.replacement,
        prices.age_years,
        costing.estimate.payable_minor,
        works=max(costing.works, _LEAST_CHANCE),
        currency=view.currency,
    )


def ways_figure(view: JobView) -> Markup:
    """The ways that are open, on one axis of money with their 80 % ranges; empty without any."""
    amounts = [
        Amount(way.title, way.value_minor, way.low_minor, way.high_minor, leads=way.best)
        for way in view.assessment.options
        if way.available
    ]
    return money_axis(amounts, view.currency)
