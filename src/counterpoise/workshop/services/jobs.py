"""The jobs of a workshop: opened, written to, read, exported, taken in; checked before stored."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Decision,
    Entry,
    Figures,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import check_body, forbids
from counterpoise.workshop.jobs.growing import GrowingJob
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.jobs.job_file_reader import job_file_from_json
from counterpoise.workshop.store.job_lines import JobLine, LineQuery, State

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.parts.offers import Supply
    from counterpoise.workshop.services.families import Families
    from counterpoise.workshop.store.store import Store


class Jobs:
    """The jobs of a store; every entry is checked against its family before it is stored."""

    def __init__(
        self,
        store: Store,
        families: Families,
        closing_changed: Callable[[str], None] | None = None,
    ) -> None:
        self._store = store
        self._families = families
        # what is learned hangs on what is closed
        self._closing_changed = closing_changed
        self._outlines: tuple[tuple[int, int], tuple[Job, ...]] = (-1, -1), ()

    # --- read ---

    def get(self, number: int) -> Job:
        """A job with all its entries. Raises NotFoundError."""
        return self._store.jobs.get(number)

    def last(self, number: int) -> int:
        """The number of a job's last entry, without reading any. Raises NotFoundError."""
        return self._store.jobs.last(number)

    def lines(self, query: LineQuery = LineQuery()) -> list[JobLine]:  # noqa: B008  # is frozen
        """A line for each job asked for, newest first; without a question for all.

        Those opened by mistake are left out where they are not asked for.
        """
        return self._store.jobs.lines(query)

    def count(self, query: LineQuery) -> int:
        """How many jobs a question asks for, whatever its limit."""
        return self._store.jobs.count(query)

    def open_lines(self) -> list[JobLine]:
        """One line for each open job, newest first, however many were closed before."""
        return self._store.jobs.open_lines()

    def closed_in(self, first: str, last: str) -> list[Job]:
        """The jobs with a closing put down in months like ``2026-03``, the last included."""
        return self._store.closings.in_months(first, last)

    def months_with_closings(self) -> list[str]:
        """The months in which a closing was put down, the last first; like ``2026-03``."""
        return self._store.closings.months()

    def outlines(self) -> tuple[Job, ...]:
        """The jobs that were ever closed, with no more entries than tell whether repairs held.

        Read anew only where a job was closed, or something was taken back, since.
        """
        mark = self._store.closings.count()
        if self._outlines[0] != mark:
            # handed to several threads, which is safe: it is never changed, only replaced
            self._outlines = mark, tuple(self._store.closings.outlines())
        return self._outlines[1]

    def family_of(self, number: int) -> Family:
        """The family of a job's machine. Raises NotFoundError, InputError for an unknown family."""
        return self._families.named(self.get(number).intake.family)

    def supply(self, job: Job, settings: Settings | None = None) -> Supply:
        """What a job's parts can be had for: from the shelf, by suppliers' lists, by the catalog.

        ``settings``: those read already, so that they need not be read again.
        """
        # a list of jobs needs none of it
        from counterpoise.workshop.parts.offers import PartSources

        # both are read now: a price or piece of a moment ago may be gone
        stores = PartSources(self._store.prices.book(), self._store.stock.book())
        family = self._families.named(job.intake.family)
        return stores.supply(family, settings or self._store.settings.get(), job)

    # --- write ---

    def open(self, intake: Intake, by: str = "", findings: Sequence[Finding | Figures] = ()) -> Job:
        """Take a machine in with what was answered at once: all of it or nothing.

        Raises InputError for what the family does not know.
        """
        family = self._families.named(intake.family)
        bodies: tuple[Body, ...] = (intake, *findings)
        entries: list[Entry] = []
        for number, body in enumerate(bodies, 1):
            # 0: it has no number before it is stored, and no check looks at it
            checked = check_body(family, Job(0, tuple(entries)) if entries else None, body)
            entries.append(Entry(number, self._store.now(), by, checked))
        return self._store.jobs.add(JobFile(tuple(entries)))

    def record(
        self, job_number: int, body: Body, by: str = "", expected_last: int | None = None,
        taken: Sequence[tuple[int, int]] = (),
    ) -> Entry:  # fmt: skip
        """Add an entry to a job and return it once it is stored.

        Without ``expected_last`` the entry is checked against the job as it stands and stored only
        on that. ``taken``: (lot, pieces) used from the shelf with it. Raises InputError,
        ReadingError, NotFoundError, and ConflictError where somebody wrote in between.
        """
        job = self.get(job_number)
        family = self._families.named(job.intake.family)
        # after the terms are added, so that they are checked like any other field
        checked = check_body(family, job, self._with_terms(family, job, body))
        self._check_forbidden(family, job, checked)
        # the store compares it once more in the transaction that writes
        last = job.entries[-1].number if expected_last is None else expected_last
        entry = self._store.jobs.append(job_number, checked, by, last, taken)
        # a closed job takes notes, figures and retractions, and only the last may open it again
        changes = isinstance(checked, Closed) or (job.closed and isinstance(checked, Retraction))
        if changes and self._closing_changed is not None:
            self._closing_changed(family.id)
        return entry

    def _with_terms(self, family: Family, job: Job, body: Body) -> Body:
        """A closing keeps the figures of its day; everything else stays as it is."""
        if not isinstance(body, Closed):
            return body
        # brings in the planner's side of the catalog
        from counterpoise.workshop.billing.ledger import closing_terms

        settings = self._store.settings.get()
        # prices of that day: a later list must not change what a closed job earned
        terms = closing_terms(family, settings, job, self.supply(job, settings))
        return replace(body, terms=terms)

    def _check_forbidden(self, family: Family, job: Job, body: Body) -> None:
        """Refuse what a fault forbids that may be there. Raises InputError."""
        if not forbids(family, body):
            return
        # bring in the reasoning, which most entries need not wait for
        from counterpoise.workshop.diagnosis.hazards import refuse_run, refuse_way
        from counterpoise.workshop.diagnosis.replay import replay

        situation = replay(family, self._store.settings.get(), job)
        if isinstance(body, Finding | RepairDone | Proof):
            refuse_run(situation, acknowledged=body.acknowledged)
        elif isinstance(body, Decision):
            refuse_way(situation, body.option, body.safeguard, closing=False)
        elif isinstance(body, Closed):
            decided = job.decision
            same = decided is not None and decided.option == body.ending
            kept = decided.safeguard if decided and same else ""
            refuse_way(situation, body.ending, body.safeguard or kept, closing=True)

    def reopen(
        self, job_number: int, why: str = "", by: str = "", expected_last: int | None = None
    ) -> Entry:
        """Open a closed job again: its machine came back. Raises InputError where it is open."""
        job = self.get(job_number)
        # the last one that stands; a closing taken back before does not count
        closing = next((e for e in reversed(job.standing) if isinstance(e.body, Closed)), None)
        if closing is None:
            raise InputError(f"Job {job_number} is open", remedy="Save what you find")
        return self.record(
            job_number, Retraction(closing.number, why, comeback=True), by, expected_last
        )

    def retract(self, job_number: int, entry: int, why: str = "", by: str = "") -> Entry:
        """Take back an earlier entry. Raises NotFoundError, InputError where it must stay."""
        return self.record(job_number, Retraction(entry, why), by)

    # --- out and in ---

    def export(self, number: int) -> dict[str, object]:
        """A job with its photos and recordings as JSON values. Raises NotFoundError."""
        return self._store.jobs.export_json(number)

    def check_import(self, data: object) -> JobFile:
        """Check an exported job against the catalog. Raises InputError that lists the mistakes."""
        job_file = job_file_from_json(data)
        # all of them at once: a file is mended in one go, or not at all
        problems = self.problems(job_file.entries)
        if problems:
            raise InputError(
                "Nothing was imported:\n" + "\n".join(f"  {problem}" for problem in problems)
            )
        return job_file

    def take_in(self, data: object) -> Job:
        """Store an exported job under a new number, all or nothing. Raises InputError."""
        return self._store.jobs.add(self.check_import(data))

    def add_all(self, job_files: Sequence[JobFile]) -> tuple[Job, ...]:
        """Store whole jobs that were checked before, in one transaction."""
        return tuple(self._store.jobs.add_all(job_files))

    def problems(self, entries: Sequence[Entry]) -> list[str]:
        """What is wrong with entries, by path, as if recorded now; empty where nothing is."""
        problems = []
        # each entry sees only those before it, as it did when it was written
        before = GrowingJob()
        # what was learned is laid over a family each time it is asked for
        family_of = cache(self._families.named)
        for index, entry in enumerate(entries):
            job = before if index else None
            try:
                # the family is named by the intake, which has to come first
                start = entry.body if job is None else job.intake
                check_body(family_of(getattr(start, "family", "")), job, entry.body)
            # what is wrong with one entry must not hide what is wrong with the next
            except (InputError, NotFoundError) as error:
                problems.append(f"entries[{index}].body: {error}")
            before.add(entry)
        return problems


__all__ = ["JobLine", "Jobs", "LineQuery", "State"]
