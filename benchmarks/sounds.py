"""What the sound of a spin tells of a bearing and of a loose weight, on rehearsed sounds.

``python -m benchmarks.sounds --learned 0-95 --judged 0-63`` draws sounds in order, of worn bearings
and of loose weights (``spin/training/rehearsed_sounds.py``), reads their tones, and sorts each into
one of three: knocks *between* whole numbers a turn in the beat of what is high, knocks at *whole*
numbers there, or *none*. The shares of the learned sounds, one more counted in each cell, are the
likelihoods; bits are gained or lost with them on the judged ones, which are drawn louder in the
room and fainter in the machine. A sound takes 1.5 s of a processor.
"""

from __future__ import annotations

import argparse
import io
import os
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import TYPE_CHECKING

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from counterpoise.spin.audio.sound_features import read_sound_features
from counterpoise.spin.audio.tones import Tone, order_tones
from counterpoise.spin.training.examples import numbers
from counterpoise.spin.training.rehearsed_sounds import (
    BEARING,
    IN_ORDER,
    JUDGED,
    LEARNED,
    STATES,
    WEIGHT,
    Taste,
    rehearsed_sound,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

SEED = 2033
BETWEEN, WHOLE, NONE = "between", "whole", "none"
ANSWERS = (BETWEEN, WHOLE, NONE)
# Where the balls of a drum's bearing pass a pit, with room to both sides (7 to 11 balls).
BALLS_FROM, BALLS_TO = 2.0, 8.0


def answer_of(beat: Sequence[Tone] | None) -> str:
    """Which of ANSWERS the tones in the beat give; None, too few speeds, is none."""
    between = [t for t in beat or () if t.whole is False and BALLS_FROM <= t.order <= BALLS_TO]
    if between:
        return BETWEEN
    return WHOLE if any(t.whole for t in beat or ()) else NONE


def heard(number: int, taste: Taste) -> tuple[str, str]:
    """State of a rehearsed sound, and the answer that its tones give."""
    sound = rehearsed_sound(number, SEED, taste)
    features = read_sound_features(io.BytesIO(sound.wav), "sound.wav")
    beat = order_tones(features.beat, features.rate_hz, sound.drum, in_beat=True)
    return sound.state, answer_of(beat)


def likelihoods(pairs: Sequence[tuple[str, str]]) -> dict[str, np.ndarray]:
    """Share (3,) of each answer by state, one more counted in each cell."""
    count = Counter(pairs)
    rows = {
        state: np.array([count[state, answer] + 1.0 for answer in ANSWERS])
        for state in dict.fromkeys(STATES)
    }
    return {state: row / row.sum() for state, row in rows.items()}


def bits_gained(
    pairs: Sequence[tuple[str, str]], rows: dict[str, np.ndarray]
) -> dict[str, tuple[float, float]]:
    """Bits (mean, standard error) of each state where all three are as likely, by these rows."""
    out = {}
    for state in rows:
        gains = []
        for answer in (a for s, a in pairs if s == state):
            column = np.array([row[ANSWERS.index(answer)] for row in rows.values()])
            share = rows[state][ANSWERS.index(answer)] / column.sum()
            gains.append(np.log2(share * len(rows)))
        if gains:
            out[state] = float(np.mean(gains)), float(np.std(gains) / np.sqrt(len(gains)))
    return out


def main() -> None:
    """Draw, read, count, print."""
    options = argparse.ArgumentParser(description="What the sound of a spin tells.")
    options.add_argument("--learned", type=numbers, default=numbers("0-95"))
    options.add_argument("--judged", type=numbers, default=numbers("0-63"))
    options.add_argument("--workers", type=int, default=1)
    given = options.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        learned = list(pool.map(partial(heard, taste=LEARNED), given.learned))
        judged = list(pool.map(partial(heard, taste=JUDGED), given.judged))
    rows = likelihoods(learned)
    for name, pairs in (("learned", learned), ("judged", judged)):
        count = Counter(pairs)
        for state in (IN_ORDER, BEARING, WEIGHT):
            cells = ", ".join(f"{answer} {count[state, answer]}" for answer in ANSWERS)
            print(f"{name}, {state}: {cells}")
    for state, (mean, error) in bits_gained(judged, rows).items():
        print(f"bits on judged, {state}: {mean:.2f} ± {error:.2f}")


if __name__ == "__main__":
    main()
