"""Orders that theory proves optimal, each a function of its own: judges of the planner.

Sources: Kadane and Simon 1977; Heckerman, Breese and Rommelse, CACM 38(3), 1995; Smith's rule and
its proof in Pinedo, *Scheduling*, Thm 3.1.1; Horn 1972 for out-trees; Vomlelova, Int. J. Intell.
Syst. 18, 2003 for independent faults.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cmp_to_key
from typing import TypeVar

from counterpoise.errors import ModelError

Key = TypeVar("Key", bound=Hashable)


def by_ratio(gain: Mapping[Key, float], cost: Mapping[Key, float]) -> list[Key]:
    """Non-increasing gain/cost, compared without dividing; ties keep their order.

    With exactly one fault, independent actions and constant costs, p/c is optimal. A free item goes
    first.
    """

    def compare(a: Key, b: Key) -> int:
        left, right = Fraction(gain[a]) * Fraction(cost[b]), Fraction(gain[b]) * Fraction(cost[a])
        return (left < right) - (left > right)

    return sorted(gain, key=cmp_to_key(compare))


def single_fault_order(probability: Mapping[Key, float], cost: Mapping[Key, float]) -> list[Key]:
    """Exactly one fault: non-increasing p/c."""
    return by_ratio(probability, cost)


def independent_faults_order(
    probability: Mapping[Key, float], cost: Mapping[Key, float]
) -> list[Key]:
    """Independent faults, stop when the device works: non-increasing p / (c (1 - p))."""
    return by_ratio(probability, {key: cost[key] * (1.0 - probability[key]) for key in probability})


def smith_order(weight: Mapping[Key, float], duration: Mapping[Key, float]) -> list[Key]:
    """Least total weighted completion time on one machine: non-increasing weight/duration."""
    return by_ratio(weight, duration)


def expected_repair_cost(
    order: Sequence[Key], probability: Mapping[Key, float], cost: Mapping[Key, float]
) -> float:
    """Exactly one fault: sum of c_i times the chance that nothing before it was the cause."""
    left, total = 1.0, 0.0
    for key in order:
        total += cost[key] * left
        left -= probability[key]
    return total


def weighted_completion(
    order: Sequence[Key], weight: Mapping[Key, float], duration: Mapping[Key, float]
) -> float:
    """Sum of weight times completion time of jobs done in this order."""
    clock = total = 0.0
    for key in order:
        clock += duration[key]
        total += weight[key] * clock
    return total


def horn_order(
    weight: Mapping[Key, float], duration: Mapping[Key, float], parent: Mapping[Key, Key | None]
) -> list[Key]:
    """Least total weighted completion time when each job waits for its parent (Horn 1972).

    The parents form a forest. Every job starts as a group; the group of largest weight/duration
    joins the group that holds its parent, and so on until only roots are left. Comparisons are
    exact. A panel is a job of weight 0. Raises ModelError where a job waits for itself.
    """
    _refuse_cycles(parent)
    keys = list(weight)
    number = {key: i for i, key in enumerate(keys)}
    root = len(keys)
    above = [root if parent.get(key) is None else number[parent[key]] for key in keys]  # type: ignore[index]
    groups = {
        i: _Group(Fraction(weight[key]), Fraction(duration[key]), [i]) for i, key in enumerate(keys)
    }
    held_by = list(range(root + 1))
    groups[root] = _Group(Fraction(0), Fraction(0), [])
    while len(groups) > 1:
        best = max((i for i in groups if i != root), key=lambda i: (groups[i], -i))
        target = above[best]
        while held_by[target] != target:
            target = held_by[target]
        groups[target].take(groups.pop(best))
        held_by[best] = target
    return [keys[i] for i in groups[root].jobs]


@dataclass(eq=False)
class _Group:
    """Jobs done in one go, ordered by weight/duration.

    Cross-multiplied, so that a duration of 0 is no special case.
    """

    weight: Fraction
    duration: Fraction
    jobs: list[int]

    def take(self, other: _Group) -> None:
        self.weight += other.weight
        self.duration += other.duration
        self.jobs += other.jobs

    def _cross(self, other: _Group) -> Fraction:
        return self.weight * other.duration - other.weight * self.duration

    def __lt__(self, other: _Group) -> bool:
        return self._cross(other) < 0

    def __gt__(self, other: _Group) -> bool:
        return self._cross(other) > 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Group) and self._cross(other) == 0

    __hash__ = None  # type: ignore[assignment]


def _refuse_cycles(parent: Mapping[Key, Key | None]) -> None:
    for start in parent:
        seen: set[Key] = set()
        here: Key | None = start
        while here is not None:
            if here in seen:
                raise ModelError(
                    f"{start} lies behind itself", field="parent", remedy="make the order a forest"
                )
            seen.add(here)
            here = parent.get(here)
