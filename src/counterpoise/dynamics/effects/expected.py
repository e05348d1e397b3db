"""What each fault should show, in which direction.

Written down from the trade and from mechanics, after a look at two dozen machines and before the
table was drawn; a direction that the table does not bear out is claimed nowhere.
"""

from collections.abc import Mapping

UP, DOWN = 1, -1

# By fault key, then by quantity, what the words of the fault mean first. Friction holds a damper
# fast until it breaks away and then takes a set force: with less of it the tub swings further
# where it swings of its own, and the cabinet gets less at full speed.
EXPECTED: Mapping[str, Mapping[str, int]] = {
    "damper_weak": {"pass_mm": UP, "shake_m_s2": DOWN, "floor_n": DOWN},
    "dampers_gone": {"pass_mm": UP, "strike_n": UP, "shake_m_s2": DOWN, "floor_n": DOWN},
    "damper_dead": {"pass_mm": UP, "strike_n": UP},
    "two_dampers_dead": {"pass_mm": UP, "strike_n": UP, "shake_m_s2": DOWN},
    "spring_off": {"low_mm": UP, "side_mm": UP, "strike_n": UP, "shake_m_s2": UP, "feet_up": UP},
    "spring_tired": {"low_mm": UP, "side_mm": UP, "strike_n": UP},
    # lighter: it hangs higher, and the same thing out of balance moves it further
    "counterweight_lost": {"travel_mm": UP, "pass_mm": UP, "shake_m_s2": UP, "low_mm": DOWN},
    "counterweight_loose": {"blows": UP, "peak_m_s2": UP},
    "drum_support_cracked": {"twice_m_s2": UP, "travel_mm": UP, "rough_m_s2": UP},
    "bearing_worn": {"rough_m_s2": UP, "travel_mm": UP},
    # nothing swings, so the cabinet has it all
    "transit_bolts": {
        "pass_mm": DOWN, "shake_m_s2": UP, "worst_m_s2": UP, "floor_n": UP, "walked_mm": UP,
        "feet_up": UP,
    },
    "short_foot": {"feet_up": UP, "blows": UP, "peak_m_s2": UP, "worst_m_s2": UP},
    # a floor that gives swings along, and is rigid in a machine in good order
    "soft_floor": {"floor_mm": UP, "worst_m_s2": UP},
    "slippery_floor": {"walked_mm": UP},
    "not_level": {"side_mm": UP, "walked_mm": UP},
    "heavy_load": {
        "pass_mm": UP, "travel_mm": UP, "shake_m_s2": UP, "floor_n": UP, "walked_mm": UP,
        "strike_n": UP, "feet_up": UP,
    },
    # the mass that strikes is also the mass that swings less
    "overload": {"low_mm": UP, "travel_mm": DOWN, "strike_n": UP},
    "bellows_torn": {"pass_mm": UP, "travel_mm": UP},
    "ring_empty": {"travel_mm": UP, "shake_m_s2": UP},
}  # fmt: skip
