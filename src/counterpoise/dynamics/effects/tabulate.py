"""Draw machines, spin them sound and with each fault, and write the table of what it changes.

    python -m counterpoise.dynamics.effects.tabulate --keep build/effects

Half an hour of one processor. What was spun stays in the folder ``--keep``, so that a run broken
off goes on where it was, and another of more machines adds to it.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

from counterpoise.dynamics.effects.drawing import SEED, measured_states
from counterpoise.dynamics.effects.physics_digest import physics_digest
from counterpoise.dynamics.effects.quantities import QUANTITIES
from counterpoise.dynamics.effects.sides import side
from counterpoise.dynamics.effects.states import COUNTS, LOADS, STATES, counted_row
from counterpoise.dynamics.effects.table import TABLE_FILE
from counterpoise.dynamics.machines.families import FAMILIES

MACHINES = 216
# Of each number of dampers, for the states that depend on it.
COUNTED_MACHINES = 108
# Machines whose figures stand in the table one by one, for a test to spin them again.
SAMPLES = 3

States = dict[str, dict[str, float] | None]
Rows = dict[str, dict[str, dict[str, list[float]]]]


def kept_states(family: str, number: int, keep: Path, dampers: int | None = None) -> States:
    """The quantities of one drawn machine, from the folder where they are there already."""
    # by digest, so that figures of other physics are never mixed in
    kind = f"{family}@{dampers}" if dampers else family
    kept = keep / f"{kind}-{number}-{physics_digest()}.json"
    if kept.exists():
        stored: States = json.loads(kept.read_text("utf-8"))
        return stored
    states = measured_states(family, number, dampers)
    kept.write_text(json.dumps(states), "utf-8")
    return states


def row(pairs: list[tuple[float, float]], hardly: float) -> list[float]:
    """Share above and below, then medians: ratio, sound, faulty. The ratio is 0 of hardly any."""
    sound, faulty = np.array(pairs).T
    sides = np.array([side(s, f, hardly) for s, f in pairs])
    ratios = [f / s for s, f in pairs if abs(s) > hardly]
    ratio = float(np.median(ratios)) if len(ratios) > len(pairs) / 2 else 0.0
    figures = (np.mean(sides > 0), np.mean(sides < 0), ratio, np.median(sound), np.median(faulty))
    return [float(f"{figure:.3g}") for figure in figures]


def rows_of(machines: list[tuple[str, States]]) -> Rows:
    """Rows by state, load and quantity; under ``n`` how many machines, how many broke off."""
    table: Rows = {}
    for state in STATES:
        for load in LOADS:
            spun = [(s["sound"], s[state]) for of, s in machines if of == load and state in s]
            pairs = [(sound, faulty) for sound, faulty in spun if sound and faulty]
            if not pairs:
                continue
            broke = sum(not faulty["complete"] for _, faulty in pairs)
            counts = {"n": [float(len(pairs)), float(broke)]}
            table.setdefault(state, {})[load] = counts | {
                name: row([(s[name], f[name]) for s, f in pairs], quantity.hardly)
                for name, quantity in QUANTITIES.items()
            }
    return table


def drawn_states(
    family: str, machines: int, keep: Path, dampers: int | None = None
) -> list[tuple[str, States]]:
    """Class of load and quantities of every drawn machine that is in good order."""
    loads, out = tuple(LOADS), []
    for number in range(machines):
        states = kept_states(family, number, keep, dampers)
        if states:
            out.append((loads[number % len(loads)], states))
    print(f"{family}, dampers {dampers or 'as drawn'}: {len(out)} of {machines}", flush=True)
    return out


def counted_rows(family: str, machines: int, keep: Path) -> Rows:
    """Rows of the states that depend on the number of dampers, by that number; {} without any."""
    rows: Rows = {}
    for dampers in COUNTS if "dampers" in FAMILIES[family].values else ():
        own = rows_of(drawn_states(family, machines, keep, dampers))
        rows |= {counted_row(state, dampers): loads for state, loads in own.items()}
    return rows


def tabulate(keep: Path, machines: int, counted: int) -> dict[str, object]:
    """The whole table, and the figures of the first machines one by one."""
    table: dict[str, object] = {"physics": physics_digest(), "seed": SEED, "machines": machines}
    for family in FAMILIES:
        drawn = drawn_states(family, machines, keep)
        rows = rows_of(drawn) | counted_rows(family, counted, keep)
        samples = {str(n): kept_states(family, n, keep) for n in range(SAMPLES)}
        table[family] = {"drawn": len(drawn), "rows": rows, "samples": samples}
    return table


def compact(table: dict[str, object]) -> str:
    """JSON with one line for each state, load and sample, so that a change can be read."""
    # levels that are opened: table, family, rows or samples, state or number
    return _opened(table, 4) + "\n"


def _opened(part: object, levels: int) -> str:
    if not levels or not isinstance(part, dict):
        return json.dumps(part)
    inner = (f"{json.dumps(key)}: {_opened(value, levels - 1)}" for key, value in part.items())
    return "{\n" + ",\n".join(inner) + "\n}"


def main() -> None:
    """Spin, tabulate, write the data file."""
    options = argparse.ArgumentParser(description="Tabulate what each fault changes in a spin.")
    options.add_argument("--machines", type=int, default=MACHINES)
    options.add_argument("--counted", type=int, default=COUNTED_MACHINES)
    options.add_argument("--keep", type=Path, default=Path("build/effects"))
    options.add_argument("--out", type=Path, default=Path(__file__).with_name(TABLE_FILE))
    given = options.parse_args()
    given.keep.mkdir(parents=True, exist_ok=True)
    table = tabulate(given.keep, given.machines, given.counted)
    given.out.write_text(compact(table), "utf-8")


if __name__ == "__main__":
    main()
