"""Learn what signatures mean, by rehearsal: ``python -m counterpoise.spin.learn --machines 553 --seed 2026``.

Simulates that many machines, each once sound and five times with a random fault (one time in ten with two), heard by
two phones, reads every recording with this room's own reader, and fits a forest and networks. Writes the package's
data file and prints how well they do on machines they never saw. The same command gives the same file.
"""

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from counterpoise.errors import InputError
from counterpoise.spin.groups import FAULTS_OF, GROUPS
from counterpoise.spin.posterior import MODEL_FILE, Learned, pack, tempered
from counterpoise.spin.read import recording
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import Floats
from counterpoise.spin.rehearsal import HEARINGS, bench_of, rehearse
from counterpoise.spin.training import SIZE, Lessons, cross_votes, fit, fitted_temperature, reliability

TESTS = 5
CAUTIOUS = 4
SEEN_SHARE = 0.02
PAIRS = 0.1
STOPPED_MS2 = 0.25
GROUP_OF = {fault: i for i, group in enumerate(GROUPS) for fault in FAULTS_OF[group]}
# What differs from the machine's own sound recording is worth knowing for levels and ratios, not for counts.
NO_DIFFERENCE = {"spun", "given_up", "attempts", "top_krpm", "slow_knocks_hz", "rate"}
Example = tuple[tuple[str, ...], dict[str, float]]


def faults_of(rng: np.random.Generator) -> tuple[str, ...]:
    """Draw one fault (all alike), one time in ten two; () is sound."""
    count = 2 if rng.random() < PAIRS else 1
    drawn = rng.choice(list(GROUP_OF), count, replace=False)
    return tuple(sorted({str(fault) for fault in drawn} - {"sound"}))


def examples_of(number: int, seed: int, keep: Path | None = None) -> list[list[Example]]:
    """Signatures of one machine by spin and phone: first the sound spin, then the tests; [] if that cannot be run.

    Recordings are rounded to single precision; ``keep`` names a folder to keep them in, so that a change of the
    reader needs no new simulation.
    """
    kept = keep / f"{number}.npz" if keep else None
    if kept is None or not kept.exists():
        heard = _heard(number, seed)
        if kept:
            np.savez(kept, allow_pickle=False, **heard)
    else:
        with np.load(kept) as stored:
            heard = dict(stored)
    found = {run: _examples(heard, run) for run in range(1 + TESTS) if f"f{run}" in heard}
    return [each for each in found.values() if each] if found.get(0) else []


def ends_still(t_s: np.ndarray, acc_ms2: np.ndarray) -> bool:
    """Whether the machine has stopped at the end; if it never spun and did not stop, the simulation broke off."""
    last = acc_ms2[t_s > t_s[-1] - 0.4]
    return bool(np.all(last.std(axis=0) < STOPPED_MS2))


def _heard(number: int, seed: int) -> dict[str, np.ndarray]:
    """Faults f0 and times and accelerations t0.0, a0.0, t0.1 ... of the sound run and each test, by run and phone.

    What cannot be run is left out. One machine in CAUTIOUS has a controller that gives up easily on its tests.
    """
    rng = np.random.default_rng([seed, number])
    bench, heard = bench_of(rng), {}
    for run, faults in enumerate([(), *(faults_of(rng) for _ in range(TESTS))]):
        try:
            one = rehearse(bench, faults, rng, cautious=run > 0 and number % CAUTIOUS == 0)
        except (InputError, np.linalg.LinAlgError):
            one = None  # a machine the dynamics room cannot bring to rest: rare, and no loss
        if one:
            heard[f"f{run}"] = np.array("+".join(faults))
            for phone, each in enumerate(one.recordings):
                heard[f"t{run}.{phone}"] = each.t_s.astype(np.float32)
                heard[f"a{run}.{phone}"] = each.acc_ms2.astype(np.float32)
        elif run == 0:
            return {}
    return heard


def _examples(heard: dict[str, np.ndarray], run: int) -> list[Example]:
    """One run as each phone heard it; [] where the simulation broke off before it spun."""
    faults = tuple(fault for fault in str(heard[f"f{run}"]).split("+") if fault)
    found = []
    for phone in range(HEARINGS):
        t, acc = (heard[f"{what}{run}.{phone}"].astype(np.float64) for what in "ta")
        rises = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
        read = read_spin(recording(t[rises] - t[0], acc[rises])).signature
        found += [(faults, read)] if read["spun"] or ends_still(t, acc) else []
    return found if len(found) == HEARINGS else []


def target_of(faults: tuple[str, ...]) -> Floats:
    """Share of each group; two faults share alike, and what shows nothing gives way to what does."""
    groups = {GROUP_OF[fault] for fault in faults} or {GROUP_OF["sound"]}
    if len(groups) > 1:
        groups -= {GROUP_OF["sound"]}
    row = np.zeros(len(GROUPS))
    row[sorted(groups)] = 1 / len(groups)
    return row


def weights(faults: list[tuple[str, ...]]) -> Floats:
    """Weight of each example: every fault (and sound) counts alike; an example of two has their mean."""
    count = Counter(fault for each in faults for fault in each or ("sound",))
    weight = np.array([np.mean([1 / count[fault] for fault in each or ("sound",)]) for each in faults])
    return np.asarray(weight / weight.mean(), dtype=np.float64)


def lessons(machines: list[list[list[Example]]], *, with_baseline: bool) -> Lessons:
    """Lay the examples out as a table; with a baseline, each recording against the sound one of some phone."""
    every = [one for machine in machines for run in machine for _, one in run]
    names = tuple(name for name in every[0] if np.mean([np.isfinite(one[name]) for one in every]) > SEEN_SHARE)
    differences = tuple(name for name in names if name not in NO_DIFFERENCE)
    values, faults, machine = [], [], []
    for number, (base, *tests) in enumerate(machines):
        for run in tests if with_baseline else [base, *tests]:
            for phone, (wrong, signature) in enumerate(run):
                row = [signature[name] for name in names]
                if with_baseline:
                    sound = base[(phone + number) % HEARINGS][1]
                    row += [signature[name] - sound[name] for name in differences]
                values.append(row)
                faults.append(wrong)
                machine.append(number)
    all_names = names + (tuple(f"{name}'" for name in differences) if with_baseline else ())
    target = np.array([target_of(each) for each in faults])
    return Lessons(all_names, np.array(values), target, np.array(machine), weights(faults))


def score(p: Floats, lesson: Lessons) -> tuple[float, float]:
    """First and first three, each fault weighing alike."""
    rank = np.argsort(-p, axis=1)
    right = np.take_along_axis(lesson.target > 0, rank, axis=1)
    first, three = right[:, 0], right[:, :3].any(axis=1)
    return float(np.average(first, weights=lesson.weight)), float(np.average(three, weights=lesson.weight))


def learn(lesson: Lessons, seed: int) -> tuple[Learned, Floats]:
    """Forest and networks with their temperature, and their tempered answers on machines they never saw."""
    unseen = cross_votes(lesson, np.random.default_rng([seed, 1]))
    temperature = fitted_temperature(unseen, lesson.target, lesson.weight)
    return fit(lesson, SIZE, np.random.default_rng([seed, 2]), temperature), tempered(unseen, temperature)


def main() -> None:
    """Rehearse, learn, write, report."""
    options = argparse.ArgumentParser(description="Learn the meaning of signatures by rehearsal.")
    options.add_argument("--machines", type=int, default=553)
    options.add_argument("--seed", type=int, default=2026)
    options.add_argument("--keep", type=Path, help="Folder to keep the simulated recordings in.")
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--out", type=Path, default=Path(__file__).with_name(MODEL_FILE))
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        one = partial(examples_of, seed=given.seed, keep=given.keep)
        rehearsed = list(pool.map(one, range(given.machines)))
    machines = [each for each in rehearsed if len(each) > 1]
    arrays: dict[str, np.ndarray] = {}
    for kind in ("alone", "with_baseline"):
        lesson = lessons(machines, with_baseline=kind == "with_baseline")
        learned, unseen = learn(lesson, given.seed)
        arrays |= pack(learned, kind)
        arrays[f"{kind}.reliability"] = reliability(unseen, lesson.target, lesson.weight)
        first, three = score(unseen, lesson)
        print(
            f"{kind}: {len(lesson.values)} recordings of {len(machines)} machines, unseen first {first:.3f}, "
            f"first three {three:.3f}, temperature {learned.temperature:.2f}"
        )
    np.savez_compressed(given.out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main()
