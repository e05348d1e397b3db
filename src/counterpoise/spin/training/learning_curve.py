"""How the score on machines never rehearsed grows with the number of machines rehearsed.

``python -m counterpoise.spin.training.learning_curve --rows FOLDER --test 0-499 --aside 500-899
--sizes 200,1000,5000 --models FOLDER`` fits a model on so many of the other machines of the folder,
keeps each with its file, and judges it and the model of the package on the test machines.
"""

import argparse
import json
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import bounded
from counterpoise.spin.causes.posterior import (
    MODEL_FILE,
    feature_row,
    raw_probabilities,
    tempered,
    unpack,
)
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import TESTS, numbers, runs_of_machine
from counterpoise.spin.training.rows import Rehearsed, load_rows
from counterpoise.spin.training.scores import figures
from counterpoise.spin.training.train import (
    Machines,
    example_faults,
    trained_arrays,
    training_set,
)

KINDS = ("alone", "with_baseline")
# Conditions by which the test machines' recordings are told apart.
CONDITIONS = ("all", "quiet room", "field")


def said(arrays: Mapping[str, Any], machines: Machines, *, with_baseline: bool) -> Floats:
    """What a stored model says of each recording, (n, groups), alarms held; as a reader would."""
    log_p: list[Floats] = []
    kinds = KINDS if with_baseline else KINDS[:1]
    for kind in kinds:
        model = unpack(arrays, kind)
        rows = [
            feature_row(signature, base[(phone + number) % len(base)][1], model.names)[0]
            for number, (base, *tests) in enumerate(machines)
            for run in (tests if with_baseline else (base, *tests))
            for phone, (_, signature) in enumerate(run)
        ]
        log_p.append(np.log(tempered(raw_probabilities(model, np.array(rows)), model.temperature)))
    p = np.exp(np.mean(log_p, axis=0))
    return bounded(p / p.sum(axis=1, keepdims=True), arrays[f"{kinds[-1]}.thresholds"])


def under_field(chosen: Rehearsed, seed: int, *, with_baseline: bool) -> NDArray[np.int64]:
    """1 for a recording under the conditions of the field, 0 in a quiet room, -1 not known; (n,).

    Where a run could not be read the runs have lost their places.
    """
    out = []
    for number, runs in chosen.items():
        drawn = [bool(run.panels) for run in runs_of_machine(number, seed)]
        whole = len(runs) == 1 + TESTS
        for place in range(int(with_baseline), len(runs)):
            out += [int(drawn[place]) if whole else -1] * len(runs[place])
    return np.array(out)


def judged(arrays: Mapping[str, Any], test: Rehearsed, seed: int) -> dict[str, dict[str, float]]:
    """Figures of a stored model on the test machines, by kind and conditions."""
    machines, out = list(test.values()), {}
    for kind in KINDS:
        based = kind == "with_baseline"
        p = said(arrays, machines, with_baseline=based)
        truth = training_set(machines, with_baseline=based)
        sound = np.array([not w for w in example_faults(machines, with_baseline=based)])
        field = under_field(test, seed, with_baseline=based)
        for name, here in zip(CONDITIONS, (field > -2, field == 0, field == 1), strict=True):
            if here.any():
                out[f"{kind}, {name}"] = figures(p[here], truth.of(here), sound[here])
    return out


def main() -> None:
    """Fit and judge by number of machines."""
    options = argparse.ArgumentParser(description="Score by number of machines rehearsed.")
    options.add_argument("--rows", type=Path, required=True)
    options.add_argument("--test", type=numbers, required=True, help="Machines only judged on.")
    options.add_argument("--aside", type=numbers, required=True, help="They set the thresholds.")
    options.add_argument("--sizes", default="200,1000,5000")
    options.add_argument("--seed", type=int, default=2027)
    options.add_argument("--models", type=Path, required=True, help="Folder for models, figures.")
    options.add_argument("--workers", type=int, default=2)
    given = options.parse_args()
    rehearsed, _ = load_rows(sorted(given.rows.glob("rows-*.npz")))
    test = {n: rehearsed[n] for n in given.test if n in rehearsed}
    aside = [rehearsed[n] for n in given.aside if n in rehearsed]
    left = sorted(set(rehearsed) - set(given.test) - set(given.aside))
    given.models.mkdir(parents=True, exist_ok=True)
    with np.load(Path(__file__).parents[1] / MODEL_FILE) as shipped:
        table = {"shipped": judged(dict(shipped), test, given.seed)}
    with ProcessPoolExecutor(given.workers) as pool:
        for size in map(int, given.sizes.split(",")):
            chosen = left[:size]
            arrays = trained_arrays([rehearsed[n] for n in chosen], given.seed, aside, pool.map)
            np.savez_compressed(given.models / f"{len(chosen)}.npz", allow_pickle=False, **arrays)
            table[str(len(chosen))] = judged(arrays, test, given.seed)
            (given.models / "curve.json").write_text(json.dumps(table, indent=1))
    for learned, rows in table.items():
        for name, row in rows.items():
            print(learned, name, {key: round(value, 3) for key, value in row.items()})


if __name__ == "__main__":
    main()
