"""Interchangeable parts of a model, so that what is solved once need not be solved again."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from counterpoise.reasoning.hypotheses import Ints
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.problem import Problem

# Places in the key of a state: the blocks of one class share theirs, others must not.
SPAN = 1 << 10  # places kept for the blocks of one class
Swap = dict[int, int]  # which set of faults goes to which


@dataclass(frozen=True)
class Symmetry:
    """What may be swapped for what.

    ``block`` (H + C + R, 2): the block (0: none) and the place in it of each set, check and repair;
    blocks of one class have the same places. ``twin`` (R,): an earlier repair that is like this one
    in all respects, or -1. ``interchangeable``: for an action (by number) in a block, the actions
    at its place in all blocks of the class.
    """

    block: Ints
    twin: Ints
    interchangeable: dict[int, tuple[int, ...]] = field(default_factory=dict)


def find_symmetry(problem: Problem, k: Arrays) -> Symmetry:
    """Twins and blocks where each fault has one repair of its own; elsewhere empty.

    A block is a check with the faults only it parts from the rest, and their repairs: two are
    interchangeable if the model stays the same, bit for bit, when they trade places.
    """
    sets, checks, repairs = k.pass_chance.size, k.check_cost.size, k.repair_cost.size
    block, twin = np.zeros((sets + checks + repairs, 2), np.int64), np.full(repairs, -1, np.int64)
    symmetry = Symmetry(block, twin)
    # once something was done, checks and repairs differ by that, and the search has begun
    if not k.separable or problem.done or problem.tried:
        return symmetry
    rows = _Rows(problem, k)
    rows.pair_up(twin)
    taken: set[int] = set()
    for c in range(checks):
        # a check stands in one block at most
        if c in taken:
            continue
        swaps = {
            d: swap
            for d in range(c + 1, checks)
            if d not in taken and (swap := rows.swap(c, d)) is not None
        }
        blocks = _blocks(c, swaps)
        for number, (check, own) in enumerate(blocks, start=len(taken) + 1):
            _note(symmetry, rows, number, c * SPAN, check, own)
        taken |= {check for check, _ in blocks}
        _note_interchangeable(symmetry, rows, blocks)
    return symmetry


class _Rows:
    """All that tells one set of faults from another, to the last bit."""

    def __init__(self, problem: Problem, k: Arrays) -> None:
        self.k = k
        # the repair that cures each set's fault
        self.repair = np.full(k.pass_chance.size, -1, np.int64)
        for r, fault in zip(*np.nonzero(k.cure[:, :-1] > 0), strict=True):
            self.repair[k.members[:, 0] == fault] = r
        self._own = [
            (float(problem.prior[h]), *self._of_repair(int(self.repair[h])))
            for h in range(k.pass_chance.size)
        ]

    def _of_repair(self, r: int) -> tuple[float, ...]:
        if r < 0:
            return ()
        return (
            float(self.k.repair_cost[r]),
            float(self.k.repair_panels[r]),
            float(self.k.cure[r].max()),
        )

    def likeness(self, h: int, c: int = 0, d: int = 0) -> tuple[object, ...]:
        """What a set looks like with checks ``c`` and ``d`` trading places."""
        order = list(range(self.k.check_cost.size))
        # there may be no check at all
        if order:
            order[c], order[d] = d, c
        # the bytes, for likeness is to the last bit: rounding may part what is alike, never join
        return (*self._own[h], self.k.table[order, :, h].tobytes())

    def swap(self, c: int, d: int) -> Swap | None:
        """Which set goes to which when two checks trade places.

        None where the model would not stay the same.
        """
        k = self.k
        # checks of unlike price, panels or outcomes cannot trade places
        alike = (k.check_cost, k.check_panels, k.check_keeps, k.outcomes)
        if any(figures[c] != figures[d] for figures in alike):
            return None
        now: dict[tuple[object, ...], list[int]] = {}
        then: dict[tuple[object, ...], list[int]] = {}
        for h in range(1, k.pass_chance.size):
            now.setdefault(self.likeness(h), []).append(h)
            then.setdefault(self.likeness(h, c, d), []).append(h)
        # as many sets of each kind before and after, or there is no such exchange
        if {like: len(group) for like, group in now.items()} != {
            like: len(group) for like, group in then.items()
        }:
            return None
        return {
            h: other
            for like, group in then.items()
            for h, other in zip(group, now[like], strict=True)
        }

    def pair_up(self, twin: Ints) -> None:
        """Fill in ``twin`` (R,): the latest earlier repair of a set that looks the same."""
        last: dict[tuple[object, ...], int] = {}
        for h in range(1, self.repair.size):
            r = int(self.repair[h])
            # a set that nothing cures has no repair to be a twin
            if r >= 0:
                like = self.likeness(h)
                twin[r] = last.get(like, -1)
                last[like] = r


def _blocks(c: int, swaps: dict[int, Swap]) -> list[tuple[int, list[int]]]:
    """The blocks of the class of check ``c``: each check with its sets in matching order.

    Empty where the check is alone.
    """
    moved = {d: {h for h, other in swap.items() if other != h} for d, swap in swaps.items()}
    swaps = {
        d: swap
        for d, swap in swaps.items()
        if moved[d] and all(swap[swap[h]] == h for h in moved[d])
    }
    if not swaps:
        return []
    # the sets of the first check are those that move in every exchange
    own = set.intersection(*(moved[d] for d in swaps))
    # which side is whose does not matter with two blocks
    if len(swaps) == 1:
        swap = next(iter(swaps.values()))
        own = {h for h in own if h < swap[h]}
    ordered, blocks, used = sorted(own), [(c, sorted(own))], set(own)
    for d, swap in swaps.items():
        other = [swap[h] for h in ordered]
        # overlapping blocks could not trade places independently of one another
        if used & set(other) or moved[d] != own | set(other):
            return []
        used |= set(other)
        blocks.append((d, other))
    return blocks if own else []


def _note(
    symmetry: Symmetry, rows: _Rows, number: int, base: int, check: int, own: list[int]
) -> None:
    """Write down a block in ``symmetry.block``: a check and its sets with their repairs."""
    sets, checks = rows.k.pass_chance.size, rows.k.check_cost.size
    symmetry.block[sets + check] = number, base
    for place, h in enumerate(own):
        symmetry.block[h] = number, base + 1 + 2 * place
        if rows.repair[h] >= 0:
            symmetry.block[sets + checks + rows.repair[h]] = number, base + 2 + 2 * place


def _note_interchangeable(
    symmetry: Symmetry, rows: _Rows, blocks: list[tuple[int, list[int]]]
) -> None:
    checks = rows.k.check_cost.size
    columns = [
        [check, *(checks + int(rows.repair[h]) for h in own if rows.repair[h] >= 0)]
        for check, own in blocks
    ]
    for place in zip(*columns, strict=True):
        symmetry.interchangeable.update(dict.fromkeys(place, place))
