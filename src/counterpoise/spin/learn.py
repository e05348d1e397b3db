"""Learn what signatures mean, by rehearsal: ``python -m counterpoise.spin.learn --machines 900 --seed 2026``.

Simulates that many machines, each once sound and three times with a random fault (one time in ten with two),
reads every recording with this room's own reader, and fits the forests. Writes the package's data file and
prints how well the forests do on machines they never saw. The same command gives the same file.
"""

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from counterpoise.errors import InputError
from counterpoise.spin.groups import FAULTS_OF, GROUPS
from counterpoise.spin.posterior import MODEL_FILE, PRIOR_OF, Learned, pack, tempered
from counterpoise.spin.read import recording
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import Floats
from counterpoise.spin.rehearsal import bench_of, rehearse
from counterpoise.spin.training import TREES, Lessons, cross_votes, fit, fitted_temperature, reliability

TESTS = 3
PAIRS = 0.1
STOPPED_MS2 = 0.25
GROUP_OF = {fault: i for i, group in enumerate(GROUPS) for fault in FAULTS_OF[group]}
# What differs from the machine's own sound recording is worth knowing for levels and ratios, not for counts.
NO_DIFFERENCE = {"spun", "given_up", "attempts", "top_krpm", "slow_knocks_hz"}
Example = tuple[tuple[str, ...], dict[str, float]]


def faults_of(rng: np.random.Generator) -> tuple[str, ...]:
    """Draw one fault (all alike), one time in ten two; () is sound."""
    count = 2 if rng.random() < PAIRS else 1
    drawn = rng.choice(list(GROUP_OF), count, replace=False)
    return tuple(sorted({str(fault) for fault in drawn} - {"sound"}))


def examples_of(number: int, seed: int, cautious_from: int, keep: Path | None = None) -> list[Example]:
    """Signatures of one machine: first the sound one, then the tests; [] where the sound one cannot be run.

    Recordings are rounded to single precision; ``keep`` names a folder to keep them in, so that a change of the
    reader needs no new simulation.
    """
    kept = keep / f"{number}.npz" if keep else None
    if kept is None or not kept.exists():
        heard = _heard(number, seed, cautious=number >= cautious_from)
        if kept:
            np.savez(kept, allow_pickle=False, **heard)
    else:
        with np.load(kept) as stored:
            heard = dict(stored)
    found = {run: _example(heard, run) for run in range(1 + TESTS) if f"t{run}" in heard}
    whole = [each for run, each in found.items() if each[1]["spun"] or ends_still(heard[f"t{run}"], heard[f"a{run}"])]
    return whole if 0 in found and found[0] in whole else []


def ends_still(t_s: np.ndarray, acc_ms2: np.ndarray) -> bool:
    """Whether the machine has stopped at the end; if it never spun and did not stop, the simulation broke off."""
    last = acc_ms2[t_s > t_s[-1] - 0.4]
    return bool(np.all(last.std(axis=0) < STOPPED_MS2))


def _heard(number: int, seed: int, *, cautious: bool) -> dict[str, np.ndarray]:
    """Arrays t0, a0, f0 of the sound run and t1 ... of the tests; what cannot be run is left out."""
    rng = np.random.default_rng([seed, number])
    bench, heard = bench_of(rng), {}
    for run, faults in enumerate([(), *(faults_of(rng) for _ in range(TESTS))]):
        try:
            one = rehearse(bench, faults, rng, cautious=cautious and run > 0)
        except (InputError, np.linalg.LinAlgError):
            one = None  # a machine the dynamics room cannot bring to rest: rare, and no loss
        if one:
            heard[f"t{run}"] = one.recording.t_s.astype(np.float32)
            heard[f"a{run}"] = one.recording.acc_ms2.astype(np.float32)
            heard[f"f{run}"] = np.array("+".join(faults))
        elif run == 0:
            return {}
    return heard


def _example(heard: dict[str, np.ndarray], run: int) -> Example:
    t, acc = heard[f"t{run}"].astype(np.float64), heard[f"a{run}"].astype(np.float64)
    rises = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
    faults = tuple(fault for fault in str(heard[f"f{run}"]).split("+") if fault)
    return faults, read_spin(recording(t[rises] - t[0], acc[rises])).signature


def target_of(faults: tuple[str, ...]) -> Floats:
    """Share of each group; two faults share alike, and what shows nothing gives way to what does."""
    groups = {GROUP_OF[fault] for fault in faults} or {GROUP_OF["sound"]}
    if len(groups) > 1:
        groups -= {GROUP_OF["sound"]}
    row = np.zeros(len(GROUPS))
    row[sorted(groups)] = 1 / len(groups)
    return row


def lessons(machines: list[list[Example]], *, with_baseline: bool) -> Lessons:
    """Lay the examples out as a table."""
    names = tuple(
        name for name in machines[0][0][1] if any(np.isfinite(one[name]) for each in machines for _, one in each)
    )
    differences = tuple(name for name in names if name not in NO_DIFFERENCE)
    values, target, machine = [], [], []
    for number, (base, *tests) in enumerate(machines):
        for faults, signature in tests if with_baseline else [base, *tests]:
            row = [signature[name] for name in names]
            if with_baseline:
                row += [signature[name] - base[1][name] for name in differences]
            values.append(row)
            target.append(target_of(faults))
            machine.append(number)
    all_names = names + (tuple(f"{name}'" for name in differences) if with_baseline else ())
    return Lessons(all_names, np.array(values), np.array(target), np.array(machine))


def score(p: Floats, target: Floats) -> tuple[float, float]:
    """First and first three, weighted to the prior."""
    weight = target @ (PRIOR_OF / target.mean(axis=0))
    rank = np.argsort(-p, axis=1)
    right = np.take_along_axis(target > 0, rank, axis=1)
    first, three = right[:, 0], right[:, :3].any(axis=1)
    return float(np.average(first, weights=weight)), float(np.average(three, weights=weight))


def learn(lesson: Lessons, seed: int) -> tuple[Learned, Floats]:
    """Forest with its temperature, and its tempered answers on machines it never saw."""
    unseen = cross_votes(lesson, np.random.default_rng([seed, 1]))
    temperature = fitted_temperature(unseen, lesson.target)
    return fit(lesson, TREES, np.random.default_rng([seed, 2]), temperature), tempered(unseen, temperature)


def main() -> None:
    """Rehearse, learn, write, report."""
    options = argparse.ArgumentParser(description="Learn the meaning of signatures by rehearsal.")
    options.add_argument("--machines", type=int, default=900)
    options.add_argument("--cautious", type=int, default=75, help="More machines, with a cautious controller.")
    options.add_argument("--seed", type=int, default=2026)
    options.add_argument("--keep", type=Path, help="Folder to keep the simulated recordings in.")
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--out", type=Path, default=Path(__file__).with_name(MODEL_FILE))
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        one = partial(examples_of, seed=given.seed, cautious_from=given.machines, keep=given.keep)
        rehearsed = list(pool.map(one, range(given.machines + given.cautious)))
    machines = [each for each in rehearsed if len(each) > 1]
    arrays: dict[str, np.ndarray] = {}
    for kind in ("alone", "with_baseline"):
        lesson = lessons(machines, with_baseline=kind == "with_baseline")
        learned, unseen = learn(lesson, given.seed)
        arrays |= pack(learned, kind)
        arrays[f"{kind}.reliability"] = reliability(unseen, lesson.target)
        first, three = score(unseen, lesson.target)
        print(
            f"{kind}: {len(lesson.values)} recordings of {len(machines)} machines, unseen first {first:.3f}, "
            f"first three {three:.3f}, temperature {learned.temperature:.2f}"
        )
    np.savez_compressed(given.out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main()
