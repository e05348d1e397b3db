"""What checks show on a machine, drawn cause by cause as the catalog's rows say.

Written apart from the belief's tables, so that each checks the other: here nothing is multiplied or
summed, things happen or do not. Until the next repair an account, or all looks at one thing, may be
those of some other machine; a repeat may show again what was shown; a reading may be a slip; and
somebody may take the machine for one of another kind.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.workshop.diagnosis.family_model import ANY_SLIP, same_again_of, slip_of
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN
from counterpoise.workshop.jobs.entries import NOT_THERE

# Purposes of the streams of luck, so that a check done by one way of working and not by another
# does not change what comes after.
OF_CHECKS, OF_THINGS = 0, 1


def shown(entry: CheckEntry, faults: tuple[str, ...], rng: np.random.Generator) -> str:
    """The outcome that a check shows on a machine with these fault keys.

    Every fault that has a row, and the leak, give an outcome each, and the worst of them shows.
    """
    rows = [entry.under[key] for key in faults if key in entry.under]
    if entry.unordered:
        # no answer is worse than another: it speaks of one of the faults, of each as often
        row = rows[int(rng.integers(len(rows)))] if rows else entry.otherwise
        return _outcome_of(entry, row, rng)
    causes = rows if entry.exclusive and rows else [*rows, entry.otherwise]
    order = list(entry.outcomes)
    return max((_outcome_of(entry, row, rng) for row in causes), key=order.index)


def _outcome_of(entry: CheckEntry, row: Mapping[str, float], rng: np.random.Generator) -> str:
    throw, passed = rng.random(), 0.0
    for outcome, chance in row.items():
        passed += chance
        if throw < passed:
            return outcome
    # what a row leaves over is the mildest
    return next(iter(entry.outcomes))


@dataclass
class _Course:
    """How a check goes on this machine until the next repair, however often it is done."""

    rng: np.random.Generator
    mistaken: bool
    # the same outcome each time, or a new one each time
    again: bool
    outcome: str = ""
    # what a machine is shows the same each time
    feature: str = ""


@dataclass
class Answers:
    """What checks show on one machine between two repairs.

    ``features`` are what it really has, ``faults`` its fault keys. ``led_astray`` gives, by thing,
    the fault keys of the other machine that all looks at the thing show, where it was drawn already
    (the owner's account, with the complaint). ``other`` draws another machine's fault keys, and
    ``luck`` gives a stream of chance by purpose and number.
    """

    family: Family
    features: Mapping[str, str]
    faults: tuple[str, ...]
    luck: Callable[[int, int], np.random.Generator]
    other: Callable[[np.random.Generator], tuple[str, ...]]
    led_astray: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _courses: dict[str, _Course] = field(default_factory=dict)

    def next(self, name: str) -> str:
        """The outcome that is put down if the check is done now, perhaps once more."""
        entry = self.family.checks[name]
        course = self._course(entry)
        fits = all(self.features[key] == value for key, value in entry.needs.items())
        # who is mistaken sees none where there is one, or something where there is none
        if entry.needs and fits == course.mistaken:
            return NOT_THERE
        if not fits:
            return _any(entry, course.rng)
        if entry.tells:
            return self._feature(entry, course)
        if not course.outcome or not course.again:
            course.outcome = shown(entry, self._shows(name), course.rng)
        # each reading may be a slip of its own
        if course.rng.random() >= slip_of(entry):
            return course.outcome
        if course.rng.random() < ANY_SLIP:
            return _any(entry, course.rng)
        # what it commonly shows: what another machine would have shown
        return shown(entry, self.other(course.rng), course.rng)

    def _course(self, entry: CheckEntry) -> _Course:
        if entry.id not in self._courses:
            rng = self.luck(OF_CHECKS, list(self.family.checks).index(entry.id))
            mistaken = bool(rng.random() < MISTAKEN)
            again = bool(rng.random() < same_again_of(entry))
            self._courses[entry.id] = _Course(rng, mistaken, again)
        return self._courses[entry.id]

    def _feature(self, entry: CheckEntry, course: _Course) -> str:
        if not course.feature:
            course.feature = self.features[str(entry.tells)]
            if course.rng.random() < entry.error:
                others = [value for value in entry.outcomes if value != course.feature]
                course.feature = others[int(course.rng.integers(len(others)))]
        return course.feature

    def _shows(self, name: str) -> tuple[str, ...]:
        """The fault keys that a check shows: those of another machine where its thing misleads."""
        for number, thing in enumerate(self.family.same_thing.values()):
            if name not in thing.checks:
                continue
            if thing.id not in self.led_astray:
                rng = self.luck(OF_THINGS, number)
                astray = rng.random() < thing.misled
                self.led_astray[thing.id] = self.other(rng) if astray else self.faults
            return self.led_astray[thing.id]
        return self.faults


def _any(entry: CheckEntry, rng: np.random.Generator) -> str:
    outcomes = list(entry.outcomes)
    return outcomes[int(rng.integers(len(outcomes)))]
