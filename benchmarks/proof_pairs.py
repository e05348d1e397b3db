"""How often the proof of a repair is wrong, on rehearsed pairs of spins before and after it.

``python -m benchmarks.proof_pairs --keep build/proof-pairs`` draws pairs 200 to 499 (machines with
a fault; then repaired, or left as they were, or repaired in the wrong place, or spoiled by the
repair; another load, another spot of the phone), judges each as ``counterpoise spin-proof`` does,
and prints the shares of pass, not yet and cannot tell with their standard errors. A pair takes some
3 s of a processor; what stands in the folder is not drawn again. ``--set --pairs 0-199`` prints the
thresholds that other pairs set; those that judge never do. ``--signatures FILE`` writes what the
reader makes of the pairs, some KB each: a small set of them is kept as a test.
"""

from __future__ import annotations

import argparse
import os
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from counterpoise.spin.proof import CANNOT_TELL, FAILS_AT, NOT_YET, PASS, PASSES_AT, compare
from counterpoise.spin.reading import read_spin
from counterpoise.spin.training.examples import numbers
from counterpoise.spin.training.proof_pairs import PAIRS_SEED, kept_pair

if TYPE_CHECKING:
    from collections.abc import Sequence

RESULTS = (PASS, NOT_YET, CANNOT_TELL)
# Shares of the pairs that set the thresholds: machines with a fault that pass, good ones that fail.
PASSED_WRONGLY, FAILED_WRONGLY = 0.125, 0.08
# Odds are told in so many steps.
STEPS = ((0.0, 0.25), (0.25, 0.5), (0.5, 0.7), (0.7, 0.85), (0.85, 1.0))


@dataclass(frozen=True)
class JudgedPair:
    """What was done to a machine, what is wrong with it after, and what the proof says of it."""

    number: int
    kind: str
    fault: str
    left: str
    result: str
    odds: float | None


def judged(number: int, keep: Path | None) -> JudgedPair | None:
    """One pair drawn, or taken from the folder, and judged; None where it could not be run."""
    pair = kept_pair(number, PAIRS_SEED, keep)
    if pair is None:
        return None
    proof = compare(read_spin(pair.before), read_spin(pair.after))
    return JudgedPair(number, pair.kind, pair.fault, pair.left, proof.result, proof.odds)


def kept_signatures(wanted: Sequence[int], keep: Path | None, file: Path) -> None:
    """Write the signatures before and after (n, features), and what was and is wrong, to a file."""
    pairs = [pair for each in wanted if (pair := kept_pair(each, PAIRS_SEED, keep))]
    read = [[read_spin(each).signature for each in (pair.before, pair.after)] for pair in pairs]
    names = list(read[0][0])
    rows = np.array([[[each[name] for name in names] for each in both] for both in read])
    np.savez_compressed(
        file,
        allow_pickle=False,
        names=np.array(names),
        before=rows[:, 0].astype(np.float32),
        after=rows[:, 1].astype(np.float32),
        fault=np.array([pair.fault for pair in pairs]),
        left=np.array([pair.left for pair in pairs]),
    )


def shares_text(title: str, pairs: Sequence[JudgedPair]) -> str:
    """One row of the table: share of each result, with its standard error, and the count."""
    cells = []
    for result in RESULTS:
        share = sum(pair.result == result for pair in pairs) / len(pairs)
        error = np.sqrt(share * (1 - share) / len(pairs))
        cells.append(f"{100 * share:.0f} ± {100 * error:.0f} %")
    return f"| {title} | {len(pairs)} | {' | '.join(cells)} |"


def table(pairs: Sequence[JudgedPair]) -> str:
    """Rows by what the repair did, then by the fault that is left, or was cured."""
    good = [pair for pair in pairs if not pair.left]
    bad = [pair for pair in pairs if pair.left]
    lines = [f"| | pairs | {' | '.join(RESULTS)} |", "|---|---|---|---|---|"]
    lines += [shares_text("in order", good), shares_text("with a fault", bad)]
    groups: dict[str, list[JudgedPair]] = defaultdict(list)
    for pair in pairs:
        groups[pair.kind].append(pair)
        groups[f"cured: {pair.fault}" if not pair.left else f"left: {pair.left}"].append(pair)
    return "\n".join(lines + [shares_text(name, groups[name]) for name in sorted(groups)])


def reliability_text(pairs: Sequence[JudgedPair]) -> str:
    """Said against true: chance that the repair held by its odds, and how many held."""
    told = [pair for pair in pairs if pair.odds is not None]
    chance = np.array([(pair.odds or 0.0) / (1 + (pair.odds or 0.0)) for pair in told])
    held = np.array([not pair.left for pair in told])
    rows = []
    for low, high in STEPS:
        here = (chance >= low) & (chance < high)
        if here.any():
            rows.append(f"{chance[here].mean():.2f}: {held[here].mean():.2f} ({here.sum()})")
    gained = np.log2(np.where(held, chance, 1 - chance) / 0.5).mean()
    return f"said and true: {', '.join(rows)}; {gained:.2f} bits of the one asked"


def thresholds(pairs: Sequence[JudgedPair]) -> tuple[float, float]:
    """Log odds at which a proof passes and fails, by quantiles of pairs that judge nothing."""
    told = [(np.log(pair.odds), bool(pair.left)) for pair in pairs if pair.odds]
    bad = np.array([odds for odds, left in told if left])
    good = np.array([odds for odds, left in told if not left])
    # One pair more than there are, as the next is as likely to lie outside as any of them.
    high = min(1.0, (1 - PASSED_WRONGLY) * (len(bad) + 1) / len(bad))
    low = max(0.0, FAILED_WRONGLY * (len(good) + 1) / len(good) - 1 / len(good))
    return float(np.quantile(bad, high)), float(np.quantile(good, low))


def main() -> None:
    """Draw, judge, print."""
    options = argparse.ArgumentParser(description="Error rates of the proof of a repair.")
    options.add_argument("--pairs", type=numbers, default=numbers("200-499"))
    options.add_argument("--keep", type=Path, help="Folder for the recordings, some 100 MB.")
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--set", action="store_true", help="Print thresholds instead.")
    options.add_argument("--signatures", type=Path, help="Write signatures to this file instead.")
    given = options.parse_args()
    if given.keep:
        given.keep.mkdir(parents=True, exist_ok=True)
    if given.signatures:
        kept_signatures(given.pairs, given.keep, given.signatures)
        return
    with ProcessPoolExecutor(given.workers) as pool:
        all_pairs = pool.map(partial(judged, keep=given.keep), given.pairs)
        pairs = [pair for pair in all_pairs if pair is not None]
    if given.set:
        passes, fails = thresholds(pairs)
        print(f"{len(pairs)} pairs: PASSES_AT {passes:.2f}, FAILS_AT {fails:.2f}")
        return
    print(f"passes at {PASSES_AT}, fails at {FAILS_AT}\n{table(pairs)}\n{reliability_text(pairs)}")


if __name__ == "__main__":
    main()
