"""A job as the planner's problem: what each check and repair costs, what each ending is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.model import Ending
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import fault_of, within_reach
from counterpoise.workshop.diagnosis.hazards import must_not_leave, planner_hazards
from counterpoise.workshop.diagnosis.kinds.rows import Rows, all_rows, likely_rows
from counterpoise.workshop.diagnosis.offered import with_room
from counterpoise.workshop.diagnosis.part_sets import allowed_by_set
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.replay import KNOWN, Situation
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NO_SUPPLY, Supply

# Share of belief left out in sets of faults too rare to plan for: a plan over every set would take
# far longer for hardly another step. What is left out is told (PlannedProblem.dropped).
MAX_DROPPED = 0.004
# However flat the belief is, no more sets than this: planning time grows with them.
MAX_SETS = 320
WORKING_ENDING = {"workshop": "repair_resell", "customer": "repair_hand_back"}


def build_problem(
    situation: Situation,
    settings: Settings,
    supply: Supply = NO_SUPPLY,
    rows: Rows | None = None,
    *,
    limited: bool = True,
) -> Problem:
    """What there is to decide now, values in minor units.

    Over the rows given, else over every kind of machine and every set of faults. ``limited`` to as
    many checks as a plan can hold.
    """
    model, family = situation.model, situation.family
    if rows is None:
        rows = all_rows(model, situation.kinds, situation.joint)
    prices = Prices.of(situation, settings, supply)
    # a check done since the last repair would show much the same again: it is no longer offered
    # unless it contradicts another
    checks = [
        entry
        for entry in family.checks.values()
        if (entry.id not in situation.done or entry.id in situation.again)
        and can_be_done(entry, situation, settings)
    ]
    # nor is a repair that was tried: the planner takes what it did not cure as not curable by it
    repairs = [
        entry
        for entry in family.repairs.values()
        if entry.id not in situation.tried and can_be_done(entry, situation, settings)
    ]
    endings, values = ending_values(situation, prices, rows)
    opened = sum(1 << i for i, name in enumerate(family.access) if name in situation.opened)
    problem = Problem(
        hypotheses=rows.hypotheses,
        prior=rows.prior,
        checks=tuple(replace(rows.check(e), cost=prices.check_cost(e)) for e in checks),
        repairs=tuple(replace(rows.repair(e), cost=prices.repair_cost(e)) for e in repairs),
        access=prices.panels(),
        endings=endings,
        # the customer pays for the proof of a repair, so it is labour at the repair rate
        retest=model.proof.retest(family.proof_minutes * prices.repair_minute, prices.comes_back),
        working=prices.working,
        tables=_next_tables(situation, checks, rows),
        transitions=tuple(rows.transition(e) for e in repairs),
        ending_values=values,
        opened=opened,
        hazards=planner_hazards(situation, rows.hypotheses),
    )
    return with_room(problem) if limited else problem


def _next_tables(
    situation: Situation, checks: Sequence[CheckEntry], rows: Rows
) -> tuple[Floats, ...]:
    """(O, H) by check: its chances if it is done now, beside all that was found already."""
    tables = situation.evidence.next_tables(
        [entry.id for entry in checks], situation.probabilities, rows.base
    )
    return tuple(
        # what a machine is shows the same whatever is wrong with it
        rows.table(entry) if entry.tells else rows.over(entry, table)
        for entry, table in zip(checks, tables, strict=True)
    )


def can_be_done(entry: CheckEntry | RepairEntry, situation: Situation, settings: Settings) -> bool:
    """Whether it may fit the machine, and the workshop has the hands and the tools for it.

    A question to an owner cannot be asked of a machine that came without one; a piece of a set is
    neither put back nor renewed alone where the set's rule says that it means the whole. A look at
    what is known of the machine tells nothing, and a closer look waits for the first.
    """
    if isinstance(entry, CheckEntry) and (
        entry.tells in situation.known
        or (situation.intake.nobody_to_ask and entry.kind == "ask")
        or (entry.after is not None and entry.after not in situation.done)
    ):
        return False
    # what hardly any such machine has is left out; all else counts with its chance
    return (
        situation.fit(entry.needs) > 1.0 - KNOWN
        and within_reach(entry, settings.people, settings.tools)
        and allowed_by_set(situation, entry)
    )


def ending_values(
    situation: Situation, prices: Prices, rows: Rows
) -> tuple[tuple[Ending, ...], Floats]:
    """The ways to stop short of a repair, with (E, H) what each is worth under each row.

    In minor units. For the workshop's own machine what it fetches; for a customer's, what is gained
    over buying a new machine now.
    """
    # what an ending brings hangs on what is wrong for parting out only
    count = len(rows.base)
    if situation.intake.owner == "workshop":
        # a machine sold as it is takes as long to sell as a repaired one
        selling, scrap = prices.as_is - prices.selling, float(prices.money.scrap_minor)
        values = {
            # what may not be passed on brings what the yard gives, once it is known
            "sell_as_is": np.where(_may_be_left(prices.family, rows), selling, min(selling, scrap)),
            "part_out": parting_value(prices, rows) + scrap,
            "scrap": np.full(count, scrap),
        }
        if must_not_leave(situation):
            del values["sell_as_is"]
    else:
        # being left with a broken machine gains nothing over buying either; one minor unit less
        # breaks the tie; the fee for finding the fault is owed after both, and not after a repair
        owed = prices.owed
        values = {"replace": np.full(count, -owed), "hand_back": np.full(count, -owed - 1.0)}
    return tuple(Ending(name) for name in values), np.array(list(values.values()))


def _may_be_left(family: Family, rows: Rows) -> NDArray[np.bool_]:
    """(H,) whether a machine of each row may be handed on unrepaired."""
    keys = rows.sets.fault_ids
    barred = [bool(family.faults[fault_of(key)].must_not_leave) for key in keys]
    return np.asarray(~rows.sets.present[:, np.array(barred, dtype=bool)].any(axis=1))


def parting_value(prices: Prices, rows: Rows) -> Floats:
    """(H,) minor units that stripping the machine yields: each good assembly that pays.

    Where it is not known whether the machine has an assembly, it counts with its chance.
    """
    value = np.zeros(len(rows.base))
    for assembly in prices.family.assemblies.values():
        keys = rows.sets.fault_ids
        good = rows.sets.product_over(
            np.array([1.0 - assembly.spoiled_by.get(key, 0.0) for key in keys])
        )
        value += rows.fit(assembly.needs) * max(0.0, prices.assembly_minor(assembly)) * good
    return value


@dataclass(frozen=True)
class PlannedProblem:
    """A problem over the likeliest rows, planned; ``dropped``: share of belief left out."""

    problem: Problem
    look: Lookahead
    dropped: float
    rows: Rows


def plan_problem(
    situation: Situation, settings: Settings, supply: Supply, effort: Effort
) -> PlannedProblem:
    """Plan over the likeliest kinds and sets of faults, as thoroughly as ``effort`` says."""
    rows, dropped = likely_rows(
        situation.model,
        situation.kinds,
        situation.joint,
        share_dropped=MAX_DROPPED,
        most=MAX_SETS,
    )
    problem = build_problem(situation, settings, supply, rows)
    # paired: two first steps at once on two cores, with the same result
    look = Lookahead(problem, pair=True)
    look.plan(effort)
    return PlannedProblem(problem, look, dropped, rows)


def index_of(problem: Problem, action: Action) -> int:
    """The planner's index of an action: checks, then repairs, then endings. Raises ValueError."""
    checks, repairs = [c.id for c in problem.checks], [r.id for r in problem.repairs]
    if action.kind == "check":
        return checks.index(action.id)
    if action.kind == "repair":
        return len(checks) + repairs.index(action.id)
    return len(checks) + len(repairs) + [e.id for e in problem.endings].index(action.id)
