"""The learning of a workshop: learned anew when a job is closed, in use wherever a family is."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from hashlib import blake2b
from threading import Lock
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.services.learned.pool_folder import PoolFolder
from counterpoise.workshop.services.learned.state import (
    NEVER,
    LearningState,
    body_of,
    figures_of,
    reader_of,
)
from counterpoise.workshop.store.job_lines import LineQuery
from counterpoise.workshop.store.learning import Decided

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.learning.facts import JobFacts
    from counterpoise.workshop.learning.judged import Judged
    from counterpoise.workshop.learning.learned import LearnedFigure
    from counterpoise.workshop.store.store import Store

# Families as learned that are kept laid out; boiled-down jobs are some tens of kilobytes each.
_FAMILIES_KEPT, _JOBS_KEPT = 8, 2000


class Learning:
    """What a store's closed jobs teach of its families; ``families`` are those written.

    ``later``: what learns of a family while pages are answered; without it who closes a job waits.
    """

    def __init__(self, store: Store, families: Mapping[str, Family]) -> None:
        self._store, self._families = store, families
        self.pool = PoolFolder(store, families)
        self.later: Callable[[str], None] | None = None
        self._lock = Lock()
        self._applied: OrderedDict[tuple[str, str], Family] = OrderedDict()
        self._facts: OrderedDict[tuple[object, ...], JobFacts] = OrderedDict()

    # --- in use ---

    def applied(self, written: Family) -> Family:
        """The family as this workshop has come to know it; the written one where nothing is."""
        # asked wherever a family is: the figures themselves are read only to be laid out
        mark = self._store.learning.mark(written.id)
        # learned of another text of the family: its figures may mean something else there
        if mark is None or mark[0] != _digest(written):
            return written
        decided = self._store.learning.decided(written.id)
        key = mark[1], ",".join(sorted(decided.taken_back))
        with self._lock:
            if key in self._applied:
                self._applied.move_to_end(key)
                return self._applied[key]
        kept = self._store.learning.get(written.id)
        if kept is None or not kept.body.get("figures"):
            return written
        # laid out by a reader of arrays, which a list of jobs need not wait for
        from counterpoise.workshop.learning.applied import learned_family

        # outside the lock: two that do it at once get equal families
        learned = learned_family(written, _in_use(figures_of(kept.body), decided))
        # what was learned anew meanwhile is kept as what it is
        key = kept.key, key[1]
        with self._lock:
            self._applied[key] = learned
            while len(self._applied) > _FAMILIES_KEPT:
                self._applied.popitem(last=False)
        return learned

    def state(self, family: str) -> LearningState:
        """What is in use of a family, and how it came about; computes nothing."""
        from counterpoise.workshop.learning.strengths import LEAST_JOBS

        written, decided = self._families[family], self._store.learning.decided(family)
        kept = self._store.learning.get(family)
        state = LearningState(
            family, 0, LEAST_JOBS, "", (), decided.until, tuple(sorted(decided.taken_back))
        )
        if kept is None or kept.of != _digest(written):
            return state
        body: dict[str, Any] = kept.body
        return replace(
            state,
            at=kept.at,
            figures=figures_of(body),
            jobs=body["jobs"],
            rounds=body["rounds"],
            settled=body["settled"],
            reader=reader_of(body),
        )

    # --- learned anew ---

    def jobs_changed(self, family: str) -> None:
        """Learn of a family anew, since a job of it was closed or opened again."""
        if self.later is None:
            self.catch_up(family)
        else:
            self.later(family)

    def catch_up(self, family: str) -> LearningState:
        """Learn from all that is closed by now; nothing is done where nothing is new."""
        from counterpoise.workshop.learning.strengths import LEAST_JOBS

        written = self._families.get(family)
        closed = self._closed(family)
        kept = self._store.learning.get(family)
        # most workshops have few: nothing is read of them, and nothing was ever learned to undo
        others = self.pool.digest()
        if written is None or (len(closed) < LEAST_JOBS and kept is None and not others):
            return LearningState(family, len(closed), LEAST_JOBS)
        settings = self._store.settings.get()
        decided = self._store.learning.decided(family)
        key = _key(written, settings, closed, decided, others)
        if kept is None or kept.key != key:
            from counterpoise.workshop.learning.learn import learn

            facts = self.facts(written, settings, [n for n, _ in closed], decided.until)
            # the catalog as written is that of no other workshop either
            starts = {} if decided.until == NEVER else self.pool.starts(written)
            learned = learn(written, settings, facts, starts=starts)
            self._store.learning.put(family, _digest(written), key, body_of(learned))
        return self.state(family)

    def facts(
        self, written: Family, settings: Settings, numbers: list[int], until: str = ""
    ) -> list[JobFacts]:
        """What the closed jobs of these numbers say, by time of closing; each replayed once."""
        jobs = [self._store.jobs.get(number) for number in numbers]
        facts = [each for job in jobs if (each := self._fact(written, settings, job))]
        # a closing after the last that counts is as if it were not there
        counted = [each for each in facts if not until or each.closed_at <= until]
        return sorted(counted, key=lambda each: (each.closed_at, each.number))

    def _fact(self, written: Family, settings: Settings, job: Job) -> JobFacts | None:
        from counterpoise.workshop.learning.facts import facts_of

        # entries are never edited: the number of the last one stands for them all
        key = job.number, job.entries[-1].number, _digest(written), _of_settings(written, settings)
        with self._lock:
            if key in self._facts:
                return self._facts[key]
        fact = facts_of(written, settings, job)
        if fact is not None:
            with self._lock:
                self._facts[key] = fact
                while len(self._facts) > _JOBS_KEPT:
                    self._facts.popitem(last=False)
        return fact

    # --- decided ---

    def freeze(self, family: str, by: str = "") -> LearningState:
        """Leave all closings from now on out. Raises InputError for an unknown family."""
        return self._until(family, self._store.now(), by)

    def go_on(self, family: str, by: str = "") -> LearningState:
        """Learn from all closings again, whatever was frozen, undone or put off."""
        return self._until(family, "", by)

    def put_off(self, family: str, by: str = "") -> LearningState:
        """Use the written figures, and learn from no closing."""
        return self._until(family, NEVER, by)

    def undo(self, family: str, by: str = "") -> LearningState:
        """Go back to before the last closing that counts. Raises InputError where none does."""
        facts = self.closed_facts(family)
        if not facts:
            raise InputError(
                f"family: nothing was learned of {family} that could be undone", field="family"
            )
        last = facts[-1].closed_at
        before = [each.closed_at for each in facts if each.closed_at < last]
        return self._until(family, before[-1] if before else NEVER, by)

    def take_back(self, family: str, place: str, by: str = "") -> LearningState:
        """Use the written figure at a place, whatever the jobs say. Raises InputError."""
        return self._decide_place(family, "take_back", place, by)

    def give_back(self, family: str, place: str, by: str = "") -> LearningState:
        """Use the learned figure at a place again. Raises InputError."""
        return self._decide_place(family, "give_back", place, by)

    def _decide_place(self, family: str, kind: str, place: str, by: str) -> LearningState:
        self.written(family)
        state = self.state(family)
        if place not in {each.place for each in state.figures} | set(state.taken_back):
            raise InputError(
                f"place: nothing was learned at {place[:120]!r}",
                field="place",
                remedy="'counterpoise learning' lists the places",
            )
        self._store.learning.decide(family, kind, place, by)
        return self.state(family)

    def _until(self, family: str, value: str, by: str) -> LearningState:
        self.written(family)
        self._store.learning.decide(family, "until", value, by)
        return self.catch_up(family)

    def written(self, family: str) -> Family:
        """The family as it is written, whatever was learned. Raises InputError for none."""
        written = self._families.get(family)
        if written is None:
            raise InputError(
                f"family: there is no {family[:80]!r}",
                field="family",
                remedy=f"Name one of {', '.join(self._families)}",
            )
        return written

    def judged(self, family: str) -> Judged:
        """How the learned figures foretold later jobs, beside the written ones; takes seconds."""
        from counterpoise.workshop.learning.judged import judge

        return judge(self.written(family), self.closed_facts(family))

    def closed_facts(self, family: str) -> list[JobFacts]:
        """What all closed jobs say that count. Raises InputError for an unknown family."""
        written, until = self.written(family), self._store.learning.decided(family).until
        settings, closed = self._store.settings.get(), self._closed(family)
        return self.facts(written, settings, [n for n, _ in closed], until)

    def _closed(self, family: str) -> list[tuple[int, int]]:
        """(number, how many entries) of each closed job of a family."""
        lines = self._store.jobs.lines(LineQuery("closed"))
        return [(x.number, x.entries) for x in lines if x.family == family]


def _in_use(figures: tuple[LearnedFigure, ...], decided: Decided) -> tuple[LearnedFigure, ...]:
    return tuple(each for each in figures if each.place not in decided.taken_back)


def _digest(written: Family) -> str:
    # families handed in as they are have no text they were read from
    return written.digest or written.id


def _of_settings(written: Family, settings: Settings) -> tuple[object, ...]:
    """The settings that what a job says hangs on."""
    return settings.unknown_age_years, money_of(written, settings)


def _key(
    written: Family, settings: Settings, jobs: list[tuple[int, int]], decided: Decided, others: str
) -> str:
    of = _digest(written), _of_settings(written, settings), sorted(jobs), decided.until
    text = repr((*of, others) if others else of)  # alone, the key is what it always was
    return blake2b(text.encode(), digest_size=16).hexdigest()


__all__ = ["NEVER", "Learning", "LearningState"]
