"""A repair against a new machine, for a customer's job: years left, cost by the year, and each rule."""

from __future__ import annotations

from counterpoise.errors import InputError
from counterpoise.money import RepairOrNew, repair_or_new
from counterpoise.report.views.job import JobView
from counterpoise.workshop.diagnosis.prices import Prices


def against_new(view: JobView) -> RepairOrNew | None:
    """The work that is advised against a new machine; None for the workshop's own, or where nothing can be mended."""
    job, settings = view.job, view.settings
    if job.intake.owner != "customer" or job.closed is not None:
        return None
    try:
        found = view.snapshot.costing()
    except InputError:
        return None
    age = settings.unknown_age_years if job.intake.age_years is None else job.intake.age_years
    prices = Prices(view.family, settings, "customer", age)
    works = max(found.works, 0.001)
    price = found.estimate.payable_minor
    return repair_or_new(prices.replacement, age, price, works=works, currency=view.currency)
