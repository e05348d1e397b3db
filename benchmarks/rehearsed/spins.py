"""How well spins are read, on rehearsed machines that nothing was learned from.

``python -m benchmarks.rehearsed.spins --machines 200000-200149 --keep build/rehearsed-spins`` draws
the machines as the rehearsal draws them (other numbers than any that were learned from), moves,
records and reads them, and prints: how many plateaus have their speed within 1 %, by class of
mistake; how well the causes are called, without and with the baseline, and by what is in a
recording; how often each fault is called what; what is said against what is true. A machine takes
some 5 s of a processor; what stands in the folder is not made again. ``--figure FILE`` draws said
against true.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from counterpoise.report.figures.spin import reliability_figure, svg
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.features.orders_by_speed import MARK
from counterpoise.spin.reading import Reading, read_spin
from counterpoise.spin.training.examples import kept_recordings, numbers, runs_of_machine
from counterpoise.spin.training.fitting import TrainingSet, reliability
from counterpoise.spin.training.scores import confusion, confusion_text, figures, paired_bits
from counterpoise.spin.training.speed_scores import (
    ToldPlateau,
    speed_text,
    told_plateaus,
    wrong_share,
)
from counterpoise.spin.training.train import example_weights, group_target

if TYPE_CHECKING:
    from collections.abc import Iterable

    from counterpoise.spin.recording import Floats

SEED = 2027
RATES_HZ = (55.0, 75.0, 96.0, 110.0, 160.0, 300.0)


@dataclass(frozen=True)
class JudgedSpin:
    """One recording, what was told of its speed, and what is said of its causes.

    ``alone`` and ``against`` (9,): probabilities without and with the sound recording of the same
    machine; ``against`` is None for that recording itself.
    """

    number: int
    run: int
    faults: tuple[str, ...]
    field: bool
    rate_hz: float
    climb: bool
    plateaus: tuple[ToldPlateau, ...]
    wrong: float
    alone: Floats
    against: Floats | None
    signature: dict[str, float]
    baseline: dict[str, float] | None


def judged(number: int, seed: int, keep: Path | None) -> list[JudgedSpin]:
    """Every recording of a machine, read and judged as ``counterpoise spin --json`` does."""
    heard = kept_recordings(number, seed, keep)
    field = [bool(run.panels) for run in runs_of_machine(number, seed)]
    readings = [read_spin(each.recording) for each in heard]
    sound = [reading for each, reading in zip(heard, readings, strict=True) if each.run == 0]
    out = []
    for each, reading in zip(heard, readings, strict=True):
        # As in training: of half of the machines the phone has changed since the baseline.
        base = sound[number % len(sound)] if sound and each.run else None
        out.append(
            JudgedSpin(
                number,
                each.run,
                each.faults,
                field[each.run],
                each.recording.rate_hz,
                bool(np.isfinite(reading.signature["climb_most"])),
                tuple(told_plateaus(reading.track, each.truth)),
                wrong_share(reading.track, each.truth),
                chances(reading, None),
                None if base is None else chances(reading, base),
                reading.signature,
                None if base is None else base.signature,
            )
        )
    return out


def chances(reading: Reading, baseline: Reading | None) -> Floats:
    """Probabilities (9,) of GROUPS."""
    groups = judge(reading, baseline).groups
    return np.array([groups[group] for group in GROUPS])


def table_of(spins: list[JudgedSpin]) -> TrainingSet:
    """What is true of recordings, each fault weighing alike; no features."""
    faults = [each.faults for each in spins]
    return TrainingSet(
        (),
        np.empty((len(spins), 0)),
        np.array([group_target(each) for each in faults]),
        np.array([each.number for each in spins]),
        example_weights(faults),
    )


def causes_text(name: str, spins: list[JudgedSpin], p: Floats) -> str:
    """One row of the table: first / three, bits, alarms, calibration error."""
    row = figures(p, table_of(spins), np.array([not each.faults for each in spins]))
    alarms = f"{100 * row['alarms on sound']:.1f} % of {row['sound']:.0f} sound"
    return (
        f"| {name} | {len(spins)} | {row['first']:.2f} / {row['first three']:.2f} | "
        f"{row['bits']:.2f} | {alarms} | {row['calibration error']:.3f} |"
    )


def causes_table(spins: list[JudgedSpin]) -> str:
    """Without and with a baseline, and by what is in a recording."""
    lines = ["| recordings | | first / three | bits | alarms | calibration error |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    tests = [each for each in spins if each.against is not None]
    for name, field in (("all", (True, False)), ("field", (True,)), ("quiet room", (False,))):
        here = [each for each in tests if each.field in field]
        if not here:
            continue
        alone, against = stacked(here)
        lines.append(causes_text(f"{name}, without baseline", here, alone))
        lines.append(causes_text(f"{name}, with", here, against))
        gain, error = paired_bits(against, alone, table_of(here))
        lines.append(f"| {name}, bits gained by the baseline | | | {gain:.3f} ± {error:.3f} | | |")
    rough = [each for each in spins if each.field]
    parts = {"climb in it": [each for each in rough if each.climb],
             "no climb": [each for each in rough if not each.climb]}  # fmt: skip
    for low, high in zip((0.0, *RATES_HZ), (*RATES_HZ, np.inf), strict=True):
        parts[f"climb, {low:.0f} to {high:.0f} a second"] = [
            each for each in rough if each.climb and low <= each.rate_hz < high
        ]
    for name, here in parts.items():
        if here:
            lines.append(causes_text(f"field, {name}", here, np.array([s.alone for s in here])))
    return "\n".join(lines)


def stacked(spins: list[JudgedSpin]) -> tuple[Floats, Floats]:
    against = [each.against for each in spins if each.against is not None]
    return np.array([each.alone for each in spins]), np.array(against)


def said_and_true(spins: list[JudgedSpin], p: Floats) -> Floats:
    """Mean probability said, share that was true, cases; (3, bins)."""
    table = table_of(spins)
    return reliability(p, table.target, table.weight)


def write_pairs(file: Path, spins: Iterable[JudgedSpin]) -> None:
    """Signatures of recordings and of their baselines (n, names), and what is wrong, to a file."""
    pairs = [(each, each.baseline) for each in spins if each.baseline is not None]
    # By bands of speed the shipped models ask nothing.
    names = [name for name in pairs[0][0].signature if MARK not in name]
    np.savez_compressed(
        file,
        allow_pickle=False,
        names=np.array(names),
        recording=_rows(names, [each.signature for each, _ in pairs]),
        baseline=_rows(names, [base for _, base in pairs]),
        number=np.array([each.number for each, _ in pairs]),
        faults=np.array(["+".join(each.faults) for each, _ in pairs]),
    )


def _rows(names: list[str], signatures: list[dict[str, float]]) -> np.ndarray:
    return np.array([[each[name] for name in names] for each in signatures], dtype=np.float16)


def speed_table(spins: Iterable[JudgedSpin]) -> str:
    """Plateaus by class of mistake, and how much of the time a wrong speed is told."""
    rough = [each for each in spins if each.field]
    told = [plateau for each in rough for plateau in each.plateaus]
    wrong = np.mean([each.wrong for each in rough])
    return f"{speed_text(told)}; a wrong speed is told for {100 * wrong:.1f} % of the time"


def main() -> None:
    """Draw, read, judge, print."""
    options = argparse.ArgumentParser(description="How well rehearsed spins are read.")
    options.add_argument("--machines", type=numbers, default=numbers("200000-200149"))
    options.add_argument("--seed", type=int, default=SEED)
    options.add_argument("--keep", type=Path, help="Folder for the recordings, 3 MB a machine.")
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--figure", type=Path, help="Draw said against true to this SVG.")
    options.add_argument(
        "--pairs", type=Path, help="Write signatures beside baselines to this file."
    )
    given = options.parse_args()
    if given.keep:
        given.keep.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(given.workers) as pool:
        parts = pool.map(partial(judged, seed=given.seed, keep=given.keep), given.machines)
        spins = [each for part in parts for each in part]
    rough = [each for each in spins if each.field and each.against is not None]
    alone, against = stacked(rough)
    print(f"{len(spins)} recordings of {len({each.number for each in spins})} machines")
    print("speed in the field:", speed_table(spins))
    print(causes_table(spins))
    every = [each for each in spins if each.run]
    called = np.array([each.alone for each in every])
    print("called, without baseline:", confusion_text(confusion(called, [s.faults for s in every])))
    curves = []
    for name, p in (("without baseline", alone), ("with baseline", against)):
        curves.append((name, *said_and_true(rough, p)))
        cells = ", ".join(
            f"{a:.2f}: {b:.2f} ({n:.0f})" for a, b, n in zip(*curves[-1][1:], strict=True)
        )
        print(f"field, {name}, said: true (cases): {cells}")
    if given.pairs:
        write_pairs(given.pairs, spins)
    if given.figure:
        given.figure.write_bytes(svg(reliability_figure(curves)))


if __name__ == "__main__":
    main()
