"""Which kinds of machine a plan may take together, for each set of faults.

Arrays are over K kinds, S sets of faults of the family, F fault keys.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Ints
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds

_LAYOUTS_KEPT = 16  # one for each combination of what is known of machines


@dataclass(frozen=True, eq=False)
class Layout:
    """Which kinds make one row, for each set of faults.

    ``label`` (F, K): the first kind in which a fault has the same repairs, -1 where it cannot be;
    ``first`` (K, S): the first kind that is in one row with each, -1 where the set cannot be.
    """

    model: FamilyModel
    kinds: Kinds
    label: Ints
    first: Ints

    @cached_property
    def places(self) -> Ints:
        """(K, S) a number for each row, rising with the set of faults; -1 where there is none."""
        count = len(self.kinds.machines)
        return np.where(self.first < 0, -1, np.arange(self.first.shape[1]) * count + self.first)

    @cached_property
    def there(self) -> NDArray[np.bool_]:
        """(K, S) whether a set of faults can be in a machine of each kind."""
        return self.places >= 0

    @cached_property
    def placed(self) -> Ints:
        """(N,) the places of all that can be, kind after kind."""
        return self.places[self.there]

    @cached_property
    def rows(self) -> Ints:
        """The places of all rows, each once, rising."""
        return np.unique(self.placed)


def layout_of(model: FamilyModel, kinds: Kinds) -> Layout:
    """The rows that these kinds need; kept for the next machine of which as much is known."""
    # by what is known of the machine, whatever the chances of the kinds
    return model.remembered.of("layout", kinds.key, lambda: _layout(model, kinds), _LAYOUTS_KEPT)


def _layout(model: FamilyModel, kinds: Kinds) -> Layout:
    sets, count = model.hypotheses, len(kinds.machines)
    if count == 1:
        return Layout(
            model,
            kinds,
            np.zeros((len(sets.fault_ids), 1), dtype=np.int64),
            np.zeros((1, len(sets.sets)), dtype=np.int64),
        )
    label = np.array([_labels(model, kinds, key) for key in sets.fault_ids])
    # the padding of small sets is alike in all kinds
    padded = np.vstack([label, np.zeros((1, count), dtype=np.int64)])
    # (S, M, K)
    of_set = padded[sets.members]
    possible = (of_set >= 0).all(axis=1)
    first = np.full((count, len(sets.sets)), -1, dtype=np.int64)
    # backwards, so that the first kind that is alike is written last
    for other in reversed(range(count)):
        alike = (of_set == of_set[:, :, other : other + 1]).all(axis=1) & possible
        first[alike.T] = other
    return Layout(model, kinds, label, first)


def _labels(model: FamilyModel, kinds: Kinds, key: str) -> list[int]:
    """For each kind the first one in which the same repairs cure a fault; -1 where it is not."""
    family = model.family
    fault = family.faults[key.partition(":")[0]]
    cured_by = [
        kinds.fit(repair.needs) for repair in family.repairs.values() if repair.cures.get(key, 0.0)
    ]
    possible = kinds.fit(fault.needs)
    firsts: dict[tuple[bool, ...], int] = {}
    return [
        firsts.setdefault(tuple(bool(fits[kind]) for fits in cured_by), kind)
        if possible[kind]
        else -1
        for kind in range(len(kinds.machines))
    ]
