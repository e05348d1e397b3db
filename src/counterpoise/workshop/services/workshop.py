"""A workshop: what pages, terminal and phones ask, by noun."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError
from counterpoise.workshop.services.families import Families
from counterpoise.workshop.services.jobs import Jobs

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.store.store import Store


class Workshop:
    """A store with the families it knows: its jobs, stock, prices, recordings, photos, uploads.

    Everything is checked against the catalog before it is stored.
    """

    def __init__(self, store: Store, families: Mapping[str, Family]) -> None:
        self.store = store
        self.families = Families(families)
        self.jobs = Jobs(store, self.families)
        self.stock = store.stock
        self.prices = store.prices
        self.recordings = store.recordings
        self.photos = store.photos
        self.uploads = store.uploads

    def now(self) -> str:
        """The time that goes on an entry written now: UTC, ISO 8601 to the second."""
        return self.store.now()

    def family(self, key: str) -> Family:
        """The family with this id. Raises InputError."""
        return self.families.named(key)

    def settings(self) -> Settings:
        """The workshop's settings."""
        return self.store.settings.get()

    def change_settings(self, changes: Mapping[str, Any]) -> Settings:
        """Change settings and return all of them; the currency stays that of the catalog's prices.

        Raises InputError naming the key; then nothing is changed.
        """
        known = {family.currency for family in self.families.values()}
        if "currency" in changes and known and changes["currency"] not in known:
            raise InputError(
                f"currency: the prices of the catalog are in {', '.join(sorted(known))},"
                f" not {changes['currency']}",
                field="currency",
                remedy="Keep the currency, or give the catalog prices in the other one",
            )
        return self.store.settings.change(changes)

    def assess(self, number: int, *, careful: bool = False) -> Assessment:
        """Suspects, next step, rivals and worth of a job; ``careful`` also where the settings are not.

        Raises NotFoundError.
        """
        # the planner takes a moment to load; a list of jobs needs none
        from counterpoise.workshop.diagnosis.assess import assess

        job = self.jobs.get(number)
        settings = self.settings()
        settings = replace(settings, careful=settings.careful or careful)
        family = self.family(job.intake.family)
        return assess(family, settings, job, supply=self.jobs.supply(job))
