"""The kinds of machine that the one in hand may be of, and what a finding says of the kind.

A kind is one value for each feature of the family. Arrays are over K kinds.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from counterpoise.catalog.family import CheckEntry, Family, Feature
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.jobs.entries import NOT_THERE

# Chance that somebody takes a machine for one of another kind: sees a belt where none is, or finds
# no belt where one is (from memory).
MISTAKEN = 0.01
# Chance that a feature was put down wrong when the machine came in (from memory).
WRONG_AT_INTAKE = 0.03


@dataclass(frozen=True)
class Kinds:
    """The K kinds that a machine may be of.

    ``machines`` holds the value of every feature by kind; ``share`` (K,) the chance of each kind
    before anything was found.
    """

    machines: tuple[Mapping[str, str], ...]
    share: Floats

    @property
    def key(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """The kinds as something that can be looked up by."""
        return tuple(tuple(sorted(machine.items())) for machine in self.machines)

    def fit(self, needs: Mapping[str, str]) -> NDArray[np.bool_]:
        """(K,) whether what needs these features can be on a machine of each kind."""
        key = tuple(needs.items())
        # hundreds of checks, repairs and parts of a family need one of a handful of features
        if key not in self._fits:
            kept = np.array(
                [all(machine[name] == value for name, value in key) for machine in self.machines]
            )
            kept.flags.writeable = False
            self._fits[key] = kept
        return self._fits[key]

    @cached_property
    def _fits(self) -> dict[tuple[tuple[str, str], ...], NDArray[np.bool_]]:
        return {}

    def showing(self, entry: CheckEntry) -> Floats:
        """(O, K) chances of the outcomes of a check that tells a feature, by kind of machine.

        One outcome more, that there is no such thing, where some kind has none.
        """
        feature, values = str(entry.tells), list(entry.outcomes)
        # whoever errs may take it for any of the others
        wrong = entry.error / (len(values) - 1)
        right = np.array([[each[feature] == value for each in self.machines] for value in values])
        table, fit = np.where(right, 1.0 - entry.error, wrong), self.fit(entry.needs)
        return table if fit.all() else seen_where_fitting(table, fit.astype(np.float64))

    def told_by(self, entry: CheckEntry, outcome: str) -> Floats | None:
        """(K,) chance of an outcome that tells of the kind alone; None where it tells of faults."""
        if entry.tells:
            return np.asarray(self.showing(entry)[[*entry.outcomes, NOT_THERE].index(outcome)])
        return self.without(entry.needs) if outcome == NOT_THERE else None

    def without(self, needs: Mapping[str, str]) -> Floats:
        """(K,) chance of hearing of a machine of each kind that it has not what needs these."""
        return np.where(self.fit(needs), MISTAKEN, 1.0 - MISTAKEN)

    def with_fit(self, entry: CheckEntry, likelihood: Floats, weights: Floats) -> Floats:
        """(K, S) chance of what was found: ``likelihood`` (S,) where a kind has what is looked at.

        ``weights`` (O,) are those of the outcomes. (S,) where all kinds have it.
        """
        fits = self.fit(entry.needs)
        if fits.all():
            return likelihood
        mistaken = MISTAKEN * float(weights.mean())
        return np.where(fits[:, None], (1.0 - MISTAKEN) * likelihood, mistaken)

    def chances(self, feature: str, by_kind: Floats) -> dict[str, float]:
        """Chance of each value of a feature, from (K,) chances of the kinds."""
        totals: dict[str, float] = {}
        for machine, chance in zip(self.machines, by_kind.tolist(), strict=True):
            totals[machine[feature]] = totals.get(machine[feature], 0.0) + chance
        return totals


def kinds_of(family: Family, known: Mapping[str, str], doubted: Collection[str] = ()) -> Kinds:
    """The kinds of a machine of which these features are known; others by the catalog's shares.

    Features in ``doubted`` were put down and then found otherwise: what was put down counts with
    its chance of being wrong.
    """
    sure = {name: value for name, value in known.items() if name not in doubted}
    choices = [
        [sure[feature.id]] if feature.id in sure else list(feature.share)
        for feature in family.features.values()
    ]
    machines, shares = [], []
    for values in product(*choices):
        machine = dict(zip(family.features, values, strict=True))
        share = _share(family, machine, sure)
        for name in doubted:
            share *= _put_down(family.features[name], machine[name], known[name])
        # a value that no machine has needs no row of its own
        if share > 0.0:
            machines.append(machine)
            shares.append(share)
    # brushes told of a machine without a belt: what it cannot differ in was not known after all
    if not machines:
        depending = {feature.id for feature in family.features.values() if feature.needs}
        left = {name: value for name, value in known.items() if name not in depending}
        return kinds_of(family, left, [name for name in doubted if name not in depending])
    return Kinds(tuple(machines), np.array(shares) / sum(shares))


def _share(family: Family, machine: Mapping[str, str], known: Mapping[str, str]) -> float:
    """Chance of a machine of these features among those that agree with what is known.

    A feature in which only some machines differ counts among those; the others have its one value.
    """
    share = 1.0
    for feature in family.features.values():
        value = machine[feature.id]
        if any(machine[other] != wanted for other, wanted in feature.needs.items()):
            share *= float(value == feature.others)
        elif feature.id not in known:
            share *= feature.share[value]
    return share


def _put_down(feature: Feature, value: str, given: str) -> float:
    """Chance that ``given`` is put down at intake of a machine with this value of the feature."""
    if value == given:
        return 1.0 - WRONG_AT_INTAKE
    return WRONG_AT_INTAKE / (len(feature.share) - 1)


def seen_where_fitting(table: Floats, fit: Floats) -> Floats:
    """(O + 1, H) outcomes of a check that not every kind has: the last is that there is none.

    ``table`` (O, H) holds for machines that have what is looked at, which are ``fit`` (H,) of them.
    """
    outcomes = len(table)
    # who is mistaken reports any answer of a thing that is not there
    answered = fit * (1.0 - MISTAKEN) * table + (1.0 - fit) * MISTAKEN / outcomes
    none_there = fit * MISTAKEN + (1.0 - fit) * (1.0 - MISTAKEN)
    return np.vstack([answered, none_there])
