"""What was found since the machine last changed, and what it says together.

A finding is not erased by doing its check again: both readings stand, and
:mod:`counterpoise.reasoning.evidence` says what they are worth together. Arrays are over K kinds of
machine, S sets of faults and the O outcomes of a check; a likelihood is (S,) where the kind of
machine does not matter to it, else (K, S).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from counterpoise.errors import ModelError
from counterpoise.reasoning.belief import normalised, to_log
from counterpoise.reasoning.evidence import (
    fits_of,
    likelihood_of_readings,
    misled_together,
    next_reading,
    share_after_repairs,
    share_trusted,
)
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.workshop.diagnosis.family_model import FamilyModel, same_again_of
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN, Kinds


@dataclass(frozen=True)
class StandingEvidence:
    """The readings of each check since the last repair, oldest first, and the complaint.

    ``readings`` holds for each check its readings, each (O,) how well each outcome fits.
    ``heard`` (S,) is the likelihood of the complaint as it was made; None once a repair has used it
    up. ``of_kind``: findings that tell only the kind of machine, as (check, outcome).
    """

    model: FamilyModel
    kinds: Kinds
    heard: Floats | None = None
    readings: Mapping[str, tuple[Floats, ...]] = field(default_factory=dict)
    of_kind: frozenset[tuple[str, str]] = frozenset()

    def log_likelihood(self) -> Floats:
        """Log likelihood of all that stands; minus infinity where a set cannot explain it."""
        total = np.zeros(len(self.model.hypotheses.sets))
        for checks, misled, complained in self._things():
            trusted = self._trusted(checks, complained)
            total = total + to_log(misled_together(trusted, misled, self.model.background))
        # who sees the same of a kind again is not the wiser; who sees two things erred once
        for name, outcome in sorted(self.of_kind):
            said = self.kinds.told_by(self.model.family.checks[name], outcome)
            if said is not None:
                total = total + to_log(said)[:, None]
        return total

    def thing_key(self, check: str) -> str:
        """What a check looks at: the name it shares with others of the same thing."""
        thing = self.model.thing_of(check)
        return thing.id if thing else f"check {check}"

    def log_likelihood_of(self, key: str) -> Floats:
        """(S,) log likelihood of all that was found of one thing, by :meth:`thing_key`."""
        thing = self.model.family.same_thing.get(key)
        checks = thing.checks if thing else (key.removeprefix("check "),)
        done = [name for name in checks if name in self.readings]
        complained = bool(thing and thing.complaints and self.heard is not None)
        trusted = self._whatever_kind(self._trusted(done, complained))
        misled = thing.misled if thing else 0.0
        return to_log(misled_together(trusted, misled, self.model.background))

    def without(self, checks: Collection[str]) -> StandingEvidence:
        """The same evidence as if these checks had not been done."""
        left = {name: kept for name, kept in self.readings.items() if name not in checks}
        return replace(self, readings=left)

    def with_reading(self, check: str, reading: Floats) -> StandingEvidence:
        """The same evidence with one more reading, (O,) how well each outcome fits."""
        longer = (*self.readings.get(check, ()), reading)
        return replace(self, readings={**self.readings, check: longer})

    def with_kind_told(self, check: str, outcome: str) -> StandingEvidence:
        """The same evidence, and a finding that tells what the machine is, or that it has none."""
        return replace(self, of_kind=self.of_kind | {(check, outcome)})

    def outcome_weights(self, check: str) -> Floats | None:
        """(O,) how well each outcome fits all readings of a check; None where it has none."""
        readings = self.readings.get(check, ())
        if len(readings) < 2:
            return readings[0] if readings else None
        slips = self.model.slips[check]
        return np.asarray(np.prod([fits_of(reading, slips) for reading in readings], axis=0))

    def likelihood_at(
        self, rows: Ints, tables: Mapping[str, Floats], fit: Mapping[str, Floats]
    ) -> Floats:
        """(H,) likelihood under the sets ``rows`` (H,), by other figures: ``tables`` (O, H).

        ``fit`` (H,) by check is the chance that a machine of a row has what is looked at. What the
        findings would be where something leads them astray is taken as it is believed.
        """
        total = np.ones(len(rows))
        for (checks, misled, complained), astray in zip(self._things(), self._astray, strict=True):
            likelihood = np.ones(len(rows))
            if complained and self.heard is not None:
                likelihood = self.heard[rows]
            for name in checks:
                there = (1.0 - MISTAKEN) * self._of_readings(name, tables[name])
                not_there = MISTAKEN * self._by_chance(name)
                likelihood = likelihood * (fit[name] * there + (1.0 - fit[name]) * not_there)
            total = total * ((1.0 - misled) * likelihood + misled * astray)
        return np.asarray(total)

    # asked for beside each of many catalogs, and the same beside all
    @cached_property
    def _astray(self) -> list[float]:
        """By thing, the likelihood of what was found of it if it is that of another machine."""
        return [
            # summed here: a library that shares a sum this small among threads takes longer
            float(
                (
                    self.model.background * self._whatever_kind(self._trusted(checks, complained))
                ).sum()
            )
            for checks, _, complained in self._things()
        ]

    def share_trusted(self, check: str) -> Floats:
        """(S,) chance that nothing leads this check astray, by what else was found of its thing."""
        trusted = self._whatever_kind(self._trusted(*self._beside(check)))
        return share_trusted(trusted, self._misled(check), self.model.background)

    def next_table(self, check: str) -> Floats:
        """(O, S) chances of each outcome of a check done now, where a machine has what it needs."""
        return self.next_tables([check])[0]

    def next_tables(
        self, checks: Iterable[str], belief: Floats | None = None, rows: Ints | None = None
    ) -> list[Floats]:
        """(O, S) a check: its chances if it is done now, beside all that stands.

        They are those on machines that have what is looked at; for the sets ``rows`` alone, if
        given. With ``belief`` (S,) probabilities they are those to plan with: sets that a repair
        may lead to are taken as it leaves them.
        """
        model, tables = self.model, []
        at = slice(None) if rows is None else rows
        # by thing: what stands of it is the same for all its checks
        known: dict[str, tuple[Floats, Floats]] = {}
        for check in checks:
            beside, complained = self._beside(check)
            # nothing that stands bears on it: the chances are those of the family
            if not beside and not complained:
                tables.append(model.tables[check][:, at])
                continue
            thing = model.thing_of(check)
            key = thing.id if thing else check
            if key not in known:
                share = self.share_trusted(check)
                if belief is not None:
                    share = share_after_repairs(share, belief, model.hypotheses)
                known[key] = share, self._whatever_kind(self._trusted(beside, complained))
            table = self._repeat_table(check) if check in self.readings else model.trusted[check]
            share, trusted = known[key]
            tables.append(next_reading(table, share, trusted, model.background)[:, at])
        return tables

    def _beside(self, check: str) -> tuple[list[str], bool]:
        """The checks done that look at what this one looks at, and whether the complaint does."""
        thing = self.model.thing_of(check)
        if thing is None:
            return ([check] if check in self.readings else []), False
        done = [name for name in thing.checks if name in self.readings]
        return done, bool(thing.complaints and self.heard is not None)

    def _misled(self, check: str) -> float:
        thing = self.model.thing_of(check)
        return thing.misled if thing else 0.0

    def _things(self) -> Iterable[tuple[list[str], float, bool]]:
        """Checks that look at one thing, their chance of being led astray, whether complaints too.

        A check that looks at a thing of its own stands alone.
        """
        grouped: set[str] = set()
        for thing in self.model.family.same_thing.values():
            done = [name for name in thing.checks if name in self.readings]
            complained = thing.complaints and self.heard is not None
            grouped |= set(done)
            if done or complained:
                yield done, thing.misled, complained
        # in an order of its own, so that the belief hangs on no order of doing
        yield from (([name], 0.0, False) for name in sorted(self.readings) if name not in grouped)
        if self.heard is not None and self.model.account is None:
            yield [], 0.0, True

    def _trusted(self, checks: Iterable[str], complained: bool) -> Floats:
        """Likelihood of some checks' readings if nothing leads them astray."""
        likelihood = np.ones(len(self.model.hypotheses.sets))
        if complained and self.heard is not None:
            likelihood = likelihood * self.heard
        for name in checks:
            entry = self.model.family.checks[name]
            of_check = self._of_readings(name, self.model.trusted[name])
            by_chance = np.array([self._by_chance(name)])
            likelihood = likelihood * self.kinds.with_fit(entry, of_check, by_chance)
        return likelihood

    def _of_readings(self, check: str, table: Floats) -> Floats:
        """The likelihood of a check's readings by ``table`` (O, S), where the machine has it."""
        entry, readings = self.model.family.checks[check], self.readings[check]
        return likelihood_of_readings(
            table, readings, slips=self.model.slips[check], same_again=same_again_of(entry)
        )

    def _by_chance(self, check: str) -> float:
        """The likelihood of readings of what is not there: any outcome is as good as another."""
        return float(np.prod([reading.mean() for reading in self.readings[check]]))

    def _whatever_kind(self, likelihood: Floats) -> Floats:
        """(S,) likelihood over the kinds of machine, each by what it explains."""
        if likelihood.ndim == 1:
            return likelihood
        weight = self.kinds.share * (likelihood @ self.model.background)
        return np.asarray(weight @ likelihood / weight.sum())

    def _repeat_table(self, check: str) -> Floats:
        """(O, S) chances of what a check shows next, given what it showed before."""
        table = self.model.trusted[check]
        joint = np.array(
            [
                self.with_reading(check, row)._of_readings(check, table)  # noqa: SLF001
                for row in np.eye(len(table))
            ]
        )
        now = joint.sum(axis=0)
        # a set that could not show what was shown is out already: any chances will do
        any_chances = np.full_like(joint, 1.0 / len(joint))
        return np.asarray(np.divide(joint, now, out=any_chances, where=now > 0))


def weighed(
    before: Floats, evidence: StandingEvidence
) -> tuple[Floats, StandingEvidence, tuple[str, ...]]:
    """(K, S) log belief with what was found, ``before`` (K, S) without it; and what of it counts.

    A finding that nothing can explain beside the others is left out, with a warning.
    """
    try:
        return normalised(before + evidence.log_likelihood()), evidence, ()
    # Two findings may exclude each other where a family knows no slips: one was read wrong, and
    # which one is not for a program to say. The job goes on without the later one, and says so.
    except ModelError:
        kept = replace(evidence, readings={})
    belief = normalised(before + kept.log_likelihood(), what="the complaint")
    warnings = []
    for name, readings in evidence.readings.items():
        title = evidence.model.family.checks[name].title
        tried = replace(kept, readings={**kept.readings, name: readings})
        try:
            belief = normalised(before + tried.log_likelihood(), what=f"the finding of {title!r}")
            kept = tried
        except ModelError as error:
            warnings.append(f"{error}. It is left out for now.")
    return belief, kept, tuple(warnings)
