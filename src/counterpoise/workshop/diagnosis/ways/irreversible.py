"""What cannot be undone waits: nobody ends a machine before a hand was on what condemns it.

Two spoken answers can carry a belief to 97 % and still rest on one mishearing. So a step that
cannot be undone (parting out, scrap, a new machine instead, a dear repair) is advised only after a
check by hand that bears on what speaks for it, as long as such a check costs minutes. Classes
decide, never names: the kind of a check, and the faults with which one who knew of them would do
the same. Where no such check is near, a machine that nobody has touched or seen run at all still
waits: what was said of it alone ends no machine.

Arrays are over H sets of faults; money is minor units.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import mutual_information_bits
from counterpoise.reasoning.kernels.bounds import opening_cost
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.ways.touch import (
    LEAST_MASS,
    Bench,
    Telling,
    Touch,
    at_the_machine,
)
from counterpoise.workshop.jobs.settings import Settings

# After these the machine is gone; one handed back or passed on can still be mended.
ENDINGS = frozenset({"part_out", "scrap", "sell_as_is", "replace"})
# Share of what condemns a machine, by its chances, that a hand must have been on (from memory).
COVERED = 0.5
# Minutes: longer than any check, shorter than what cannot be done at all.
LONGEST = 1e6
# Bits that a check tells of whether the machine is worth more than the ending; below, it is idle.
LEAST_WORTH_BITS = 0.005
# A fault condemns where one who knew what is wrong would do the same so often; or so much more
# often with it than without it (from memory). A repair is meant for the faults it cures so surely.
OFTEN, MORE_OFTEN = 0.5, 0.2
# Minor units; a set of faults worth less than this over the ending is not worth saving.
_LEAST_WORTH = 1.0


def cannot_be_undone(problem: Problem, action: Action, settings: Settings) -> bool:
    """Whether a step is one that cannot be undone, or a repair above the stated price."""
    if action.kind == "ending":
        return action.id in ENDINGS
    if action.kind != "repair":
        return False
    return repair_price(problem, action.id) >= settings.sure_above_minor


def repair_price(problem: Problem, repair: str) -> float:
    """Minor units of a repair with its proof and the panels still shut before it."""
    index = [each.id for each in problem.repairs].index(repair)
    k = problem.arrays()
    return float(k.repair_cost[index] + opening_cost(k, k.repair_panels[index], problem.opened))


def touch_first(bench: Bench, action: Action) -> Touch | None:
    """The check to be done before ``action``; None where nothing is left to be touched.

    None also where a hand was already on most of what condemns the machine, where no check of a few
    minutes bears on it, and where nothing that could be wrong would make another way better.
    """
    checks = bench.model.family.checks
    tells = Telling.of(bench, _faults_for(bench, action))
    if tells is None:
        return _first_of_all(bench, action)
    known = [name for name in bench.learned if name in checks and tells.bears(name)]
    left = tells.without(known)
    if left.chance < (1.0 - COVERED) * tells.chance or left.chance <= 0.0:
        return None
    return _by_hand(bench, left, bench.settings.touch_minutes) or _first_of_all(bench, action)


def clearing_check(bench: Bench, keys: frozenset[str]) -> Touch | None:
    """The check by hand that tells most, for its minutes, whether one of these faults is there.

    None where none is left.
    """
    tells = Telling.of(bench, keys, least=LEAST_MASS)
    if tells is None:
        return None
    # what clears a run is worth any minutes
    return _by_hand(bench, tells, LONGEST)


def _by_hand(bench: Bench, tells: Telling, most_minutes: float) -> Touch | None:
    """The check by hand that tells most for its minutes, with the faults that it is on."""
    bits = {each.id: tells.bits(each.id) for each in bench.problem.checks if tells.bears(each.id)}
    best = bench.most_telling(bits, most_minutes)
    return replace(best, faults=tells.titles(best.check)) if best else None


def _first_of_all(bench: Bench, action: Action) -> Touch | None:
    """The check to begin with at a machine of which one has only heard; None where one has not."""
    problem, checks = bench.problem, bench.model.family.checks
    if not bench.hearsay or action.kind != "ending":
        return None
    saved = _worth_saving(problem, action.id)
    # by whether it is worth more than the ending: (2, H)
    sides = np.array([problem.prior * ~saved, problem.prior * saved])
    tables = {each.id: table for each, table in zip(problem.checks, problem.tables, strict=True)}
    bits = {
        name: _told_of_sides(table, sides)
        for name, table in tables.items()
        if at_the_machine(checks[name])
    }
    telling = {name: told for name, told in bits.items() if told >= LEAST_WORTH_BITS}
    return bench.most_telling(telling, bench.settings.touch_minutes)


def _told_of_sides(table: Floats, sides: Floats) -> float:
    """Bits that a check tells of which side it is: (O, H) chances, (2, H) weights of the sides."""
    weights = sides.sum(axis=1)
    if weights.min() <= LEAST_MASS:
        return 0.0
    by_side = (table @ sides.T) / weights
    return mutual_information_bits(by_side, weights / weights.sum())


def _faults_for(bench: Bench, action: Action) -> frozenset[str]:
    """Keys of the faults with which one who knew of them would do ``action``."""
    model, family = bench.model, bench.model.family
    if action.kind == "repair":
        cures = family.repairs[action.id].cures
        return frozenset(
            key
            for fault in family.faults.values()
            for key in fault.keys
            if cures.get(key, cures.get(fault.id, 0.0)) >= OFTEN
        )
    problem = bench.problem
    condemned = ~_worth_saving(problem, action.id)
    keys: list[str] = []
    for fault in family.faults.values():
        with_it = problem.prior * model.mask(fault.id, problem.hypotheses)
        often, otherwise = _share(with_it, condemned), _share(problem.prior - with_it, condemned)
        # too rare to be planned for: what the catalog says of it
        if often is None:
            speaks = fault.write_off
        else:
            speaks = often >= OFTEN or often - (otherwise or 0.0) >= MORE_OFTEN
        keys += fault.keys if speaks else ()
    return frozenset(keys)


def _share(weight: Floats, chosen: NDArray[np.bool_]) -> float | None:
    """The share of ``weight`` (H,) that is ``chosen``; None where there is hardly any weight."""
    whole = float(weight.sum())
    return float(weight @ chosen) / whole if whole > LEAST_MASS else None


def _worth_saving(problem: Problem, ending: str) -> NDArray[np.bool_]:
    """(H,) whether a set of faults is worth more than the ending to one who knows it."""
    index = [each.id for each in problem.endings].index(ending)
    saved: NDArray[np.bool_] = worth_if_known(problem) > problem.ending_values[index] + _LEAST_WORTH
    return saved


def worth_if_known(problem: Problem) -> Floats:
    """(H,) minor units that each set of faults is worth to one who knows it."""
    known = np.zeros(problem.prior.size)
    where = (problem.hypotheses.one_less, problem.prior, problem.tried, problem.opened)
    perfect_information_values(problem.arrays(), *where, known)
    return known
