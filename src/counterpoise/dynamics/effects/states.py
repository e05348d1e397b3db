"""Which states of which faults are tabulated, and with what in the drum."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class LoadClass:
    """What is out of balance in the drum: words, range in kg, and the kg that stands for it."""

    words: str
    low_kg: float
    high_kg: float
    shown_kg: float


# From what a load leaves that spread well to one soaked bath mat (estimates).
LOADS: Mapping[str, LoadClass] = {
    "spread": LoadClass("a load that spread well", 0.1, 0.35, 0.3),
    "lump": LoadClass("a load that spread badly", 0.35, 1.0, 0.6),
    "heavy": LoadClass("one heavy wet thing", 1.0, 1.6, 1.2),
}

# Faults by key, more of it written KEY:SEVERITY as in a what-if; severity 1 without one.
STATES = (
    "damper_weak", "dampers_gone", "damper_dead", "two_dampers_dead", "spring_off", "spring_tired",
    "counterweight_lost", "counterweight_loose", "drum_support_cracked:0.3",
    "drum_support_cracked", "bearing_worn:0.3", "bearing_worn", "transit_bolts", "short_foot",
    "soft_floor", "slippery_floor", "not_level", "heavy_load", "overload", "bellows_torn",
    "ring_empty",
)  # fmt: skip

# One dead damper of two is half the grip gone and of four a quarter, so these have rows by the
# number of dampers beside the row over all.
COUNTED = ("damper_dead", "two_dampers_dead")
COUNTS = (2, 3, 4)


def fault_key(state: str) -> str:
    """The fault of a state KEY[:SEVERITY[:PART]], or of a row KEY@DAMPERS."""
    return state.partition(":")[0].partition("@")[0]


def tabulated_state(state: str) -> str | None:
    """The state of the table that KEY[:SEVERITY[:PART]] falls under; None for none.

    Parts share a row: the table draws them. Severities between two rows are not guessed at.
    """
    key, *figures = state.split(":")
    try:
        severity = float(figures[0]) if figures else 1.0
    except ValueError:
        return None
    known = {(fault_key(row), float(row.partition(":")[2] or 1.0)): row for row in STATES}
    return known.get((key, severity))


def counted_row(state: str, dampers: int) -> str:
    """The row of a state on a machine with so many dampers: its own, or the one over all."""
    return f"{state}@{dampers}" if state in COUNTED and dampers in COUNTS else state


def load_class(kg: float) -> str:
    """The class of load that so many kg out of balance belong to; the nearest outside of all."""
    for key, load in LOADS.items():
        if kg <= load.high_kg:
            return key
    return "heavy"
