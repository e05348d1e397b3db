"""The desk: what pages and terminal ask of the workshop. It checks against the catalog, stores, and computes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Entry,
    Figures,
    Finding,
    Intake,
    Job,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.job_file import NOTHING_TOLD, Facts, Parcel, parcel_from_json
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.parts.offers import Supply
    from counterpoise.workshop.store.store import JobLine, Store


class Desk:
    """A store with the families it knows; every entry is checked against its family before it is stored."""

    def __init__(self, store: Store, families: Mapping[str, Family]) -> None:
        self.store = store
        self.families = families

    # --- jobs ---

    def open_job(
        self, intake: Intake, by: str = "", findings: Sequence[Finding | Figures] = ()
    ) -> Job:
        """Take a machine in, with what was answered at once: all of it or nothing. Raises InputError."""
        family = self.family(intake.family)
        bodies: tuple[Body, ...] = (intake, *findings)
        entries: list[Entry] = []
        for number, body in enumerate(bodies, 1):
            checked = check_body(family, Job(0, tuple(entries)) if entries else None, body)
            entries.append(Entry(number, self.store.now(), by, checked))
        return self.store.add(Parcel(tuple(entries)))

    def record(
        self, job_number: int, body: Body, by: str = "", expected_last: int | None = None,
        taken: Sequence[tuple[int, int]] = (),
    ) -> Entry:  # fmt: skip
        """Record an entry. Raises InputError, ReadingError, NotFoundError; ConflictError as :meth:`Store.append` does.

        Without ``expected_last`` the entry is checked against the job as it stands and stored only on that.
        ``taken``: (lot, pieces) used from the shelf with it.
        """
        job = self.job(job_number)
        family = self.family(job.intake.family)
        checked = check_body(family, job, self._dated(family, job, body))
        last = job.entries[-1].number if expected_last is None else expected_last
        return self.store.append(job_number, checked, by, last, taken)

    def _dated(self, family: Family, job: Job, body: Body) -> Body:
        """A closing keeps the figures of its day; everything else stays as it is."""
        if not isinstance(body, Closed):
            return body
        from counterpoise.workshop.billing.ledger import (
            terms_now,  # brings in the planner's catalog side
        )

        return replace(body, terms=terms_now(family, self.settings(), job, self.supply(job)))

    def come_back(
        self, job_number: int, why: str = "", by: str = "", expected_last: int | None = None
    ) -> Entry:
        """Open a closed job again because its machine came back. Raises InputError where it is open."""
        job = self.job(job_number)
        over = next((e for e in reversed(job.standing) if isinstance(e.body, Closed)), None)
        if over is None:
            raise InputError(f"Job {job_number} is open", remedy="Put down what you find")
        return self.record(
            job_number, Retraction(over.number, why, comeback=True), by, expected_last
        )

    def retract(self, job_number: int, entry: int, why: str = "", by: str = "") -> Entry:
        """Take back an earlier entry."""
        return self.record(job_number, Retraction(entry, why), by)

    def job(self, number: int) -> Job:
        """Return a job. Raises NotFoundError."""
        return self.store.job(number)

    def lines(self) -> list[JobLine]:
        """Return the list of jobs, newest first."""
        return self.store.jobs()

    def assess(self, number: int, *, careful: bool = False) -> Assessment:
        """Compute suspects, next step, rivals and worth of a job; ``careful`` whether or not the workshop is."""
        from counterpoise.workshop.diagnosis.assess import (
            assess,  # the planner takes a moment to load; a list of jobs needs none
        )

        job = self.job(number)
        settings = self.settings()
        settings = replace(settings, careful=settings.careful or careful)
        return assess(self.family(job.intake.family), settings, job, supply=self.supply(job))

    def supply(self, job: Job) -> Supply:
        """What the parts of a job can be had for: on the shelf, by the suppliers' lists, else by the catalog."""
        from counterpoise.workshop.parts.offers import Stores  # a list of jobs needs none of it

        stores = Stores(self.store.prices.book(), self.store.shelf.book())
        return stores.supply(self.family(job.intake.family), self.settings(), job)

    def family(self, key: str) -> Family:
        """Return a family of machines by its id. Raises InputError."""
        if key not in self.families:
            titles = {name: family.title for name, family in self.families.items()}
            raise InputError(
                f"family: there is no {key!r}", field="family", remedy=did_you_mean(key, titles)
            )
        return self.families[key]

    def family_of(self, number: int) -> Family:
        """Return the family of a job's machine."""
        return self.family(self.job(number).intake.family)

    # --- settings ---

    def settings(self) -> Settings:
        """Return the workshop's settings."""
        return self.store.settings()

    def change_settings(self, changes: Mapping[str, Any]) -> Settings:
        """Change settings; the currency must be that of the catalog's prices. Raises InputError naming the key."""
        known = {family.currency for family in self.families.values()}
        if "currency" in changes and known and changes["currency"] not in known:
            raise InputError(
                f"currency: the prices of the catalog are in {', '.join(sorted(known))}, not {changes['currency']}",
                field="currency",
                remedy="Keep the currency, or give the catalog prices in the other one",
            )
        return self.store.change_settings(changes)

    # --- in and out ---

    def export_job(self, number: int) -> dict[str, Any]:
        """Return a job with its files as plain JSON values."""
        return self.store.export_job(number)

    def check_import(self, data: object) -> Parcel:
        """Read an exported job and check all of it against the catalog. Raises InputError that lists the mistakes."""
        parcel = parcel_from_json(data)
        problems = self.problems(parcel.entries)
        if problems:
            raise InputError(
                "Nothing was imported:\n" + "\n".join(f"  {problem}" for problem in problems)
            )
        return parcel

    def import_job(self, data: object) -> Job:
        """Take in an exported job under a new number, all or nothing."""
        return self.store.add(self.check_import(data))

    def problems(self, entries: Sequence[Entry]) -> list[str]:
        """Check entries one after the other, as if they were recorded now; return what is wrong by path."""
        out = []
        for index, entry in enumerate(entries):
            job = Job(0, tuple(entries[:index])) if index else None
            try:
                start = entry.body if job is None else job.intake
                check_body(self.family(getattr(start, "family", "")), job, entry.body)
            except (InputError, NotFoundError) as error:
                out.append(f"entries[{index}].body: {error}")
        return out

    def add_photo(self, data: bytes) -> str:
        """Keep a photo without its metadata and return its id."""
        return self.store.add_photo(data)

    def photo(self, photo_id: str) -> bytes:
        """Return a photo as JPEG."""
        return self.store.photo(photo_id)

    def add_recording(self, name: str, data: bytes, facts: Facts = NOTHING_TOLD) -> str:
        """Keep the recording of a spin with what was told of it and return its id."""
        return self.store.add_recording(name, data, facts)

    def recording(self, recording_id: str) -> tuple[str, bytes]:
        """Return a recording as (name, bytes)."""
        return self.store.recording(recording_id)

    def facts(self, recording_id: str) -> Facts:
        """Return what was told of a recording: top speed, sound."""
        return self.store.facts(recording_id)
