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
    CLIMB,
    KINDS,
    MODEL_FILE,
    THRESHOLDS,
    agreed,
    asked,
    raw_probabilities,
    tempered,
    unpack,
)
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import TESTS, numbers, runs_of_machine
from counterpoise.spin.training.rows import Rows, baseline_of, load_rows
from counterpoise.spin.training.scores import figures
from counterpoise.spin.training.train import (
    array_module,
    chosen_rows,
    features,
    tested,
    trained_arrays,
    training_set,
)

# Conditions by which the test machines' recordings are told apart.
CONDITIONS = ("all", "quiet room", "field")


def said(arrays: Mapping[str, Any], rows: Rows, *, with_baseline: bool) -> Floats:
    """What a stored model says of each recording, (n, groups), alarms held; as a reader would."""
    answers: dict[str, Floats] = {}
    chosen = chosen_rows(rows, with_baseline=with_baseline)
    for name in asked(arrays, with_baseline=with_baseline):
        model = unpack(arrays, name)
        values = features(rows if name.endswith(KINDS[1]) else chosen, model.names)
        answers[name] = tempered(raw_probabilities(model, values), model.temperature)
    p = agreed(list(answers.values()))
    # A baseline that shows less than the recording is left out, as a reader leaves it out.
    if with_baseline:
        alone = agreed([each for name, each in answers.items() if not name.endswith(KINDS[1])])
        p = np.where(compared(rows)[:, None], p, alone)
    return bounded(p, arrays[THRESHOLDS])


def compared(rows: Rows) -> NDArray[np.bool_]:
    """Of the recordings with a baseline, (n,): whether it stands beside them, as a reader asks."""
    # -1 stands for none; those are taken out at the end.
    base = baseline_of(rows)
    climb = np.isfinite(rows.values[:, rows.names.index(CLIMB)])
    return np.asarray((climb[base] | ~climb)[base >= 0], dtype=np.bool_)


def under_field(rows: Rows, seed: int) -> NDArray[np.int64]:
    """1 for a recording under the conditions of the field, 0 in a quiet room, -1 not known; (n,).

    Where a run could not be read the runs have lost their places.
    """
    out = np.full(len(rows.number), -1, dtype=np.int64)
    for number in sorted(set(rows.number.tolist())):
        mine = rows.number == number
        # Fewer runs than were drawn: which of them broke off is not kept.
        if rows.run[mine].max() == TESTS:
            drawn = np.array([bool(run.panels) for run in runs_of_machine(number, seed)])
            out[mine] = drawn[rows.run[mine]]
    return out


def judged(arrays: Mapping[str, Any], test: Rows, seed: int) -> dict[str, dict[str, float]]:
    """Figures of a stored model on the test machines, by kind and conditions."""
    out = {}
    for kind in KINDS:
        based = kind == "with_baseline"
        p = said(arrays, test, with_baseline=based)
        truth = training_set(test, with_baseline=based)
        chosen = chosen_rows(test, with_baseline=based)
        sound = np.array([not wrong for wrong in chosen.faults])
        field = under_field(chosen, seed)
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
    options.add_argument(
        "--orders", action="store_true", help="Networks on the orders against speed as well."
    )
    options.add_argument("--device", default="processor", help="accelerator (cupy) or processor")
    given = options.parse_args()
    rows, made = load_rows(sorted(given.rows.glob("rows-*.npz")))
    rows = rows.machines(tested(rows))
    test, aside = rows.machines(given.test), rows.machines(given.aside)
    left = sorted(set(rows.number.tolist()) - set(given.test) - set(given.aside))
    given.models.mkdir(parents=True, exist_ok=True)
    with np.load(Path(__file__).parents[1] / MODEL_FILE) as shipped:
        table = {"shipped": judged(dict(shipped), test, given.seed)}
    with ProcessPoolExecutor(given.workers) as pool:
        for size in map(int, given.sizes.split(",")):
            chosen = left[:size]
            arrays = trained_arrays(
                rows.machines(chosen),
                given.seed,
                aside,
                pool.map,
                array_module(given.device),
                made=made,
                orders=given.orders,
            )
            np.savez_compressed(given.models / f"{len(chosen)}.npz", allow_pickle=False, **arrays)
            table[str(len(chosen))] = judged(arrays, test, given.seed)
            (given.models / "curve.json").write_text(json.dumps(table, indent=1))
    for learned, figured in table.items():
        for name, row in figured.items():
            print(learned, name, {key: round(value, 3) for key, value in row.items()})


if __name__ == "__main__":
    main()
