"""A problem as the kernels read it: every table an array over sets of faults.

And what of it must not be run: checks and retests wait while a hazard may be there.
"""

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.compilation import kernel_without_refcounts

SOURCE_DIGEST = "e469b03edc189a8d"  # see the package

# From this chance on all hazards together bar a run, however small each is (from memory).
TOGETHER = 0.1
# A repair that mends a hazard so surely, as it is believed to be, may be retested: that shows if
# it held.
MENDS = 0.5
# No repair. Of the compiler's own kind of number, or all it is handed to is compiled twice.
NO_REPAIR = np.int64(-1)


class Arrays(NamedTuple):
    """C checks, O outcomes, R repairs, A panels, E endings, H sets of F faults, K moves of belief.

    Sets of panels, checks and repairs are bits of one integer.
    """

    check_cost: Floats  # (C,)
    check_panels: Ints  # (C,) panels that must be open
    check_keeps: Ints  # (C,) panels that stay open for the check: all, or none where it shuts them
    outcomes: Ints  # (C,) how many outcomes each check has
    table: Floats  # (C, O, H) chance of each outcome under each set of faults
    repair_cost: Floats  # (R,) with the retest
    repair_panels: Ints  # (R,)
    reopening: Floats  # (R,) least cost of opening for it after a failed retest; 0 without shutting
    retest_keeps: int  # panels that stay open over a failed retest: all, or none
    move_start: Ints  # (R + 1,) into the moves of each repair
    move_source: Ints  # (K,)
    move_target: Ints  # (K,)
    move_chance: Floats  # (K,)
    panel_cost: Floats  # (A,) opening and closing
    pass_chance: Floats  # (H,) chance that a retest finds nothing
    pass_value: Floats  # (H,) value when it finds nothing
    ending_value: Floats  # (E, H)
    ending_bound: Floats  # (H,) most an ending can be worth, repairs allowed on the way
    miss_gain: Floats  # (H,) most that a retest's missing a fault can add to one attempt
    miss_chance: float  # that a retest misses a fault
    comeback_value: float  # of a pass with a fault left
    members: Ints  # (H, M) faults of each set, padded with F
    cure_start: Ints  # (F + 1,) into the repairs that cure a fault, best ratio first
    cure_repair: Ints  # (Q,)
    cure: Floats  # (R, F + 1) chance that a repair cures a fault
    cured_start: Ints  # (R + 1,) into the faults that a repair cures
    cured_fault: Ints  # (Q,)
    forced: bool  # no ending is given: repairing goes on while a repair could help
    one_fault: bool  # exactly one fault is there, and a retest misses nothing
    # and each fault has one repair of its own, and an ending is worth the same whatever the fault
    separable: bool
    hazard_start: Ints  # (G + 1,) into the faults of each hazard
    hazard_fault: Ints  # (N,)
    hazard_limit: Floats  # (G,) the chance above which it bars a run
    hazard_menders: Ints  # (G,) repairs that mend it, as bits
    check_runs: Ints  # (C,) 1 where a check runs the machine
    repair_runs: Ints  # (R,)
    clearing: Ints  # checks that run nothing and tell of a hazard


@kernel_without_refcounts
def run_is_barred(k, chances, mass, tried, mending):
    """Whether hazards bar a run; ``chances`` (F + 1,) of the faults, of ``mass`` in all.

    ``tried``: repairs tried before, as bits; what one of them mends is looked at again for little,
    and does not count. ``mending``: the repair just done, or :data:`NO_REPAIR`.
    """
    total = 0.0
    for g in range(k.hazard_limit.size):
        here, cured = 0.0, 0.0
        for i in range(k.hazard_start[g], k.hazard_start[g + 1]):
            fault = k.hazard_fault[i]
            here += chances[fault]
            if mending >= 0:
                cured += chances[fault] * k.cure[mending, fault]
        if k.hazard_menders[g] & tried or (mending >= 0 and cured >= MENDS * here):
            continue
        if here > k.hazard_limit[g] * mass:
            return True
        total += here
    return total > TOGETHER * mass


@kernel_without_refcounts
def repair_is_barred(k, r, chances, mass, tried):
    """Whether repair ``r`` must wait, since it or its retest would run the machine."""
    if k.hazard_limit.size == 0:
        return False
    if k.repair_runs[r] and run_is_barred(k, chances, mass, tried, NO_REPAIR):
        return True
    return run_is_barred(k, chances, mass, tried, r)


@kernel_without_refcounts
def chances_of_hazards(k, sets, weights, row, chances):
    """Fill ``chances`` (F + 1,) with those of the faults, of a belief listed in ``weights``.

    ``row`` (H,) weighs each set once more: the chance of an outcome. Returns the mass in all.
    """
    chances[:] = 0.0
    mass, none = 0.0, chances.size - 1
    for i in range(weights.size):
        weight = weights[i] * row[sets[i]]
        mass += weight
        for m in range(k.members.shape[1]):
            fault = k.members[sets[i], m]
            if fault == none:
                break
            chances[fault] += weight
    return mass
