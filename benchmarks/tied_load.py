"""The catalog's rows of the check ``spin_test_load``, measured on rehearsed machines.

``python -m benchmarks.tied_load --machines 100000-100133 --seed 2027 --keep build/tied``:
each machine is drawn as the rehearsal draws it, spun again with the towel tied in
(:mod:`counterpoise.spin.training.known_load`), and read by the shipped reading. What was read stays
in the folder, a file a machine, so that it goes on where it stopped. Prints the rows, and how far
those of the catalog are from them. A machine takes some seconds; the rows in the catalog are of
numbers 100000 to 100090, 91 machines, 652 recordings.

A row of the catalog is of a fault as a hand names it, a machine rehearses faults of the dynamics
room: :data:`STATE_OF` says which stands for which.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.posterior import group_probabilities
from counterpoise.spin.training.known_load import tied_examples
from counterpoise.spin.training.rehearsal import numbers

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.spin.recording import Floats
    from counterpoise.spin.training.examples import Example

CHECK, UNKNOWN_LOAD = "spin_test_load", "spin_recording"
SOUND = "sound"
# Rehearsed fault by row of the catalog; what shows nothing on the panel reads like a sound machine.
STATE_OF = {
    "normal": SOUND, "spring_tired": "spring_tired",
    "upper_weight_cracked": "counterweight_lost", "front_weight_cracked": "counterweight_lost",
    "single_heavy_item": SOUND, "tangled": SOUND, "overload": SOUND,
    "bearing_worn:early": "bearing_worn", "bearing_worn:gone": "bearing_worn",
    "upper_weight_loose": "counterweight_loose", "front_weight_loose": "counterweight_loose",
    # cracked it is not rehearsed; it moves as a loose one does
    "lower_weight:loose": "counterweight_loose", "lower_weight:cracked": "counterweight_loose",
    "damper_worn:early": "damper_weak", "damper_worn:gone": "two_dampers_dead",
    "damper_separated:dry": "damper_dead", "damper_separated:spent": "damper_dead",
    "damper_mount_broken": "damper_dead",
    "short_foot": "short_foot", "drum_support:corroded": "drum_support_cracked",
    "drum_support:cracked": "drum_support_cracked", "soft_floor": "soft_floor",
    "spring_off": "spring_off", "spring_broken": "spring_off", "transit_bolts": "transit_bolts",
}  # fmt: skip
# A lesser grade is lowered as it is with an unknown load: by its ratio to the grade that was run.
LESSER = {
    "bearing_worn:early": "bearing_worn:gone", "drum_support:corroded": "drum_support:cracked",
}  # fmt: skip
# Recordings of the row with an unknown load that count beside the measured ones; share of the sound
# machine's row in each: some spins show nothing of what is there (both from memory).
BORROWED, LIKE_SOUND = 10, 0.1
LEAST = 0.003  # a chance that 652 recordings cannot rule out


def counts_of(runs: Iterable[list[Example]]) -> dict[str, Floats]:
    """(G,) how often each group came first, by rehearsed fault; recordings of one fault alone."""
    first: Counter[tuple[str, int]] = Counter()
    for run in runs:
        for faults, signature in run:
            if len(faults) < 2:
                state = faults[0] if faults else SOUND
                first[state, int(np.argmax(group_probabilities(signature)))] += 1
    return {
        state: np.array([first[state, group] for group in range(len(GROUPS))], dtype=np.float64)
        for state, _ in first
    }


def rows_of(counts: Mapping[str, Floats], family: Family) -> dict[str, dict[str, float]]:
    """The rows of the check by the catalog's faults, chances of all groups but the last."""
    unknown = {key: _filled(row) for key, row in family.checks[UNKNOWN_LOAD].under.items()}
    sound = _mixed(counts.get(SOUND, np.zeros(len(GROUPS))), unknown["normal"])
    out = {}
    for key, state in STATE_OF.items():
        whole = LESSER.get(key, key)
        measured = _mixed(counts.get(state, np.zeros(len(GROUPS))), unknown[whole])
        row = sound if state == SOUND else (1 - LIKE_SOUND) * measured + LIKE_SOUND * sound
        if whole != key:
            row = _lowered(row, unknown[key], unknown[whole])
        out[key] = {
            group: round(max(float(chance), LEAST), 3)
            for group, chance in zip(GROUPS[:-1], row, strict=False)
        }
    return out


def _filled(row: Mapping[str, float]) -> Floats:
    """(G,) a row with what it leaves over: nothing was found."""
    chances = np.array([row.get(group, 0.0) for group in GROUPS])
    chances[-1] = 1.0 - chances[:-1].sum()
    return chances


def _mixed(counts: Floats, unknown: Floats) -> Floats:
    """(G,) measured shares, with some recordings of the row with an unknown load beside them."""
    return np.asarray((counts + BORROWED * unknown) / (counts.sum() + BORROWED))


def _lowered(row: Floats, lesser: Floats, whole: Floats) -> Floats:
    """(G,) the row of a lesser grade: its own group rarer, as with an unknown load."""
    own = int(np.argmax(whole[:-1]))
    out = row.copy()
    out[own] *= lesser[own] / whole[own]
    out[-1] += row[own] - out[own]
    return out


def rehearsed(machines: Iterable[int], seed: int, keep: Path) -> list[list[Example]]:
    """Runs of the machines with the towel tied in, from the folder where they are there already."""
    keep.mkdir(parents=True, exist_ok=True)
    runs: list[list[Example]] = []
    for number in machines:
        kept = keep / f"{seed}-{number}.json"
        if not kept.exists():
            written = kept.with_suffix(".part")
            written.write_text(json.dumps(tied_examples(number, seed)))
            written.replace(kept)
        stored = json.loads(kept.read_text())
        runs += [[(tuple(faults), signature) for faults, signature in run] for run in stored]
    return runs


def main() -> None:
    """Rehearse what is missing, print the rows and what the catalog has other than they say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=numbers, default=numbers("100000-100090"))
    parser.add_argument("--seed", type=int, default=2027)
    parser.add_argument("--keep", type=Path, required=True, help="folder of what was read")
    given = parser.parse_args()
    family = load_family("front_loader")
    counts = counts_of(rehearsed(given.machines, given.seed, given.keep))
    apart, written = 0.0, family.checks[CHECK].under
    for key, row in rows_of(counts, family).items():
        print(f"{key}: {{{', '.join(f'{group}: {chance:g}' for group, chance in row.items())}}}")
        apart = max(apart, *(abs(written[key][group] - row[group]) for group in row))
    recordings = round(sum(float(each.sum()) for each in counts.values()))
    print(f"{recordings} recordings; the catalog's rows are at most {apart:.3f} from these")


if __name__ == "__main__":
    main()
