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
from dataclasses import dataclass, replace
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import alarm_thresholds, bounded
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.posterior import (
    BESIDE,
    KINDS,
    MODEL_FILE,
    THRESHOLDS,
    SignatureModel,
    agreed,
    pack,
    raw_probabilities,
    tempered,
)
from counterpoise.spin.features.orders_by_speed import MARK
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import GROUP_OF, machine_examples, made_of, numbers
from counterpoise.spin.training.fitting import (
    Run,
    TrainingSet,
    cross_validated,
    fit,
    fitted_temperature,
    orders_size_for,
    reliability,
    size_for,
)
from counterpoise.spin.training.rows import Rows, baseline_of, load_rows, table_of
from counterpoise.spin.training.scores import confusion, confusion_text, figures_text

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


def chosen_rows(rows: Rows, *, with_baseline: bool) -> Rows:
    """All recordings; with a baseline, those that have a sound one to stand against."""
    return rows.of(baseline_of(rows) >= 0) if with_baseline else rows


def feature_names(rows: Rows, *, with_baseline: bool) -> tuple[str, ...]:
    """Names of what was seen often enough; a name that ends in ``'`` is a difference."""
    seen = np.isfinite(rows.values).mean(axis=0) > SEEN_SHARE
    names = tuple(name for name, enough in zip(rows.names, seen, strict=True) if enough)
    against = tuple(f"{name}'" for name in names if name not in NO_DIFFERENCE)
    return names + (against if with_baseline else ())


def features(rows: Rows, names: tuple[str, ...]) -> Floats:
    """Table (n, names) of recordings, differences against the own sound one of some phone.

    Only recordings that have one, where there are differences.
    """
    # By name: a model keeps to the features it was fitted to, in its own order.
    place = {name: i for i, name in enumerate(rows.names)}
    plain = [place[name] for name in names if not name.endswith("'")]
    against = [place[name[:-1]] for name in names if name.endswith("'")]
    if not against:
        return rows.values[:, plain].astype(np.float64)
    base = baseline_of(rows)
    has = base >= 0
    here, there = (rows.values[each].astype(np.float64) for each in (has, base[has]))
    return np.concatenate([here[:, plain], here[:, against] - there[:, against]], axis=1)


def training_set(rows: Rows, *, with_baseline: bool, names: tuple[str, ...] = ()) -> TrainingSet:
    """Lay the examples out as a table (n, features), of ``names`` or of what was seen often."""
    names = names or feature_names(rows, with_baseline=with_baseline)
    chosen = chosen_rows(rows, with_baseline=with_baseline)
    target = np.array([group_target(each) for each in chosen.faults])
    return TrainingSet(
        names, features(rows, names), target, chosen.number, example_weights(list(chosen.faults))
    )


@dataclass(frozen=True)
class Fitted:
    """A model, and what models that never saw an example's machine say of it, tempered."""

    model: SignatureModel
    judged: TrainingSet
    faults: list[tuple[str, ...]]
    unseen: Floats  # (n, groups)
    tests: NDArray[np.bool_]  # (n,): not the first, sound run of its machine


def fit_and_validate(
    rows: Rows, aside: Rows, seed: int, run: Run = map, xp: Any = np, *, name: str
) -> Fitted:
    """Fit the model of a name to ``rows``; judge on those ``aside``, or if none on each other."""
    orders, with_baseline = name.startswith(BESIDE), name.endswith(KINDS[1])
    names = feature_names(rows, with_baseline=with_baseline)
    if not orders:
        names = tuple(each for each in names if MARK not in each)
    training = training_set(rows, with_baseline=with_baseline, names=names)
    size = (orders_size_for if orders else size_for)(len(training.values))
    model = fit(training, size, np.random.default_rng([seed, 2]), run, xp)
    # Seeds of their own, so that trials do not change what is shipped.
    if len(aside.number):
        judged = training_set(aside, with_baseline=with_baseline, names=training.names)
        wrong = chosen_rows(aside, with_baseline=with_baseline)
        unseen = raw_probabilities(model, judged.values)
    else:
        judged, wrong = training, chosen_rows(rows, with_baseline=with_baseline)
        unseen = cross_validated(training, np.random.default_rng([seed, 1]), run)
    temperature = fitted_temperature(unseen, judged.target, judged.weight)
    return Fitted(
        replace(model, temperature=temperature),
        judged,
        list(wrong.faults),
        tempered(unseen, temperature),
        wrong.run > 0,
    )


def together(fitted: dict[str, Fitted], *, with_baseline: bool) -> Floats:
    """What the models asked together say of recordings not learned from, (n, groups)."""

    def of(name: str, each: Fitted) -> Floats:
        # Those without a baseline have also judged the first, sound runs.
        first = with_baseline and not name.endswith(KINDS[1])
        return each.unseen[each.tests] if first else each.unseen

    return agreed([of(name, each) for name, each in fitted.items()])


def trained_arrays(
    rows: Rows,
    seed: int,
    aside: Rows | None = None,
    run: Run = map,
    xp: Any = np,
    *,
    made: str = "",
    orders: bool = False,
) -> dict[str, np.ndarray]:
    """Fit all models, set the thresholds of alarm, print the figures; what is stored.

    With machines kept ``aside`` those set temperature and thresholds; else each fold sets them for
    the others. ``made``: what the rows were made of, "" for what is here; ``orders``: networks on
    the orders against speed as well.
    """
    aside = rows.machines(()) if aside is None else aside
    count, judges = (len(set(each.number.tolist())) for each in (rows, aside))
    arrays: dict[str, np.ndarray] = {
        "made_of": np.array(made or made_of()),
        "learned_from": np.array(f"{count} machines, {judges} aside, seed {seed}"),
    }
    fitted: dict[str, Fitted] = {}
    for kind in KINDS:
        for name in (kind, f"{BESIDE}{kind}")[: 1 + orders]:
            fitted[name] = fit_and_validate(rows, aside, seed, run, xp, name=name)
            arrays |= pack(fitted[name].model, name)
            print(f"{name}: {count} machines, temperature {fitted[name].model.temperature:.2f}")
        unseen = together(fitted, with_baseline=kind == KINDS[1])
        arrays |= held_arrays(kind, unseen, fitted[kind], arrays.get(THRESHOLDS))
    return arrays


def held_arrays(
    kind: str, unseen: Floats, fitted: Fitted, thresholds: Floats | None = None
) -> dict[str, np.ndarray]:
    """Thresholds of alarm and reliability by what is said (n, groups) of unseen recordings.

    ``thresholds`` (groups,) are those already set, None to set them.
    """
    # Only recordings of sound machines say how often one would be accused.
    sound = np.array([not wrong for wrong in fitted.faults])
    # Set once, without a baseline: what names a group is the same with one.
    if thresholds is None:
        thresholds = alarm_thresholds(unseen[sound])
    held, judged = bounded(unseen, thresholds), fitted.judged
    print(f"{kind}: {len(judged.values)} recordings unseen")
    print("  free:", figures_text(unseen, judged, sound))
    print("  held:", figures_text(held, judged, sound))
    print(confusion_text(confusion(held, fitted.faults)))
    return {
        THRESHOLDS: thresholds,
        f"{kind}.reliability": reliability(held, judged.target, judged.weight),
    }


def tested(rows: Rows) -> set[int]:
    """Machines with a sound run and a test: others have nothing to compare."""
    # Runs that broke off are left out, the first among them too.
    first = set(rows.number[rows.run == 0].tolist())
    return first & set(rows.number[rows.run > 0].tolist())


def array_module(device: str) -> Any:
    """Module that networks are trained with: cupy on an accelerator, else numpy."""
    if device != "accelerator":
        return np
    # By name, as nobody who reads a spin needs it installed.
    return import_module("cupy")


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
    options.add_argument(
        "--orders", action="store_true", help="Networks on the orders against speed as well."
    )
    options.add_argument("--device", default="processor", help="accelerator (cupy) or processor")
    options.add_argument("--out", type=Path, default=Path(__file__).parents[1] / MODEL_FILE)
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        if given.rows:
            rows, made = load_rows(sorted(given.rows.glob("rows-*.npz")))
        else:
            examples = partial(machine_examples, seed=given.seed, keep=given.keep)
            wanted = [*given.machines, *given.aside]
            rows = table_of(dict(zip(wanted, pool.map(examples, wanted), strict=True)))
            made = made_of()
        rows = rows.machines(tested(rows))
        arrays = trained_arrays(
            rows.machines(given.machines),
            given.seed,
            rows.machines(given.aside),
            pool.map,
            array_module(given.device),
            made=made,
            orders=given.orders,
        )
    # No pickles: a data file must not be able to run code.
    np.savez_compressed(given.out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main()
