"""Rehearse thousands of machines: an accelerator moves them, the cores of the computer listen.

``python -m counterpoise.spin.training.rehearsal --machines 0-5799 --seed 2027 --keep FOLDER``
writes one file of signatures for each batch of machines; what stands in FOLDER already is not made
again. Packing and handing over go through one process: on many cores run several beside one another
(``--part 0/4 --workers 8`` to ``3/4``), each with an accelerator or with a share of one. The same
draws as of ``training.train`` on a plain processor, which does the same in days:
``--device processor``. Then ``training.train --rows FOLDER`` learns from them.
"""

import argparse
import os
from collections.abc import Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import count
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np

from counterpoise.dynamics import Machine, Run
from counterpoise.dynamics.batch.lanes import Outline, PreparedSpin, prepare
from counterpoise.dynamics.batch.spins import run_batch, spin_result
from counterpoise.errors import InputError
from counterpoise.spin.training.examples import (
    Example,
    RehearsedRun,
    made_of,
    numbers,
    runs_of_machine,
    signature_of,
)
from counterpoise.spin.training.rows import Rehearsed, save_rows
from counterpoise.spin.training.synthetic_recordings import PANEL_RATE_HZ, SyntheticSpin

# Batches under way at once: while some move, others are drawn and listened to.
AT_ONCE = 3
# Spins of about one length run together: what is shorter fills up memory and waits for the longest.
LANES = 2048


@dataclass(frozen=True)
class Answer:
    """Where the samples of one spin lie: by name a file of all lanes, its lane and its rows."""

    outline: Outline
    files: dict[str, Path]
    lane: int
    rows: int


def resumed(
    run: RehearsedRun, answers: Sequence[Answer]
) -> tuple[Machine, Run] | SyntheticSpin | None:
    """Ask for the run's spins with what has been answered so far: the next one asked for, or all.

    None where the machine broke loose.
    """
    asking = run.asked()
    try:
        asked = next(asking)
        for answer in answers:
            samples = {
                name: np.load(file, mmap_mode="r")[answer.lane, : answer.rows]
                for name, file in answer.files.items()
            }
            asked = asking.send(spin_result(answer.outline, samples))
    except StopIteration as end:
        spin: SyntheticSpin | None = end.value
        return spin
    return asked


def planned(number: int, seed: int) -> list[tuple[RehearsedRun, PreparedSpin | None]]:
    """Draw one machine's runs and prepare the spin each asks for; None for what cannot be run."""
    return [(run, _prepared(run, ())) for run in runs_of_machine(number, seed)]


def _prepared(run: RehearsedRun, answers: Sequence[Answer]) -> PreparedSpin | None:
    try:
        asked = resumed(run, answers)
        return prepare(*asked, PANEL_RATE_HZ) if isinstance(asked, tuple) else None
    except (InputError, np.linalg.LinAlgError):
        return None  # the dynamics room cannot bring it to rest: rare, and no loss


def heard(run: RehearsedRun, answers: Sequence[Answer]) -> PreparedSpin | list[Example]:
    """Paint, record and read a run that has its spin, or prepare the next it asks for."""
    try:
        spin = resumed(run, answers)
    except (InputError, np.linalg.LinAlgError):
        return []
    if isinstance(spin, tuple):
        return _prepared(run, answers) or []
    if spin is None:
        return []
    return [(run.faults, signature_of(each.t_s, each.acc_ms2)) for each in spin.recordings]


class Rehearsal:
    """Batches of machines through drawing, motion and listening."""

    def __init__(self, seed: int, device: str, pool: Executor, room: Path) -> None:
        self.seed, self.device, self.pool, self.room = seed, device, pool, room
        self.files = count()
        self.machine_s = 0.0

    def moved(self, spins: list[PreparedSpin], keep: tuple[str, ...]) -> list[Answer]:
        """Run spins, samples to files in the room."""
        # Shortest first: the longest are then alone with each other.
        order = sorted(range(len(spins)), key=lambda i: spins[i].samples)
        chunks = [order[i : i + LANES] for i in range(0, len(order), LANES)]

        def run(chunk: list[int]) -> list[Answer]:
            some = [spins[i] for i in chunk]
            samples, held = run_batch(some, device=self.device, keep=keep, dtype=np.float64)
            number = next(self.files)
            files = {name: self.room / f"{number}-{name}.npy" for name in samples}
            for name, file in files.items():
                np.save(file, samples[name], allow_pickle=False)
            return [Answer(s.outline, files, i, int(held[i])) for i, s in enumerate(some)]

        self.machine_s += sum(s.outline.step_s * s.samples for s in spins)
        out: dict[int, Answer] = {}
        with ThreadPoolExecutor(max(1, len(chunks))) as threads:
            for chunk, answers in zip(chunks, threads.map(run, chunks), strict=True):
                out |= dict(zip(chunk, answers, strict=True))
        return [out[i] for i in range(len(spins))]

    def machines(self, batch: Sequence[int]) -> Rehearsed:
        """Return the signatures of a batch of machines, by number."""
        plans = self.pool.map(planned, batch, [self.seed] * len(batch), chunksize=4)
        spins = [(run, spin) for plan in plans for run, spin in plan if spin]
        out: dict[tuple[int, int], list[Example]] = {}
        answers: dict[tuple[int, int], tuple[Answer, ...]] = {}
        # Whether a controller aborts shows in the travel of the tub.
        kinds = [
            (keep, [each for each in spins if each[0].aborts_easily == aborts])
            for aborts, keep in ((False, ("panel",)), (True, ("panel", "tub")))
        ]
        with ThreadPoolExecutor(len(kinds)) as threads:
            moved = threads.map(
                lambda kind: self.moved([spin for _, spin in kind[1]], kind[0]), kinds
            )
            for (_, some), each in zip(kinds, moved, strict=True):
                for (run, _), answer in zip(some, each, strict=True):
                    answers[run.number, run.run] = (answer,)
        runs = [run for run, _ in spins]
        del plans, spins, kinds, moved  # some GB of machines at rest
        while runs:
            given = [answers[run.number, run.run] for run in runs]
            again: list[tuple[RehearsedRun, PreparedSpin]] = []
            for run, got in zip(runs, self.pool.map(heard, runs, given, chunksize=4), strict=True):
                if isinstance(got, PreparedSpin):
                    again.append((run, got))
                else:
                    out[run.number, run.run] = got
            for (run, _), answer in zip(
                again, self.moved([spin for _, spin in again], ("panel",)), strict=True
            ):
                answers[run.number, run.run] += (answer,)
            runs = [run for run, _ in again]
        for file in {f for each in answers.values() for a in each for f in a.files.values()}:
            file.unlink()
        return by_machine(out)


def by_machine(heard_runs: dict[tuple[int, int], list[Example]]) -> Rehearsed:
    """Runs in order for every machine whose first, sound run and one test could be read."""
    machines: Rehearsed = {}
    for number, run in sorted(heard_runs):
        if not heard_runs[number, run]:
            continue
        if run == 0:
            machines[number] = []
        # Without the sound run there is no baseline to compare the tests with.
        if number in machines:
            machines[number].append(heard_runs[number, run])
    return {number: runs for number, runs in machines.items() if len(runs) > 1}


def part(text: str) -> tuple[int, int]:
    """Which of how many parts of the batches, from ``0/4`` (the first of four) to ``3/4``."""
    mine, of = map(int, text.split("/"))
    return mine, of


def rehearse(given: argparse.Namespace) -> list[Path]:
    """Rehearse all batches that are not in the folder; the files of all of them."""
    given.keep.mkdir(parents=True, exist_ok=True)
    batches = [
        given.machines[i : i + given.batch] for i in range(0, len(given.machines), given.batch)
    ]
    paths = [
        given.keep / f"rows-{given.seed}-{batch[0]}-{batch[-1]}-{made_of()}.npz"
        for batch in batches
    ]
    # Every so-many-th, so that all parts end at about one time.
    mine, of = given.part
    missing = [
        (batch, path)
        for batch, path in list(zip(batches, paths, strict=True))[mine::of]
        if not path.exists()
    ]
    began = perf_counter()
    # For the workers: threads of a matrix product for each of many of them would wait in line.
    os.environ |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    with (
        # Not forked: an accelerator does not survive it.
        ProcessPoolExecutor(given.workers, get_context("spawn")) as pool,
        TemporaryDirectory(dir=given.room) as room,
        ThreadPoolExecutor(AT_ONCE) as threads,
    ):
        rehearsal = Rehearsal(given.seed, given.device, pool, Path(room))

        def kept(batch: list[int], path: Path) -> None:
            machines = rehearsal.machines(batch)
            save_rows(path, machines, made_of())
            print(
                f"{path.name}: {len(machines)} machines, {perf_counter() - began:.0f} s, "
                f"{rehearsal.machine_s:.0f} machine-seconds moved so far",
                flush=True,
            )

        list(threads.map(kept, *zip(*missing, strict=True))) if missing else None
    return paths


def main() -> None:
    """Read the options and rehearse."""
    options = argparse.ArgumentParser(description="Rehearse machines, write their signatures.")
    options.add_argument("--machines", type=numbers, default=numbers("640"))
    options.add_argument("--seed", type=int, default=2027)
    options.add_argument("--keep", type=Path, required=True, help="Folder for the signatures.")
    options.add_argument("--device", default="auto", help="auto, accelerator or processor")
    options.add_argument("--workers", type=int, default=os.cpu_count())
    options.add_argument("--batch", type=int, default=600, help="Machines moved side by side.")
    options.add_argument(
        "--part", type=part, default=(0, 1), help="0/4: every fourth batch; run 1/4 .. beside it."
    )
    options.add_argument(
        "--room", type=Path, help="Folder for samples on the way, some GB a batch."
    )
    rehearse(options.parse_args())


if __name__ == "__main__":
    main()
