"""An abstract model made ready for planning: every table an array over hypotheses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from counterpoise.errors import ModelError
from counterpoise.reasoning.belief import Transition, transition_of
from counterpoise.reasoning.hazards import Hazard
from counterpoise.reasoning.hypotheses import (
    Floats,
    Hypotheses,
    Ints,
    enumerate_hypotheses,
    prior_of,
)
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Access, Check, Ending, Model, Repair, Retest
from counterpoise.reasoning.packing import packed, panels_needed

__all__ = ["MOST_ACTIONS", "Problem", "compile_model", "panels_needed"]

MOST_ACTIONS = 62  # a set of checks, repairs or panels is one machine word, with a sign


@dataclass(frozen=True)
class Problem:
    """What is planned over; ``prior`` (H,) is the belief the plan starts from.

    ``tables`` are (O, H) by check, ``ending_values`` (E, H). ``opened``, ``done`` and ``tried``
    (bits) say where the job already is. Costs and values share one unit. ``hazards``: what bars a
    run.
    """

    hypotheses: Hypotheses
    prior: Floats
    checks: tuple[Check, ...]
    repairs: tuple[Repair, ...]
    access: tuple[Access, ...]
    endings: tuple[Ending, ...]
    retest: Retest
    working: float
    tables: tuple[Floats, ...]
    transitions: tuple[Transition, ...]
    ending_values: Floats
    opened: int = 0
    done: int = 0
    tried: int = 0
    hazards: tuple[Hazard, ...] = ()

    def arrays(self) -> Arrays:
        """The problem as arrays for the kernels: made when first asked for, then the same."""
        return self._packed

    @cached_property
    def _packed(self) -> Arrays:
        return packed(self)

    def narrowed(self, share_dropped: float, most: int) -> tuple[Problem, Floats]:
        """The problem over its most probable hypotheses, and the (H,) probabilities left out.

        Hypotheses are dropped while their sum stays under ``share_dropped``, and beyond ``most``.
        """
        # stable, so that sets of equal chance are dropped in their order on every machine
        order = np.argsort(-self.prior, kind="stable")
        sums = np.cumsum(self.prior[order])
        keep = min(most, int(np.searchsorted(sums, 1.0 - share_dropped)) + 1)
        chosen = order[:keep]
        smaller, kept = self.hypotheses.subset(chosen)
        # subsets kept for the sake of repairs alone have no chance of their own
        weights = np.where(np.isin(kept, chosen), self.prior[kept], 0.0)
        dropped = self.prior.copy()
        dropped[kept] -= weights
        problem = replace(
            self,
            hypotheses=smaller,
            prior=weights / weights.sum(),
            tables=tuple(table[:, kept] for table in self.tables),
            transitions=tuple(_kept_transition(t, kept, len(dropped)) for t in self.transitions),
            ending_values=self.ending_values[:, kept],
        )
        return problem, dropped


def compile_model(model: Model) -> Problem:
    """Enumerate the hypotheses of a model and lay out its tables.

    Raises ModelError where there are too many hypotheses, or actions to plan over.
    """
    hypotheses = enumerate_hypotheses(model)
    prior = prior_of(model, hypotheses)
    # said here rather than where a shift of bits would wrap round
    for kind, count in (
        ("checks", len(model.checks)),
        ("repairs", len(model.repairs)),
        ("access", len(model.access)),
    ):
        if count >= MOST_ACTIONS:
            raise ModelError(
                f"{count} {kind}: fewer than {MOST_ACTIONS} can be planned over", field=kind
            )
    repairs = model.repairs
    # where nothing may be wrong, the bare retest can tell: a repair that cures nothing
    if model.nothing_wrong:
        repairs = (*repairs, Repair("retest", 0.0, {}))
    return Problem(
        hypotheses=hypotheses,
        prior=prior,
        checks=model.checks,
        repairs=repairs,
        access=model.access,
        endings=model.endings,
        retest=model.retest,
        working=model.working,
        tables=tuple(outcome_table(check, hypotheses) for check in model.checks),
        transitions=tuple(transition_of(repair, hypotheses) for repair in repairs),
        ending_values=np.array(
            [e.base + hypotheses.sum_over(e.per_fault) for e in model.endings]
        ).reshape(len(model.endings), len(hypotheses.sets)),
    )


def _kept_transition(transition: Transition, kept: Ints, count: int) -> Transition:
    """The moves among the sets that are kept, of ``count`` sets before.

    A kept set's smaller sets are kept too, so none leads outside.
    """
    place = np.full(count, -1, dtype=np.int64)
    place[kept] = np.arange(len(kept))
    inside = place[transition.source] >= 0
    return Transition(
        place[transition.source[inside]],
        place[transition.target[inside]],
        transition.chance[inside],
    )
