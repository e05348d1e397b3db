"""What assessments came to, kept with the jobs for lists and yard, and never shown as fresh if old.

A figure is fresh where it was computed from the job as it stands, with today's settings, prices,
shelf, catalog and program. What is not is worked out anew: a bounded time at once, the rest in the
background.
"""

from __future__ import annotations

import hashlib
import math
import time
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import cache
from importlib.metadata import version
from typing import TYPE_CHECKING

from counterpoise.errors import CounterpoiseError, StoreError
from counterpoise.workshop.services.assessments import key_of
from counterpoise.workshop.services.next_machine import Weighable, weighable
from counterpoise.workshop.store.kept import KeptFigures

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from counterpoise.workshop.services.families import Families
    from counterpoise.workshop.services.jobs import JobLine
    from counterpoise.workshop.services.snapshot import JobSnapshot
    from counterpoise.workshop.store.store import Store


@dataclass(frozen=True)
class Standing:
    """What the open jobs come to: figures by number, those still to be worked out, and failures.

    ``failed`` says by number why a job could not be worked out.
    """

    lines: tuple[JobLine, ...]
    figures: Mapping[int, Weighable]
    failed: Mapping[int, str]

    @property
    def pending(self) -> tuple[JobLine, ...]:
        """The jobs of which no figures are there yet that hold now."""
        known = {*self.figures, *self.failed}
        return tuple(line for line in self.lines if line.number not in known)


class KeptAssessments:
    """The figures of a workshop's open jobs.

    ``at_once_s``: how long whoever asks waits for what is old; without end where nobody works on it
    in the background.
    """

    def __init__(
        self, store: Store, families: Families, read: Callable[[int], JobSnapshot]
    ) -> None:
        self.at_once_s = math.inf
        self._store, self._families, self._read = store, families, read

    def open_jobs(self) -> Standing:
        """The open jobs with their figures, newest first."""
        end = time.monotonic() + self.at_once_s
        # newest first: what somebody has just worked on is what is asked about
        lines = self._store.jobs.open_lines()
        figures, failed = self._fresh(lines, self._of(lines)), {}
        for line in lines:
            if line.number in figures:
                continue
            if time.monotonic() >= end:
                break
            try:
                figures[line.number] = self.renew(line.number)
            # one job of a family that is gone must not hide all others
            except CounterpoiseError as error:
                failed[line.number] = str(error)
        return Standing(tuple(lines), figures, failed)

    def shown(self, lines: Sequence[JobLine]) -> dict[int, tuple[Weighable, bool]]:
        """What was last worked out of each job, and whether it holds now; works out nothing."""
        kept = self._of(lines)
        fresh, out = self._fresh(lines, kept), {}
        for number, row in kept.items():
            # figures of another version of the program may have other fields
            with suppress(TypeError):
                out[number] = (Weighable(**row.figures), number in fresh)  # type: ignore[arg-type]
        return out

    def renew(self, number: int) -> Weighable:
        """Work out a job's figures and keep them; raises what reading or assessing it raises."""
        # before the job is read: what changes meanwhile makes it old, not the other way round
        mark = self._mark()
        snapshot = self._read(number)
        source = _digest(key_of(snapshot), _program())
        before = self._store.kept.of([number]).get(number)
        if before is not None and before.source == source:
            # a price of another part, a piece on another shelf: it comes to the same
            figures = Weighable(**before.figures)  # type: ignore[arg-type]  # as they were kept
        else:
            figures = weighable(snapshot.job, snapshot.assessment)
        kept = KeptFigures(
            job=number,
            entry=snapshot.job.entries[-1].number,
            source=source,
            mark=_digest(mark, _of_family(snapshot.family)),
            at=self._store.now(),
            figures=asdict(figures),
        )
        # a store that cannot be written now is no reason not to answer
        with suppress(StoreError):
            if kept != before:
                self._store.kept.keep(kept)
        return figures

    def renew_old(self, interrupted: Callable[[], bool]) -> bool:
        """Work out what is old, until interrupted; whether anything was worked out."""
        lines = self._store.jobs.open_lines()
        fresh, done = self._fresh(lines, self._of(lines)), False
        for line in lines:
            if interrupted():
                return True
            # what cannot be worked out is said to whoever asks, and would be tried for ever here
            if line.number not in fresh and not self._families.trouble(line.family):
                with suppress(Exception):
                    self.renew(line.number)
                    done = True
        return done

    def _of(self, lines: Iterable[JobLine]) -> dict[int, KeptFigures]:
        return self._store.kept.of(line.number for line in lines)

    def _fresh(
        self, lines: Iterable[JobLine], kept: Mapping[int, KeptFigures]
    ) -> dict[int, Weighable]:
        """Those of the ``kept`` figures that hold now, by job."""
        mark, marks, fresh = self._mark(), {}, {}
        for line in lines:
            row = kept.get(line.number)
            # an entry of a job that moved on, or a family that is gone, has no figures that hold
            if row is None or row.entry != line.entries or line.family not in self._families:
                continue
            # once for each family: its file is looked up to be sure that it is still the same
            if line.family not in marks:
                marks[line.family] = _digest(mark, _of_family(self._families[line.family]))
            if row.mark == marks[line.family]:
                # kept by another version under the same number: fields may differ, and it is old
                with suppress(TypeError):
                    fresh[line.number] = Weighable(**row.figures)  # type: ignore[arg-type]
        return fresh

    def _mark(self) -> str:
        """What all jobs hang on: program, settings, the last price list, the last movement."""
        return _digest(_program(), self._store.settings.get(), self._store.kept.last_changes())


def _of_family(family: object) -> tuple[object, object]:
    return getattr(family, "id", ""), getattr(family, "digest", "")


# read from a file of the installation, and the same until the program is started anew
@cache
def _program() -> str:
    return version("counterpoise")


def _digest(*parts: object) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()
