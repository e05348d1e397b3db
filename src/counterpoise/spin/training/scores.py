"""How well probabilities call what is wrong, on examples nothing was learned from."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, SOUND
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.recording import Floats
from counterpoise.spin.training.examples import GROUP_OF
from counterpoise.spin.training.fitting import BINS, TrainingSet, reliability


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


def expected_calibration_error(p: Floats, target: Floats, weight: Floats) -> float:
    """Mean distance between what is said and what is true over all cases, by bins."""
    said, true, _ = reliability(p, target, weight)
    case = np.repeat(weight, p.shape[1])
    slot = np.digitize(p.ravel(), BINS)
    share = np.array(
        [case[slot == each].sum() for each in range(1, len(BINS)) if np.sum(slot == each) >= 5]
    )
    return float(np.sum(np.abs(said - true) * share) / share.sum())


def figures(p: Floats, training: TrainingSet, sound: NDArray[np.bool_]) -> dict[str, float]:
    """First, first three, bits gained, false alarms on sound recordings, calibration error."""
    first, three = accuracy(p, training)
    gain = np.log2(np.maximum(p, 1e-9) / PRIOR_OF)
    bits = np.average(np.sum(training.target * gain, axis=1), weights=training.weight)
    raised = (p / PRIOR_OF > 2)[:, :SOUND].any(axis=1)
    return {
        "first": first,
        "first three": three,
        "bits": float(bits),
        "alarms on sound": float(raised[sound].mean()),
        "sound": float(sound.sum()),
        "calibration error": expected_calibration_error(p, training.target, training.weight),
    }


def figures_text(p: Floats, training: TrainingSet, sound: NDArray[np.bool_]) -> str:
    """The same in a line."""
    return ", ".join(f"{name} {value:.3f}" for name, value in figures(p, training, sound).items())


def paired_bits(p: Floats, before: Floats, training: TrainingSet) -> tuple[float, float]:
    """Bits that probabilities (n, groups) gain over others on the same examples, and the error.

    The standard error is over machines, as recordings of one machine go together.
    """
    gain = np.log2(np.maximum(p, 1e-9) / np.maximum(before, 1e-9))
    each, weight = np.sum(training.target * gain, axis=1), training.weight
    mean = float(np.average(each, weights=weight))
    # What all recordings of a machine are off the mean counts as one draw.
    _, place = np.unique(training.machine, return_inverse=True)
    off = np.bincount(place, weight * (each - mean))
    return mean, float(np.sqrt(np.sum(off**2)) / weight.sum())
