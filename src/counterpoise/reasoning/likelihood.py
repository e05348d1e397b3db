"""The chance of each outcome of a check under each set of faults: noisy-MAX with a leak."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.reasoning.hypotheses import Floats, Hypotheses
    from counterpoise.reasoning.model import Check


@dataclass(frozen=True, eq=False)
class Causes:
    """What the outcomes of a check hang on, fault by fault, whatever the sets of faults.

    ``by_fault`` (O, F): the chance under each fault alone that the outcome is no worse; where
    outcomes have no order, the chance of it. ``named`` (F,) whether the check names the fault,
    ``leak`` (O, 1) the same figures of what else may cause it.
    """

    check: Check
    by_fault: Floats
    named: NDArray[np.bool_]
    leak: Floats


def causes_of(check: Check, fault_ids: tuple[str, ...]) -> Causes:
    """The figures of a check by fault: what takes longest where there are few sets of faults."""
    named = np.array([name in check.under for name in fault_ids])
    leak = full_row(check, check.otherwise)
    # a fault without a row gives the first outcome for certain: a factor of 1 everywhere
    by_fault = (np.zeros if check.unordered else np.ones)((len(check.outcomes), len(fault_ids)))
    for column in np.flatnonzero(named):
        row = full_row(check, check.under[fault_ids[column]])
        by_fault[:, column] = row if check.unordered else np.cumsum(row)
    return Causes(check, by_fault, named, (leak if check.unordered else np.cumsum(leak))[:, None])


def outcome_table(check: Check, hypotheses: Hypotheses) -> Floats:
    """(O, H): the probability of each outcome under each set of faults.

    Noisy-MAX (Díez 1993): the outcome is the worst that any present cause gives, so the chance that
    it is no worse than ``o`` is the product of each cause's own chance of that; the leak is one
    more independent cause. In an exclusive check the leak acts only where no named fault is
    present. Where outcomes have no order, none is the worst: see :func:`_either_table`.
    """
    return table_of(causes_of(check, hypotheses.fault_ids), hypotheses)


def table_of(causes: Causes, hypotheses: Hypotheses) -> Floats:
    """(O, H): as :func:`outcome_table`, from what was worked out of the check before."""
    if causes.check.unordered:
        return _either_table(causes, hypotheses)
    cumulative = hypotheses.product_over(causes.by_fault)
    if causes.check.exclusive:
        explained = (hypotheses.present & causes.named).any(axis=1)
        cumulative = np.where(explained, cumulative, causes.leak)
    else:
        cumulative = cumulative * causes.leak
    # rounding must not leave the worst outcome short of certainty
    cumulative[-1] = 1.0
    # differences of products may fall below 0 by rounding
    return np.asarray(np.maximum(np.diff(cumulative, axis=0, prepend=0.0), 0.0))


def _either_table(causes: Causes, hypotheses: Hypotheses) -> Floats:
    """(O, H): the answer comes from one of the named faults present, from each as often.

    "Since when?" has one answer though two faults began at different times. The worst of the two
    would be whichever the file lists later; the leak answers only where no named fault is there.
    """
    named = hypotheses.present & causes.named
    count = named.sum(axis=1)
    # the largest of 1 and the count: sets without a named fault take the leak anyway
    either = causes.by_fault @ named.T / np.maximum(count, 1)
    return np.asarray(np.where(count > 0, either, causes.leak))


def full_row(check: Check, row: Mapping[str, float]) -> Floats:
    """(O,) probabilities of all outcomes; what the row leaves over goes to the first."""
    chances = np.array([row.get(outcome, 0.0) for outcome in check.outcomes])
    chances[0] += max(0.0, 1.0 - chances.sum())
    # figures of few digits sum to one only nearly
    return np.asarray(chances / chances.sum())
