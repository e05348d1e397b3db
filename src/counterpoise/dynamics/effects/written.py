"""The table of faults as a page: ``python -m counterpoise.dynamics.effects.written FILE``."""

import sys
from pathlib import Path
from typing import Any

from counterpoise.dynamics.effects.expected import EXPECTED, UP
from counterpoise.dynamics.effects.quantities import QUANTITIES
from counterpoise.dynamics.effects.states import LOADS, fault_key
from counterpoise.dynamics.effects.table import LEAST_SHARE, fault_table
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.dynamics.machines.faults import FAULTS

# One paragraph a line: a page of Markdown wraps where it is read.
HEAD = (
    "# What each fault changes in a spin\n\n"
    "Written by `python -m counterpoise.dynamics.effects.written docs/fault-table.md`"
    " from `dynamics/effects/table.json`, not by hand.\n\n"
    "{machines} machines and loads of each kind were drawn within the family's ranges (seed"
    " {seed}), each spun in good order and with each fault, in one climb of 45 s to full speed, no"
    " controller stepping in. Left out are machines that in good order do not come to full speed"
    " with their load. Which of several parts is at fault was drawn too. Loads: {loads}.\n\n"
    "A cell is the share of machines in which the quantity moves the expected way by more than a"
    " twentieth (and by more than hand or phone can tell from nothing), and the median of its"
    " ratio to the same machine in good order; `-` where that has hardly any of it. **Bold**: at"
    " least {least:.0f} of 100, and so said on pages, terminal and sheets. What is not bold is said"
    " nowhere. Broke off: machines that tipped, or whose tub broke loose, on the way up; they count"
    " by their last two seconds.\n\n"
)
SIDES = {UP: "more", -UP: "less"}


def written() -> str:
    """The page as Markdown."""
    table = fault_table()
    loads = "; ".join(
        f"{load.words}, {load.low_kg:g} to {load.high_kg:g} kg out of balance"
        for load in LOADS.values()
    )
    head = HEAD.format(
        machines=table["machines"], seed=table["seed"], loads=loads, least=100 * LEAST_SHARE
    )
    return head + "\n".join(_of_family(family, table[family]) for family in FAMILIES)


def _of_family(family: str, part: Any) -> str:
    title = family.replace("_", " ").capitalize()
    kilograms = " | ".join(f"{load.low_kg:g} to {load.high_kg:g} kg" for load in LOADS.values())
    lines = [
        f"## {title} ({part['drawn']} machines)",
        "",
        f"| fault | quantity | expected | {kilograms} | broke off |",
        "|---|---|---|" + "---|" * (len(LOADS) + 1),
    ]
    for state, rows in part["rows"].items():
        severity = state.partition(":")[2]
        dampers = state.partition("@")[2]
        words = FAULTS[fault_key(state)].words + (f" (severity {severity})" if severity else "")
        words += f", of {dampers}" if dampers else ""
        broke = sum(int(rows[load]["n"][1]) for load in LOADS)
        for quantity, direction in EXPECTED[fault_key(state)].items():
            cells = " | ".join(_cell(rows[load], quantity, direction) for load in LOADS)
            what = f"{QUANTITIES[quantity].words} | {SIDES[direction]}"
            lines.append(f"| {words} | {what} | {cells} | {broke} |")
    return "\n".join(lines) + "\n"


def _cell(row: Any, quantity: str, direction: int) -> str:
    above, below, ratio = row[quantity][:3]
    share = above if direction == UP else below
    # a sag can lie on either side of nothing, and has no ratio
    times = f"x {ratio:.2f}" if ratio and quantity != "low_mm" else "-"
    text = f"{100 * share:.0f} %"
    return f"**{text}**, {times}" if share >= LEAST_SHARE else f"{text}, {times}"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(written(), "utf-8")
