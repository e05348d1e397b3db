"""What the table of faults bears out, and what may therefore be claimed of a spin."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from counterpoise.dynamics.effects.expected import EXPECTED, UP
from counterpoise.dynamics.effects.states import LOADS, counted_row, fault_key, tabulated_state

TABLE_FILE = "table.json"
# Fewer drawn machines of a hundred than this on the expected side, and nothing is claimed.
LEAST_SHARE = 0.80
# Fewer machines than this say nothing of a share.
LEAST_MACHINES = 30


@dataclass(frozen=True)
class Claim:
    """A fault in some state moves a quantity one way (1 up, -1 down) under a class of load.

    ``share`` of ``machines`` drawn at random move that way; ``ratio`` is their median, 0 where the
    sound machine has hardly any of it.
    """

    state: str
    load: str
    quantity: str
    direction: int
    share: float
    machines: int
    ratio: float


@lru_cache(maxsize=1)
def fault_table() -> Mapping[str, Any]:
    """The data file: rows by family, state, load and quantity, with the digest of its physics."""
    text = files(__package__).joinpath(TABLE_FILE).read_text("utf-8")
    table: Mapping[str, Any] = json.loads(text)
    return table


def claims(family: str, state: str, load: str, dampers: int) -> tuple[Claim, ...]:
    """What may be claimed of KEY[:SEVERITY[:PART]] under a class of load, weightiest first.

    Empty for a state that is not tabulated, or two faults at once. ``dampers``: how many it has.
    """
    rows = rows_by_load(family, state, dampers).get(load, {})
    if not rows or rows["n"][0] < LEAST_MACHINES:
        return ()
    out = []
    for quantity, direction in EXPECTED[fault_key(state)].items():
        above, below, ratio = rows[quantity][:3]
        share = above if direction == UP else below
        if share >= LEAST_SHARE:
            machines = int(rows["n"][0])
            out.append(Claim(state, load, quantity, direction, share, machines, ratio))
    return tuple(out)


def rows_by_load(family: str, state: str, dampers: int) -> Mapping[str, Any]:
    """The rows of a state by class of load: those of its number of dampers where there are any."""
    rows = fault_table()[family]["rows"]
    tabulated = tabulated_state(state)
    if tabulated is None:
        return {}
    by_load: Mapping[str, Any] = rows.get(counted_row(tabulated, dampers), rows.get(tabulated, {}))
    return by_load


def showing_load(family: str, state: str, dampers: int) -> str | None:
    """The lightest class of load under which a state shows; None where it shows under none.

    To show is to bear out what the words of the fault mean, the first of its expected quantities.
    """
    meant = next(iter(EXPECTED.get(fault_key(state), {})), "")
    # loads are sorted from light to heavy
    for load in LOADS:
        if meant in {claim.quantity for claim in claims(family, state, load, dampers)}:
            return load
    return None


def showing_kg(family: str, state: str, dampers: int) -> float | None:
    """What to put out of balance to see a state, in kg; None where no load shows it."""
    load = showing_load(family, state, dampers)
    return LOADS[load].shown_kg if load else None
