"""Made-up readers of recordings with a known truth: how often are they changed, and how well?

``python -m benchmarks.learned.readers [--readers 200] [--seed 1]``

A machine has one of nine causes. Its recording gives a normal reading for each cause, higher for
the one that is there; the words of a reader that is right are the likelihoods of that. Seven
closings in ten say what it was, wrong as often as the program takes them to be; of the others there
is a hint. All of it is invented.
"""

from __future__ import annotations

import argparse

import numpy as np
from numpy.typing import NDArray

from counterpoise.learning.readers import Calibration, Readings, calibrate

Floats = NDArray[np.float64]
PRIOR = np.array([0.1, 0.2, 0.2, 0.12, 0.1, 0.06, 0.08, 0.04, 0.1])
SEEN_WRONGLY = 0.02
HINT = 1.0


def made_readings(
    rng: np.random.Generator, machines: int, *, temperature: float = 1.0, signal: float = 2.0,
    seen: float = 0.7, named: Floats | None = None, times: int = 1,
) -> Readings:  # fmt: skip
    """Recordings of a reader too sure by ``temperature`` that names causes ``named`` too often.

    ``signal`` is how many errors of a reading lie between causes, ``seen`` the share of closings
    that say what it was, ``times`` how often each machine was recorded.
    """
    count = len(PRIOR)
    rows: list[tuple[Floats, Floats, Floats]] = []
    for _ in range(machines):
        before = rng.dirichlet(30 * PRIOR)
        cause = rng.choice(count, p=before)
        fits = np.where(np.arange(count) == cause, 1.0, SEEN_WRONGLY)
        if rng.random() < seen:
            said = rng.choice(count, p=fits / fits.sum())
            label = np.where(np.arange(count) == said, 1.0, SEEN_WRONGLY)
        else:
            hint = rng.normal(0, 1, count) + HINT * (np.arange(count) == cause)
            label = np.exp(HINT * hint)
        after = before * label / (before @ label)
        for _ in range(times):
            shown = rng.normal(0, 1, count) + signal * (np.arange(count) == cause)
            words = temperature * signal * shown
            words = words if named is None else words + np.log(named)
            rows.append((words - words.max(), before, after))
    words, before, after = (np.array(each) for each in zip(*rows, strict=True))
    machine = np.repeat(np.arange(machines), times)
    return Readings(words, before, after, machine, np.full(len(words), 1.0 / times))


def learned(readers: int, machines: int, seed: int, **how: object) -> list[Calibration]:
    """The settings learned for as many readers of one kind, each by machines of its own."""
    return [
        calibrate(made_readings(np.random.default_rng([seed, i]), machines, **how))  # type: ignore[arg-type]
        for i in range(readers)
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readers", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    named = np.array([1, 1 / 3, 3, 1, 1, 1, 1, 1, 1.0])
    kinds = {
        "right": {}, "right, little to hear": {"signal": 1.2}, "right, few told": {"seen": 0.2},
        "twice too sure": {"temperature": 2.0}, "three times": {"temperature": 3.0},
        "two causes named 3 times too often and too seldom": {"named": named},
    }  # fmt: skip
    for name, how in kinds.items():
        for machines in (12, 20, 40, 60, 120):
            done = learned(given.readers, machines, given.seed, **how)
            power = [each.power for each in done if each.power != 1.0]
            weighed = sum(bool(each.log_weights.any()) for each in done)
            mean = f"{1 / np.mean(power):.2f}" if power else "-"
            print(
                f"{name}, {machines} machines: changed {sum(e.used for e in done)} of"
                f" {len(done)} (temperature {len(power)}, about {mean}; weights {weighed})",
                flush=True,
            )


if __name__ == "__main__":
    main()
