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
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import (
    PRIOR_OF,
    SOUND,
    alarm_thresholds,
    bounded,
)
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.posterior import MODEL_FILE, SignatureModel, pack, tempered
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import GROUP_OF, Example, machine_examples
from counterpoise.spin.training.fitting import (
    BINS,
    SIZE,
    TrainingSet,
    cross_validated,
    fit,
    fitted_temperature,
    reliability,
)
from counterpoise.spin.training.synthetic_recordings import PHONES_PER_SPIN

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


def example_faults(
    machines: list[list[list[Example]]], *, with_baseline: bool
) -> list[tuple[str, ...]]:
    """What was wrong in each example of ``training_set``, in the same order."""
    return [wrong for runs in machines for run in runs[int(with_baseline) :] for wrong, _ in run]


def training_set(machines: list[list[list[Example]]], *, with_baseline: bool) -> TrainingSet:
    """Lay the examples out as a table (n, features).

    With a baseline, each recording stands against the sound one of some phone.
    """
    every = [signature for machine in machines for run in machine for _, signature in run]
    names = tuple(
        name
        for name in every[0]
        if np.mean([np.isfinite(each[name]) for each in every]) > SEEN_SHARE
    )
    differences = tuple(name for name in names if name not in NO_DIFFERENCE)
    values, machine = [], []
    for number, (base, *tests) in enumerate(machines):
        for run in tests if with_baseline else (base, *tests):
            for phone, (_, signature) in enumerate(run):
                row = [signature[name] for name in names]
                if with_baseline:
                    # Now the same phone, now the other: the phone may have changed since the
                    # baseline.
                    sound = base[(phone + number) % PHONES_PER_SPIN][1]
                    row += [signature[name] - sound[name] for name in differences]
                values.append(row)
                machine.append(number)
    all_names = names + (tuple(f"{name}'" for name in differences) if with_baseline else ())
    faults = example_faults(machines, with_baseline=with_baseline)
    target = np.array([group_target(each) for each in faults])
    return TrainingSet(
        all_names, np.array(values), target, np.array(machine), example_weights(faults)
    )


def accuracy(p: Floats, training: TrainingSet) -> tuple[float, float]:
    """Share of examples in which the true group came first, and among the first three."""
    # Both are shares of 1, so that a fault with many examples counts no more than a rare one.
    rank = np.argsort(-p, axis=1)
    right = np.take_along_axis(training.target > 0, rank, axis=1)
    first, three = right[:, 0], right[:, :3].any(axis=1)
    return float(np.average(first, weights=training.weight)), float(
        np.average(three, weights=training.weight)
    )


def confusion(p: Floats, faults: list[tuple[str, ...]]) -> dict[str, tuple[int, Floats]]:
    """Number of recordings of each single fault, and the share (9,) where each group is first."""
    first = np.eye(len(GROUPS))[np.argmax(p, axis=1)]
    single = [each for each in GROUP_OF if each != "sound"]
    rows = {
        fault: np.array([wrong == ((fault,) if fault else ()) for wrong in faults])
        for fault in ("", *single)
    }
    return {
        fault or "sound": (int(row.sum()), first[row].mean(axis=0))
        for fault, row in rows.items()
        if row.any()
    }


def confusion_text(rows: dict[str, tuple[int, Floats]]) -> str:
    """The same as a table in words, one fault a line; shares under 0.005 are left out."""

    def shared(shares: Floats) -> str:
        return ", ".join(
            f"{group} {share:.2f}"
            for group, share in zip(GROUPS, shares, strict=True)
            if share >= 0.005
        )

    return "\n".join(
        f"  {fault} ({count}): {shared(shares)}" for fault, (count, shares) in rows.items()
    )


def fit_and_validate(training: TrainingSet, seed: int) -> tuple[SignatureModel, Floats]:
    """Model, and tempered probabilities (n, groups) by ones that never saw the machine."""
    # Seeds of their own, so that trials do not change what is shipped.
    unseen = cross_validated(training, np.random.default_rng([seed, 1]))
    temperature = fitted_temperature(unseen, training.target, training.weight)
    return fit(training, SIZE, np.random.default_rng([seed, 2]), temperature), tempered(
        unseen, temperature
    )


def numbers(text: str) -> list[int]:
    """Numbers of machines from ``640`` (the first 640) or ``0-119,400-499`` (both ends counted)."""
    if text.isdigit():
        return list(range(int(text)))
    spans = [tuple(map(int, span.split("-"))) for span in text.split(",")]
    return [number for low, high in spans for number in range(low, high + 1)]


def expected_calibration_error(p: Floats, target: Floats, weight: Floats) -> float:
    """Mean distance between what is said and what is true over all cases, by bins."""
    said, true, _ = reliability(p, target, weight)
    case = np.repeat(weight, p.shape[1])
    slot = np.digitize(p.ravel(), BINS)
    share = np.array(
        [case[slot == each].sum() for each in range(1, len(BINS)) if np.sum(slot == each) >= 5]
    )
    return float(np.sum(np.abs(said - true) * share) / share.sum())


def figures_text(p: Floats, training: TrainingSet, sound: NDArray[np.bool_]) -> str:
    """First, first three, bits gained, false alarms on sound recordings and calibration, a line."""
    first, three = accuracy(p, training)
    gain = np.log2(np.maximum(p, 1e-9) / PRIOR_OF)
    bits = np.average(np.sum(training.target * gain, axis=1), weights=training.weight)
    raised = (p / PRIOR_OF > 2)[:, :SOUND].any(axis=1)
    error = expected_calibration_error(p, training.target, training.weight)
    return (
        f"first {first:.3f}, first three {three:.3f}, bits {bits:.3f}, alarms on sound "
        f"{raised[sound].mean():.3f} of {sound.sum()}, calibration error {error:.3f}"
    )


def trained_arrays(machines: list[list[list[Example]]], seed: int) -> dict[str, np.ndarray]:
    """Fit both kinds of model, set the thresholds of alarm, print the figures; what is stored."""
    arrays: dict[str, np.ndarray] = {}
    # Of the model without a baseline, on the runs after the first: what the other is mixed with.
    later: Floats | None = None
    for kind in ("alone", "with_baseline"):
        based = kind == "with_baseline"
        training = training_set(machines, with_baseline=based)
        faults = example_faults(machines, with_baseline=based)
        sound = np.array([not wrong for wrong in faults])
        model, unseen = fit_and_validate(training, seed)
        if later is not None:
            # As group_probabilities mixes them: the mean of log probabilities.
            unseen = np.sqrt(unseen * later)
            unseen /= unseen.sum(axis=1, keepdims=True)
        else:
            first_run = [
                run == 0 for each in machines for run, heard in enumerate(each) for _ in heard
            ]
            later = unseen[~np.array(first_run)]
        thresholds = alarm_thresholds(unseen[sound])
        held = bounded(unseen, thresholds)
        arrays |= pack(model, kind)
        arrays[f"{kind}.thresholds"] = thresholds
        arrays[f"{kind}.reliability"] = reliability(held, training.target, training.weight)
        print(
            f"{kind}: {len(training.values)} recordings of {len(machines)} machines, unseen, "
            f"temperature {model.temperature:.2f}"
        )
        print("  free:", figures_text(unseen, training, sound))
        print("  held:", figures_text(held, training, sound))
        print(confusion_text(confusion(held, faults)))
    return arrays


def main() -> None:
    """Simulate, train, write the data file, print the figures."""
    options = argparse.ArgumentParser(
        description="Train the models of signatures on synthetic recordings."
    )
    options.add_argument("--machines", type=numbers, default=numbers("640"))
    options.add_argument("--seed", type=int, default=2027)
    options.add_argument("--keep", type=Path, help="Folder to keep recordings and signatures in.")
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--out", type=Path, default=Path(__file__).parents[1] / MODEL_FILE)
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        examples = partial(machine_examples, seed=given.seed, keep=given.keep)
        simulated = list(pool.map(examples, given.machines))
    # A machine without a test that ran has nothing to compare with its sound run.
    machines = [each for each in simulated if len(each) > 1]
    # No pickles: a data file must not be able to run code.
    np.savez_compressed(given.out, allow_pickle=False, **trained_arrays(machines, given.seed))


if __name__ == "__main__":
    main()
