"""All sets of faults that may be present together, and how likely each is before any evidence."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from counterpoise.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from counterpoise.reasoning.model import Fault, Model

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MAX_HYPOTHESES = 400_000  # a table of each check over them must fit in memory


@dataclass(frozen=True)
class Hypotheses:
    """The sets of faults considered: closed under taking a fault away.

    So a cure leads from one set to another. ``members`` is (H, M): the fault indices of each set,
    padded with F where a set is smaller. Set 0 is empty.
    """

    fault_ids: tuple[str, ...]
    sets: tuple[tuple[int, ...], ...]

    @cached_property
    def members(self) -> Ints:
        """(H, M) fault indices, padded with F."""
        # one column at least, so that an index of it is always there
        width = max(1, *(len(s) for s in self.sets)) if self.sets else 1
        padded = np.full((len(self.sets), width), len(self.fault_ids), dtype=np.int64)
        for row, faults in enumerate(self.sets):
            padded[row, : len(faults)] = faults
        return padded

    @cached_property
    def index(self) -> Mapping[tuple[int, ...], int]:
        """Position of each set."""
        return {faults: row for row, faults in enumerate(self.sets)}

    @cached_property
    def one_less(self) -> Ints:
        """(H, M): the row of each set without one of its faults.

        Its own row where there is no such fault.
        """
        less = np.repeat(np.arange(len(self.sets))[:, None], self.members.shape[1], axis=1)
        for row, faults in enumerate(self.sets):
            for m in range(len(faults)):
                less[row, m] = self.index[faults[:m] + faults[m + 1 :]]
        return less

    @cached_property
    def present(self) -> NDArray[np.bool_]:
        """(H, F): is the fault in the set."""
        table = np.zeros((len(self.sets), len(self.fault_ids) + 1), dtype=np.bool_)
        np.put_along_axis(table, self.members, values=True, axis=1)
        return table[:, :-1]

    @cached_property
    def presence(self) -> Floats:
        """(H, F): 1 where the fault is in the set, as numbers that a belief is multiplied with."""
        return self.present.astype(np.float64)

    def sum_over(self, per_fault: Mapping[str, float]) -> Floats:
        """(H,): a number a fault, summed over the faults of each set."""
        padded = np.array([*(per_fault.get(name, 0.0) for name in self.fault_ids), 0.0])
        return np.asarray(padded[self.members].sum(axis=1))

    def product_over(self, per_fault: Floats) -> Floats:
        """(..., H) from (..., F): a factor a fault, multiplied over the faults of each set."""
        padded = np.concatenate([per_fault, np.ones((*per_fault.shape[:-1], 1))], axis=-1)
        # fault by fault, in order: a product along so short an axis takes many times as long
        first, *others = np.ascontiguousarray(self.members.T)
        product = padded[..., first]
        for column in others:
            product *= padded[..., column]
        return np.asarray(product)

    def subset(self, rows: Ints) -> tuple[Hypotheses, Ints]:
        """The sets in ``rows`` with every subset of theirs; and where each came from."""
        # closed again: a cure must not lead to a set that was left out
        wanted = {sub for row in rows for sub in _subsets(self.sets[row])} | {()}
        kept = np.array(sorted(self.index[s] for s in wanted), dtype=np.int64)
        return Hypotheses(self.fault_ids, tuple(self.sets[row] for row in kept)), kept


def enumerate_hypotheses(model: Model) -> Hypotheses:
    """Every set the model admits: one fault a group, lone faults alone, up to ``max_faults``.

    Raises ModelError where there are more than ``MAX_HYPOTHESES``.
    """
    # with exactly one fault, larger sets have no chance
    largest = 1 if model.prior == "exactly_one" else min(model.max_faults, len(model.faults))
    sets: list[tuple[int, ...]] = []
    for faults in _admitted(model.faults, largest):
        sets.append(faults)
        # while they are counted, or a model of many faults would fill the memory first
        if len(sets) > MAX_HYPOTHESES:
            raise ModelError(
                f"{len(model.faults)} faults in sets of up to {largest} are more than "
                f"{MAX_HYPOTHESES} hypotheses",
                field="max_faults",
                remedy="lower max_faults or leave out faults",
            )
    return Hypotheses(tuple(fault.id for fault in model.faults), tuple(sets))


def prior_of(model: Model, hypotheses: Hypotheses) -> Floats:
    """(H,) prior probabilities.

    The empty set has none unless the model says that nothing may be wrong. Raises ModelError where
    no set has a chance.
    """
    priors = np.array([fault.prior for fault in model.faults])
    if model.prior == "exactly_one":
        weights = np.concatenate([[0.0], priors])
    else:
        certain = priors >= 1
        # the chance of a set is the product of its faults' odds, times what all sets share
        odds = np.where(certain, 1.0, priors / np.where(certain, 1.0, 1.0 - priors))
        weights = hypotheses.product_over(odds)
        # a certain fault leaves no chance that nothing is wrong
        if not model.nothing_wrong or certain.any():
            weights[0] = 0.0
    total = weights.sum()
    if not total > 0:
        raise ModelError(
            "no set of faults has a chance",
            field="faults",
            remedy="give at least one fault a prior above 0",
        )
    return np.asarray(weights / total)


def _admitted(faults: tuple[Fault, ...], largest: int) -> Iterator[tuple[int, ...]]:
    sociable = [i for i, fault in enumerate(faults) if not fault.alone]
    # the empty set is always there: repairs lead to it
    yield ()
    yield from ((i,) for i in range(len(faults)))
    for size in range(2, largest + 1):
        for chosen in combinations(sociable, size):
            # two grades of one thing cannot be there at once
            groups = [faults[i].group for i in chosen if faults[i].group is not None]
            if len(set(groups)) == len(groups):
                yield chosen


def _subsets(faults: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    for size in range(len(faults) + 1):
        yield from combinations(faults, size)
