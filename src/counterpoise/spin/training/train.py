"""Train the models of signatures on synthetic recordings.

``python -m counterpoise.spin.training.train --machines 640 --seed 2027`` simulates that many
machines, each twice sound and five times with a random fault (one time in ten with two), most runs
under the conditions of the field, heard by two phones; reads every recording with this room's own
reader, fits a forest and networks, and sets the thresholds of alarm on sound machines. Writes the
package's data file and prints how well they do on machines they never saw. The same command gives
the same file.
"""

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from counterpoise.spin.causes.alarm_bound import alarm_thresholds, bounded
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.posterior import (
    MODEL_FILE,
    SignatureModel,
    pack,
    raw_probabilities,
    tempered,
)
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import (
    GROUP_OF,
    Example,
    machine_examples,
    made_of,
    numbers,
)
from counterpoise.spin.training.fitting import (
    Run,
    TrainingSet,
    cross_validated,
    fit,
    fitted_temperature,
    reliability,
    size_for,
)
from counterpoise.spin.training.rows import load_rows
from counterpoise.spin.training.scores import confusion, confusion_text, figures_text

Machines = Sequence[list[list[Example]]]
# A feature seen in fewer recordings than this teaches chance.
SEEN_SHARE = 0.02
# What differs from the machine's own sound recording is worth knowing for levels and ratios, not
# for counts.
NO_DIFFERENCE = {"spun", "given_up", "attempts", "top_krpm", "slow_knocks_hz", "rate"}


def group_target(faults: tuple[str, ...]) -> Floats:
    """Share of each group (9,); two faults share alike.

    What shows nothing on the panel gives way to what does.
    """
    groups = {GROUP_OF[fault] for fault in faults} or {GROUP_OF["sound"]}
    # A lost piece of weight beside a dead damper is, on the panel, a dead damper.
    if len(groups) > 1:
        groups -= {GROUP_OF["sound"]}
    row = np.zeros(len(GROUPS))
    row[sorted(groups)] = 1 / len(groups)
    return row


def example_weights(faults: list[tuple[str, ...]]) -> Floats:
    """Weight (n,) of each example, mean 1: every fault (and sound) counts alike.

    An example of two faults has their mean.
    """
    # Rare faults are few because draws are random, not because they matter less.
    count = Counter(fault for each in faults for fault in each or ("sound",))
    weight = np.array(
        [np.mean([1 / count[fault] for fault in each or ("sound",)]) for each in faults]
    )
    return np.asarray(weight / weight.mean(), dtype=np.float64)


def example_faults(machines: Machines, *, with_baseline: bool) -> list[tuple[str, ...]]:
    """What was wrong in each example of ``training_set``, in the same order."""
    return [wrong for runs in machines for run in runs[int(with_baseline) :] for wrong, _ in run]


def training_set(machines: Machines, *, with_baseline: bool) -> TrainingSet:
    """Lay the examples out as a table (n, features).

    With a baseline, each recording stands against the sound one of some phone.
    """
    runs = [run for machine in machines for run in machine]
    every = list(runs[0][0][1])
    table = np.array([[s[name] for name in every] for run in runs for _, s in run])
    seen = np.isfinite(table).mean(axis=0) > SEEN_SHARE
    names = tuple(name for name, enough in zip(every, seen, strict=True) if enough)
    differences = tuple(name for name in names if name not in NO_DIFFERENCE)
    compared = np.isin(names, differences)
    rows = iter(table[:, seen])
    values, machine = [], []
    for number, runs_of_one in enumerate(machines):
        base, *tests = [[next(rows) for _ in run] for run in runs_of_one]
        for run in tests if with_baseline else (base, *tests):
            for phone, row in enumerate(run):
                # Now the same phone, now the other: the phone may have changed since the baseline.
                sound = base[(phone + number) % len(base)]
                against = (row - sound)[compared] if with_baseline else row[:0]
                values.append(np.concatenate([row, against]))
                machine.append(number)
    all_names = names + (tuple(f"{name}'" for name in differences) if with_baseline else ())
    faults = example_faults(machines, with_baseline=with_baseline)
    target = np.array([group_target(each) for each in faults])
    return TrainingSet(
        all_names, np.array(values), target, np.array(machine), example_weights(faults)
    )


@dataclass(frozen=True)
class Fitted:
    """A model, and what models that never saw an example's machine say of it, tempered."""

    model: SignatureModel
    judged: TrainingSet
    faults: list[tuple[str, ...]]
    unseen: Floats  # (n, groups)


def fit_and_validate(
    machines: Machines, aside: Machines, seed: int, run: Run = map, *, with_baseline: bool
) -> Fitted:
    """Fit to ``machines``; judge on those kept ``aside``, or where there are none on each other."""
    training = training_set([*machines, *aside], with_baseline=with_baseline)
    faults = example_faults([*machines, *aside], with_baseline=with_baseline)
    learned = training.machine < len(machines)
    # Seeds of their own, so that trials do not change what is shipped.
    if not aside:
        unseen = cross_validated(training, np.random.default_rng([seed, 1]), run)
        judged, wrong = training, faults
    else:
        judged = training.of(~learned)
        wrong = [each for each, kept in zip(faults, ~learned, strict=True) if kept]
    chosen = training.of(learned)
    model = fit(chosen, size_for(len(chosen.values)), np.random.default_rng([seed, 2]), 1.0, run)
    if aside:
        unseen = raw_probabilities(model, judged.values)
    temperature = fitted_temperature(unseen, judged.target, judged.weight)
    return Fitted(
        replace(model, temperature=temperature), judged, wrong, tempered(unseen, temperature)
    )


def with_the_other(based: Floats, alone: Fitted, aside: Machines) -> Floats:
    """Mix (n, groups) of the model with a baseline with those of the one without it."""
    first = np.array([run == 0 for each in aside for run, heard in enumerate(each) for _ in heard])
    # As group_probabilities mixes them: the mean of log probabilities.
    mixed = np.sqrt(based * alone.unseen[~first])
    shares: Floats = mixed / mixed.sum(axis=1, keepdims=True)
    return shares


def trained_arrays(
    machines: Machines, seed: int, aside: Machines = (), run: Run = map
) -> dict[str, np.ndarray]:
    """Fit both kinds of model, set the thresholds of alarm, print the figures; what is stored.

    With machines kept ``aside`` those set temperature and thresholds; else each fold sets them for
    the others.
    """
    arrays: dict[str, np.ndarray] = {"made_of": np.array(made_of())}
    alone: Fitted | None = None
    for kind in ("alone", "with_baseline"):
        fitted = fit_and_validate(machines, aside, seed, run, with_baseline=kind == "with_baseline")
        unseen = with_the_other(fitted.unseen, alone, aside or machines) if alone else fitted.unseen
        alone = alone or fitted
        sound = np.array([not wrong for wrong in fitted.faults])
        thresholds = alarm_thresholds(unseen[sound])
        held, judged = bounded(unseen, thresholds), fitted.judged
        arrays |= pack(fitted.model, kind)
        arrays[f"{kind}.thresholds"] = thresholds
        arrays[f"{kind}.reliability"] = reliability(held, judged.target, judged.weight)
        print(
            f"{kind}: {len(machines)} machines, {len(judged.values)} recordings unseen, "
            f"temperature {fitted.model.temperature:.2f}"
        )
        print("  free:", figures_text(unseen, judged, sound))
        print("  held:", figures_text(held, judged, sound))
        print(confusion_text(confusion(held, fitted.faults)))
    return arrays


def main() -> None:
    """Simulate or take rows, train, write the data file, print the figures."""
    options = argparse.ArgumentParser(
        description="Train the models of signatures on synthetic recordings."
    )
    options.add_argument("--machines", type=numbers, default=numbers("640"))
    options.add_argument("--aside", type=numbers, default=[], help="Machines only judged on.")
    options.add_argument("--rows", type=Path, help="Folder of training.rehearsal, to learn from.")
    options.add_argument("--seed", type=int, default=2027)
    options.add_argument("--keep", type=Path, help="Folder to keep recordings and signatures in.")
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--out", type=Path, default=Path(__file__).parents[1] / MODEL_FILE)
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        if given.rows:
            rehearsed, _ = load_rows(sorted(given.rows.glob("rows-*.npz")))
        else:
            examples = partial(machine_examples, seed=given.seed, keep=given.keep)
            wanted = [*given.machines, *given.aside]
            rehearsed = dict(zip(wanted, pool.map(examples, wanted), strict=True))

        def of(chosen: list[int]) -> list[list[list[Example]]]:
            # A machine without a test that ran has nothing to compare with its sound run.
            return [rehearsed[n] for n in chosen if len(rehearsed.get(n, ())) > 1]

        arrays = trained_arrays(of(given.machines), given.seed, of(given.aside), pool.map)
    # No pickles: a data file must not be able to run code.
    np.savez_compressed(given.out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main()
