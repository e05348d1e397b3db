"""Sets of faults, tables of checks and moves of repairs, shared by families that agree in them.

A family whose chances were learned differs from the written one in a few figures, and comes anew
with each closed job; its sets of faults and most of its tables are the same ones. What decides a
table is its key, so two families share one only where it is the same to the last bit.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.reasoning.belief import Transition, transition_of
from counterpoise.reasoning.hypotheses import Floats, Hypotheses, enumerate_hypotheses
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model, Repair

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping

# Four families of some 60 checks and 60 repairs; a table of a large one takes a megabyte.
_TABLES_KEPT, _MOVES_KEPT, _SETS_KEPT = 256, 256, 8
# Chance that a finding was read or tapped wrong (from memory).
MISREADING = 0.01
# Of ten that slip and stay unseen, nine put down what the check commonly shows and one anything
# (from memory): nobody has a broken spring before the eyes, and in the list, for want of attention.
ANY_SLIP = 0.1


class _By:
    """Something to compute with, as a cache key by what decides the result alone."""

    def __init__(self, key: Hashable, *holds: object) -> None:
        self.key, self.holds = key, holds

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _By) and other.key == self.key


def sets_of(faults: tuple[Fault, ...], most: int) -> Hypotheses:
    """The sets of these faults, at most ``most`` together; the same object for the same faults."""
    return _sets(faults, most)


@lru_cache(maxsize=_SETS_KEPT)
def _sets(faults: tuple[Fault, ...], most: int) -> Hypotheses:
    model = Model(faults, prior="independent", max_faults=most, nothing_wrong=True)
    return enumerate_hypotheses(model)


def table_of(check: Check, hypotheses: Hypotheses) -> Floats:
    """(O, H) chances of the outcomes of a check, without misreadings.

    Not to be written to: it is shared.
    """
    rows = tuple((key, _items(row)) for key, row in check.under.items())
    kind = check.exclusive, check.unordered
    key = id(hypotheses), check.outcomes, rows, _items(check.otherwise), *kind
    return _table(_By(key, check, hypotheses))


@lru_cache(maxsize=_TABLES_KEPT)
def _table(by: _By) -> Floats:
    # the sets are held by the key: as long as it is kept, no other object has their id
    table = outcome_table(*by.holds)  # type: ignore[arg-type]  # check and sets, as put in
    table.flags.writeable = False
    return table


def moves_of(repair: Repair, hypotheses: Hypotheses) -> Transition:
    """What a repair does to the sets of faults; not to be written to."""
    return _moves(_By((id(hypotheses), _items(repair.cures)), repair, hypotheses))


@lru_cache(maxsize=_MOVES_KEPT)
def _moves(by: _By) -> Transition:
    return transition_of(*by.holds)  # type: ignore[arg-type]  # repair and sets, as put in


def _items(chances: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(chances.items())


def slips_among(common: Floats, slip: float = MISREADING) -> Floats:
    """(O,) chance that each outcome is put down by a slip, ``slip`` in all.

    ``common`` (O,) is how often the check shows each on machines of which nothing is known.
    """
    return np.asarray(slip * ((1.0 - ANY_SLIP) * common / common.sum() + ANY_SLIP / len(common)))


def with_misreading(table: Floats, slips: Floats) -> Floats:
    """The chances (O, H) of a check with the chances (O,) that a finding was put down by a slip.

    No outcome is impossible then, so a single wrong tap cannot rule out the true fault.
    """
    return np.asarray((1.0 - slips.sum()) * table + slips[:, None])
