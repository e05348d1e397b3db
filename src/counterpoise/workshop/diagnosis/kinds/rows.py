"""Kinds of machine and sets of faults as the planner takes them: H rows, told apart or merged.

To the planner a fault of a machine of another kind is another fault where another repair cures it:
a worn bearing in a bolted tub is not that in a welded one. Where all repairs of a fault fit all
kinds alike, one row stands for them all, with the chances of the kinds in it. Taking a fault away
leads to a row again, of as many kinds or more, so all that holds of sets of faults holds of rows.

Arrays are over K kinds, S sets of faults of the family, F fault keys, H rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from counterpoise.catalog.family import CheckEntry, RepairEntry
from counterpoise.reasoning.belief import Transition
from counterpoise.reasoning.hypotheses import Floats, Hypotheses, Ints
from counterpoise.reasoning.model import Check, Repair
from counterpoise.workshop.diagnosis.family_model import BY_KIND, FamilyModel
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, seen_where_fitting
from counterpoise.workshop.diagnosis.kinds.layout import Layout, layout_of
from counterpoise.workshop.jobs.entries import NOT_THERE

# A kind that is ruled out still has a place in rows that nothing speaks for.
_LEAST_KIND = 1e-12


@dataclass(frozen=True, eq=False)
class Rows:
    """H rows of a layout: ``base`` (H,) their sets of faults, ``first`` (H,) their first kinds.

    ``share`` (K, H) are the chances of the kinds within each row; ``prior`` (H,) the belief.
    ``hypotheses`` are the sets of faults as the planner tells them apart.
    """

    layout: Layout
    base: Ints
    first: Ints
    share: Floats
    prior: Floats
    hypotheses: Hypotheses

    @property
    def _whole(self) -> bool:
        """Whether these are the family's own sets, all of them: large, and laid out before."""
        return self.hypotheses is self.layout.model.hypotheses

    @cached_property
    def sets(self) -> Hypotheses:
        """The faults of each row by the family's own keys; a set stands in as many rows as need."""
        model = self.layout.model.hypotheses
        if self._whole:
            return model
        return Hypotheses(model.fault_ids, tuple(model.sets[row] for row in self.base))

    def fit(self, needs: Mapping[str, str]) -> Floats:
        """(H,) chance that a machine of each row has these features."""
        return np.asarray(self.layout.kinds.fit(needs) @ self.share)

    def table(self, entry: CheckEntry) -> Floats:
        """(O, H) chances of the outcomes of a check of the family."""
        if entry.tells:
            return np.asarray(self.layout.kinds.showing(entry) @ self.share)
        table = self.layout.model.tables[entry.id]
        return self.over(entry, table if self._whole else table[:, self.base])

    def over(self, entry: CheckEntry, table: Floats) -> Floats:
        """(O, H) chances of the outcomes of a check, which are ``table`` where it applies.

        One outcome more, that there is no such thing, where some kind has none.
        """
        if self.layout.kinds.fit(entry.needs).all():
            return table
        return seen_where_fitting(table, self.fit(entry.needs))

    def check(self, entry: CheckEntry) -> Check:
        """A check as the planner takes it, without its cost, with as many outcomes as its table."""
        check = self.layout.model.checks[entry.id]
        if self.layout.kinds.fit(entry.needs).all():
            return check
        return replace(check, outcomes=(*check.outcomes, NOT_THERE))

    def transition(self, entry: RepairEntry) -> Transition:
        """What a repair makes of each row; it does nothing to a machine that it does not fit."""
        layout, moves = self.layout, self.layout.model.transitions[entry.id]
        if self._whole:
            return moves
        source, target, chance = [], [], []
        # a repair that cures a fault of a row fits all its kinds or none
        for kind in np.flatnonzero(layout.kinds.fit(entry.needs)):
            here, leads = self._rows_of_kind[kind]
            inside = here[moves.source] >= 0
            source.append(here[moves.source[inside]])
            target.append(leads[moves.target[inside]])
            chance.append(moves.chance[inside])
        if not source:
            return Transition(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
        rising = np.argsort(np.concatenate(source), kind="stable")
        return Transition(
            np.concatenate(source)[rising],
            np.concatenate(target)[rising],
            np.concatenate(chance)[rising],
        )

    def repair(self, entry: RepairEntry) -> Repair:
        """A repair with what it cures by the planner's faults, without its cost."""
        fits = self.layout.kinds.fit(entry.needs)
        cures = {
            name: entry.cures[key]
            for name, key, kind in self._faults
            if key in entry.cures and fits[kind]
        }
        return Repair(entry.id, 0.0, cures, entry.access, entry.runs)

    def part(self, hypotheses: Hypotheses) -> Rows:
        """Those of the rows that a narrowed problem was made of, by its sets of faults."""
        kept = [self.hypotheses.index[faults] for faults in hypotheses.sets]
        return replace(
            self,
            base=self.base[kept],
            first=self.first[kept],
            share=self.share[:, kept],
            prior=self.prior[kept],
            hypotheses=hypotheses,
        )

    def mass(self, joint: Floats) -> Floats:
        """(H,) what a belief (K, S) holds for each row."""
        at = self._at[self.layout.places]
        there = at >= 0
        return _summed(at[there], joint[there], len(self.base))

    @cached_property
    def _at(self) -> Ints:
        """Where each place of the layout is among the rows, -1 where it was left out."""
        kinds, sets = self.layout.first.shape
        # the last entry answers for what cannot be, whose place is -1
        at = np.full(kinds * sets + 1, -1, dtype=np.int64)
        at[self.base * kinds + self.first] = np.arange(len(self.base))
        return at

    @cached_property
    def _rows_of_kind(self) -> list[tuple[Ints, Ints]]:
        """By kind, each (S,): the row of a set that begins with the kind, and the row of any."""
        layout = self.layout
        leads = [self._at[places] for places in layout.places]
        return [
            (np.where(first == kind, row, -1), row)
            for kind, (first, row) in enumerate(zip(layout.first, leads, strict=True))
        ]

    @cached_property
    def _faults(self) -> list[tuple[str, str, int]]:
        """The planner's faults: name, fault key, and a kind in which each can be."""
        names = self.hypotheses.fault_ids
        return [(name, fault_key(name), self._kind_of(name)) for name in names]

    def _kind_of(self, name: str) -> int:
        """A kind in which the planner's fault of this name can be."""
        key, _, kind = name.partition(BY_KIND)
        if kind:
            return int(kind)
        column = self.layout.model.hypotheses.fault_ids.index(key)
        return int(np.flatnonzero(self.layout.label[column] >= 0)[0])


def fault_key(name: str) -> str:
    """The fault key behind a fault of the planner, which may be told apart by the kind."""
    return name.partition(BY_KIND)[0]


def all_rows(model: FamilyModel, kinds: Kinds, joint: Floats) -> Rows:
    """Every row, with the belief ``joint`` (K, S) in it."""
    layout = layout_of(model, kinds)
    return _rows(layout, layout.rows, joint)


def likely_rows(
    model: FamilyModel, kinds: Kinds, joint: Floats, *, share_dropped: float, most: int
) -> tuple[Rows, float]:
    """The likeliest rows with all that a cure leads to, and the share of belief left out.

    Rows are left out while their sum stays under ``share_dropped``, and beyond ``most``.
    """
    layout = layout_of(model, kinds)
    places, mass = _masses(layout, joint)
    # stable, so that rows of equal chance are dropped in their order on every machine
    order = np.argsort(-mass, kind="stable")
    keep = min(most, int(np.searchsorted(np.cumsum(mass[order]), 1.0 - share_dropped)) + 1)
    chosen = places[order[:keep]]
    rows = _rows(layout, _closed(layout, chosen), joint)
    # rows kept for the sake of repairs alone have no chance of their own
    weights = np.where(np.isin(_place(rows), chosen), rows.prior, 0.0)
    return replace(rows, prior=weights / weights.sum()), float(mass.sum() - weights.sum())


def _masses(layout: Layout, joint: Floats) -> tuple[Ints, Floats]:
    """The places of all rows, rising, and what a belief (K, S) holds for each."""
    mass = _summed(layout.placed, joint[layout.there], layout.first.size)
    return layout.rows, mass[layout.rows]


def _summed(places: Ints, mass: Floats, count: int) -> Floats:
    return np.asarray(np.bincount(places, weights=mass, minlength=count), dtype=np.float64)


def _closed(layout: Layout, places: Ints) -> Ints:
    """The places with those of all that is left when some faults are taken away, rising."""
    index, sets = layout.model.hypotheses.index, layout.model.hypotheses.sets
    kinds = layout.first.shape[0]
    wanted = set(places.tolist())
    for place in places.tolist():
        faults, kind = sets[place // kinds], place % kinds
        for size in range(len(faults)):
            for part in combinations(faults, size):
                row = index[part]
                wanted.add(row * kinds + int(layout.first[kind, row]))
    return np.array(sorted(wanted), dtype=np.int64)


def _place(rows: Rows) -> Ints:
    return np.asarray(rows.base * rows.layout.first.shape[0] + rows.first)


def _rows(layout: Layout, places: Ints, joint: Floats) -> Rows:
    kinds = layout.first.shape[0]
    base, first = places // kinds, places % kinds
    # (K, H): which kinds are in each row
    inside = layout.first[:, base] == first
    mass = np.where(inside, joint[:, base], 0.0)
    # a row that nothing speaks for is there only for what a cure leads to: kinds as they are now
    spare = inside * np.maximum(joint.sum(axis=1), _LEAST_KIND)[:, None]
    total = mass.sum(axis=0)
    share = np.where(total > 0.0, mass, spare)
    return Rows(
        layout,
        base,
        first,
        share / share.sum(axis=0),
        total,
        _told_apart(layout, base, first),
    )


def _told_apart(layout: Layout, base: Ints, first: Ints) -> Hypotheses:
    """The sets of faults of rows, with a fault that differs by kind as several faults."""
    whole = layout.model.hypotheses
    if layout.first.shape[0] == 1:
        if len(base) == len(whole.sets):
            return whole
        return Hypotheses(whole.fault_ids, tuple(whole.sets[row] for row in base))
    names: list[str] = []
    # (fault, label) to the planner's fault
    number: dict[tuple[int, int], int] = {}
    for fault, key in enumerate(whole.fault_ids):
        labels = sorted({label for label in layout.label[fault].tolist() if label >= 0})
        for label in labels:
            number[fault, label] = len(names)
            names.append(f"{key}{BY_KIND}{label}" if len(labels) > 1 else key)
    label_of = layout.label.tolist()
    sets = tuple(
        tuple(number[fault, label_of[fault][kind]] for fault in whole.sets[row])
        for row, kind in zip(base.tolist(), first.tolist(), strict=True)
    )
    return Hypotheses(tuple(names), sets)
