"""A repair against a new machine: years left, cost by the year, and what each rule says."""

from __future__ import annotations

from counterpoise.errors import InputError
from counterpoise.money import RepairOrNew, repair_or_new
from counterpoise.report.views.job import JobView

# where the work can hardly succeed, cost by the year grows without bound; it is shown, not refused
_LEAST_CHANCE = 0.001


def untouched(view: JobView) -> dict[str, str]:
    """By the id of a way that cannot be undone, what nobody has put a hand to yet."""
    # planning takes a moment; who lists jobs needs none of it
    from counterpoise.workshop.diagnosis.ways.first_step import untouched_texts

    return {} if view.job.closed else untouched_texts(view.snapshot)


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
