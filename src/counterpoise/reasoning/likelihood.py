"""The chance of each outcome of a check under each set of faults: noisy-MAX with a leak."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.reasoning.hypotheses import Floats, Hypotheses
    from counterpoise.reasoning.model import Check


def outcome_table(check: Check, hypotheses: Hypotheses) -> Floats:
    """(O, H): the probability of each outcome under each set of faults.

    Noisy-MAX (Díez 1993): the outcome is the worst that any present cause gives, so the chance that
    it is no worse than ``o`` is the product of each cause's own chance of that; the leak is one
    more independent cause. In an exclusive check the leak acts only where no named fault is
    present. Where outcomes have no order, none is the worst: see :func:`_either_table`.
    """
    if check.unordered:
        return _either_table(check, hypotheses)
    names = hypotheses.fault_ids
    # a fault without a row gives the first outcome for certain: a factor of 1 everywhere
    no_worse = np.ones((len(check.outcomes), len(names)))
    for column, name in enumerate(names):
        if name in check.under:
            no_worse[:, column] = np.cumsum(full_row(check, check.under[name]))
    leak = np.cumsum(full_row(check, check.otherwise))[:, None]
    cumulative = hypotheses.product_over(no_worse)
    if check.exclusive:
        named = np.array([name in check.under for name in names])
        explained = (hypotheses.present & named).any(axis=1)
        cumulative = np.where(explained, cumulative, leak)
    else:
        cumulative = cumulative * leak
    # rounding must not leave the worst outcome short of certainty
    cumulative[-1] = 1.0
    # differences of products may fall below 0 by rounding
    return np.asarray(np.maximum(np.diff(cumulative, axis=0, prepend=0.0), 0.0))


def _either_table(check: Check, hypotheses: Hypotheses) -> Floats:
    """(O, H): the answer comes from one of the named faults present, from each as often.

    "Since when?" has one answer though two faults began at different times. The worst of the two
    would be whichever the file lists later; the leak answers only where no named fault is there.
    """
    names = hypotheses.fault_ids
    rows = np.zeros((len(check.outcomes), len(names)))
    for column, name in enumerate(names):
        if name in check.under:
            rows[:, column] = full_row(check, check.under[name])
    named = hypotheses.present & np.array([name in check.under for name in names])
    count = named.sum(axis=1)
    leak = full_row(check, check.otherwise)[:, None]
    # the largest of 1 and the count: sets without a named fault take the leak anyway
    return np.asarray(np.where(count > 0, rows @ named.T / np.maximum(count, 1), leak))


def full_row(check: Check, row: Mapping[str, float]) -> Floats:
    """(O,) probabilities of all outcomes; what the row leaves over goes to the first."""
    chances = np.array([row.get(outcome, 0.0) for outcome in check.outcomes])
    chances[0] += max(0.0, 1.0 - chances.sum())
    # figures of few digits sum to one only nearly
    return np.asarray(chances / chances.sum())
