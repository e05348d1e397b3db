"""A problem as the kernels read it: every table an array over sets of faults."""

from typing import NamedTuple

from counterpoise.reasoning.hypotheses import Floats, Ints


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
