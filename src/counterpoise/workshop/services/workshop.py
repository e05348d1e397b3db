"""A workshop: what pages, terminal and phones ask, by noun."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.settings import split_key
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.people.presence import Presence
from counterpoise.workshop.services.assessments import Assessments, by_the_planner
from counterpoise.workshop.services.background.kept import KeptAssessments
from counterpoise.workshop.services.families import Families
from counterpoise.workshop.services.jobs import Jobs
from counterpoise.workshop.services.learned.learning import Learning
from counterpoise.workshop.services.people import People
from counterpoise.workshop.services.prices import Prices
from counterpoise.workshop.services.recordings import Recordings
from counterpoise.workshop.services.snapshot import JobSnapshot
from counterpoise.workshop.services.stock import Stock
from counterpoise.workshop.services.uploads import Uploads

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.services.assessments import Assessor
    from counterpoise.workshop.store.store import Store


class Workshop:
    """A store with the families it knows: its jobs, stock, prices, recordings, photos, uploads.

    Everything is checked against the catalog before it is stored. ``assessor`` computes what a job
    comes to; the planner where nothing else is given.
    """

    def __init__(
        self, store: Store, families: Mapping[str, Family], assessor: Assessor = by_the_planner
    ) -> None:
        self.store = store
        self.assessments = Assessments(assessor)
        self.learning = Learning(store, families)
        # one set of families for all nouns: what one accepts no other refuses
        self.families = Families(families, self.learning.applied)
        self.jobs = Jobs(store, self.families, self.learning.jobs_changed)
        self.stock = Stock(store, self.families, self.jobs)
        self.prices = Prices(store, self.families)
        self.recordings = Recordings(store, self.jobs, self.families)
        # photos need no catalog, so the store answers for them itself
        self.photos = store.photos
        self.uploads = Uploads(store, self.jobs, self.recordings)
        # so has the store the keys of what was written
        self.writes = store.writes
        self.people = People(store)
        # who looks at which job: of all faces of this program, and of no other
        self.presence = Presence()
        self.kept = KeptAssessments(store, self.families, self.snapshot)

    def now(self) -> str:
        """The time that goes on an entry written now: UTC, ISO 8601 to the second."""
        # the store's clock, so that tests can set it and every entry goes by the same one
        return self.store.now()

    def family(self, key: str) -> Family:
        """The family with this id. Raises InputError."""
        return self.families.named(key)

    def settings(self) -> Settings:
        """The workshop's settings."""
        return self.store.settings.get()

    def change_settings(self, changes: Mapping[str, object]) -> Settings:
        """Change settings and return all of them; the currency stays that of the catalog's prices.

        ``FAMILY.NAME`` is a family's own figure, taken back by None. Raises InputError naming the
        key; then nothing is changed.
        """
        for key in changes:
            self._of_known_family(key, changes[key])
        # without families there is nothing that a currency could contradict
        known = {family.currency for family in self.families.values()}
        if "currency" in changes and known and changes["currency"] not in known:
            raise InputError(
                f"currency: the prices of the catalog are in {', '.join(sorted(known))},"
                f" not {changes['currency']}",
                field="currency",
                remedy="Keep the currency, or give the catalog prices in the other one",
            )
        return self.store.settings.change(changes)

    def _of_known_family(self, key: str, value: object) -> None:
        family, name = split_key(key)
        # what was set for a family that is gone can still be taken back
        gone = value is None and self.settings().set_for(family, name) is not None
        if not family or family in self.families or gone:
            return
        raise InputError(
            f"{key}: there is no family of machines {family!r}",
            field=key,
            remedy=did_you_mean(family, list(self.families)),
        )

    def work_ahead(self, at_once_s: float) -> None:
        """From now on work out in the background what will be asked, and keep it.

        ``at_once_s``: how long whoever asks for all open jobs waits for those that are old.
        """
        worker = self.assessments.worker
        self.assessments.ahead, self.kept.at_once_s = True, at_once_s
        # a closing is answered at once; what it teaches is in use a moment later
        self.learning.later = lambda family: worker.soon(
            f"learned {family}", lambda: self.learning.catch_up(family)
        )
        worker.idle = lambda: self.kept.renew_old(lambda: worker.interrupted)

    def written(self, job: int = 0) -> None:
        """Work ahead of what was just written: to a job, or (0) to what all jobs hang on."""
        if not self.assessments.ahead:
            return
        if job:
            self.assessments.worker.soon(job, lambda: self._ahead_of(job))
        else:
            self.assessments.worker.wake()

    def _ahead_of(self, job: int) -> None:
        # first what the next page shows, then what the answers to it lead to
        self.kept.renew(job)
        snapshot = self.snapshot(job)
        if snapshot.job.closed is None:
            self.assessments.plan_answers(snapshot)

    def snapshot(self, number: int, *, careful: bool = False) -> JobSnapshot:
        """A job with its family, the settings and its supply, each read once; computes nothing yet.

        Raises NotFoundError, and InputError where its family is not known here.
        """
        # planning takes a while: what was written just before must not wait for it
        self.store.writes.settle()
        job = self.jobs.get(number)
        family, settings = self.family(job.intake.family), self.settings()
        # read here and not later: estimate and page must speak of the same shelf
        supply = self.jobs.supply(job, settings)
        return JobSnapshot(
            job, family, settings, supply, assessments=self.assessments, careful=careful
        )
