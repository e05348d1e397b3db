"""Is a reader as sure as it should be: its words tempered and weighed by what turned out.

A reader says of each recording how well each of O outcomes fits it: words (O,), of which only
ratios count. Words of a reader that is right multiply a belief as they are. Of one that is too sure
of itself they are raised to a power below 1 (its temperature is one over that), and an outcome that
it names too often is weighed down. Both are learned from recordings of machines of which it turned
out later what was wrong, and are put in use only where they foretell machines that they were not
learned from. Arrays are over R recordings and O outcomes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

# Before anything is seen, a standard deviation (from memory): of the power, and of the log of a
# weight. A reader is seldom more than twice too sure, or an outcome named half too often.
POWER_SD, WEIGHT_SD = 0.5, 0.3
# However bad it is, a reader is never taken for one that says the opposite.
LEAST_POWER = 0.1
# Fewer machines than this are luck: to make a reader less sure, then to weigh its outcomes, and to
# make it surer, which gains a little on many and loses much on the few that a short row lacks. Set
# so that of readers that are right at most 5 in 100 are changed (docs/learning.md).
LEAST_FOR_POWER, LEAST_FOR_WEIGHTS, LEAST_FOR_SURER = 12, 60, 60
# By so many of its errors a change has to gain: of many weights at once some seem to by luck, and
# so does a reader that is made surer.
CLEARLY, CLEARLY_OF_MANY = 1.0, 2.0
# a word of 0 would be certainty, which nothing that turns out later could mend
LEAST_WORD = 1e-6
_MOST_ROUNDS, _SETTLED = 60, 1e-9


@dataclass(frozen=True)
class Readings:
    """What a reader said, and what turned out.

    ``log_words`` (R, O) are its words. ``before`` and ``after`` (R, O) are the chances of each
    outcome of a recording of that machine: by all that was known of it but the recording, without
    and with what turned out later; rows sum to 1. What is not known shows as the two being alike,
    and such a recording moves nothing. ``machine`` (R,) whose it is, from 0 on; ``share`` (R,) how
    much it counts.
    """

    log_words: Floats
    before: Floats
    after: Floats
    machine: Ints
    share: Floats

    @property
    def machines(self) -> int:
        """How many machines there are recordings of."""
        return len(np.unique(self.machine))

    def of(self, chosen: NDArray[np.bool_]) -> Readings:
        """Those that are ``chosen`` (R,)."""
        return Readings(
            self.log_words[chosen], self.before[chosen], self.after[chosen],
            self.machine[chosen], self.share[chosen],
        )  # fmt: skip


@dataclass(frozen=True)
class Gain:
    """Bits a machine that a change gained on machines it was not learned from, and its error."""

    mean: float
    error: float


@dataclass(frozen=True)
class Calibration:
    """What a reader's words are raised to, and its outcomes weighed with, from ``machines``.

    ``power`` is 1 and ``log_weights`` (O,) are 0 where nothing is put in use; ``by_power`` and
    ``by_weights`` say what they would gain, None where there are too few machines to say.
    ``power_sd`` and ``weights_sd`` (O,) are the errors of what is in use.
    """

    machines: int
    power: float
    log_weights: Floats
    power_sd: float
    weights_sd: Floats
    by_power: Gain | None = None
    by_weights: Gain | None = None

    @property
    def used(self) -> bool:
        """Whether anything of it is put in use."""
        return self.power != 1.0 or bool(self.log_weights.any())


def calibrate(readings: Readings) -> Calibration:
    """Learn how sure a reader may be; first the power, then beside it the weights."""
    machines, outcomes = readings.machines, readings.log_words.shape[1]
    theta, free = _plain(outcomes), np.zeros(outcomes + 1, dtype=np.bool_)
    gains: list[Gain | None] = []
    for least, errors, more in (
        (LEAST_FOR_POWER, CLEARLY, slice(0, 1)),
        (LEAST_FOR_WEIGHTS, CLEARLY_OF_MANY, slice(1, None)),
    ):
        if machines < least:
            gains.append(None)
            continue
        tried = free.copy()
        tried[more] = True
        gain = _gain(readings, free, tried)
        gains.append(gain)
        # what is in use goes by all machines; whether it is used, by machines it has not seen
        after = fitted(readings, tried)
        surer = after[0] > max(1.0, theta[0])
        needed = (CLEARLY_OF_MANY if surer else errors) * gain.error
        if gain.mean > needed and not (surer and machines < LEAST_FOR_SURER):
            free, theta = tried, after
    sd = _errors(readings, theta, free)
    # one factor for all outcomes says nothing: the first outcome is what the others are held to
    return Calibration(
        machines, float(theta[0]), theta[1:] - theta[1:].mean(), float(sd[0]), sd[1:], *gains
    )


def recalibrated(words: Floats, power: float, weights: Floats) -> Floats:
    """Words (..., O) raised to a power and weighed (O,), each row of sum 1."""
    counted = _raised(log_words(words), np.append(power, np.log(weights)))
    return np.asarray(counted / counted.sum(axis=-1, keepdims=True))


def log_words(words: Floats) -> Floats:
    """Logs of words, none below that of :data:`LEAST_WORD` of the largest of its row."""
    return np.asarray(np.log(np.maximum(words / words.max(axis=-1, keepdims=True), LEAST_WORD)))


def scores(readings: Readings, theta: Floats) -> Floats:
    """(R,) log chance of what turned out, given the recording, over that without it."""
    raised = _raised(readings.log_words, theta)
    # one factor on all words of a recording changes nothing: it stands above and below
    total = np.log((readings.after * raised).sum(axis=1))
    return np.asarray(total - np.log((readings.before * raised).sum(axis=1)))


def fitted(readings: Readings, free: NDArray[np.bool_], start: Floats | None = None) -> Floats:
    """(1 + O,) the likeliest power and logs of weights; those not ``free`` stay as they are.

    Newton's method, each step halved until it does not lose; where the labels are so unsure that
    the curvature has the wrong sign, that of sure labels is used (Lange 1995, EM gradient).
    """
    theta = _plain(readings.log_words.shape[1]) if start is None else start.copy()
    value = _objective(readings, theta)
    for _ in range(_MOST_ROUNDS):
        slope, curve = _derivatives(readings, theta)
        step = np.zeros_like(theta)
        step[free] = np.linalg.solve(curve[np.ix_(free, free)], slope[free])
        after, size = value, 1.0
        while size > 1e-6:
            tried = theta + size * step
            tried[0] = max(tried[0], LEAST_POWER)
            after = _objective(readings, tried)
            # the quadratic that Newton's step goes by may be far off where labels are vague
            if after >= value:
                break
            size /= 2.0
        if after - value <= _SETTLED:
            break
        theta, value = tried, after
    return theta


def _raised(log_words: Floats, theta: Floats) -> Floats:
    """Words (..., O) by a power and the logs of weights (1 + O,), the largest of each row 1."""
    exponent = theta[0] * log_words + theta[1:]
    return np.asarray(np.exp(exponent - exponent.max(axis=-1, keepdims=True)))


def _plain(outcomes: int) -> Floats:
    """(1 + O,) what leaves every word as it is."""
    return np.append(1.0, np.zeros(outcomes))


def _objective(readings: Readings, theta: Floats) -> float:
    """Log posterior of power and weights, but for a constant."""
    return float(readings.share @ scores(readings, theta)) - 0.5 * float(
        ((theta[0] - 1.0) / POWER_SD) ** 2 + ((theta[1:] / WEIGHT_SD) ** 2).sum()
    )


def _derivatives(readings: Readings, theta: Floats) -> tuple[Floats, Floats]:
    """Slope (P,) of the log posterior, and a curvature (P, P) that is never negative."""
    outcomes = len(theta) - 1
    raised = _raised(readings.log_words, theta)
    slope = np.append((1.0 - theta[0]) / POWER_SD**2, -theta[1:] / WEIGHT_SD**2)
    prior = np.append(POWER_SD**-2, np.full(outcomes, WEIGHT_SD**-2))
    curves = []
    # the log of a mean over outcomes: its slope is the mean of the slopes, its curve their spread
    for sign, chances in ((-1.0, readings.before), (1.0, readings.after)):
        joint = chances * raised
        held = joint / joint.sum(axis=1, keepdims=True)
        # the log word is what the power multiplies; each weight stands for its own outcome
        words = (held * readings.log_words).sum(axis=1)
        means = np.column_stack([words, held])
        slope = slope + sign * (readings.share @ means)
        square = np.zeros((outcomes + 1, outcomes + 1))
        square[0, 0] = readings.share @ (held * readings.log_words**2).sum(axis=1)
        square[0, 1:] = square[1:, 0] = readings.share @ (held * readings.log_words)
        square[1:, 1:] = np.diag(readings.share @ held)
        curves.append(square - (means * readings.share[:, None]).T @ means)
    sure = curves[0] + np.diag(prior)
    whole = sure - curves[1]
    return slope, whole if np.linalg.eigvalsh(whole)[0] > 1e-6 * np.trace(whole) else sure


def _gain(readings: Readings, now: NDArray[np.bool_], tried: NDArray[np.bool_]) -> Gain:
    """What freeing ``tried`` gains over ``now``: each machine by what the others say."""
    # begun where all machines together lead: one machine less moves it little
    both = [(free, fitted(readings, free)) for free in (now, tried)]
    machines = np.unique(readings.machine)
    gained, weight = np.zeros(len(machines)), np.zeros(len(machines))
    for i, machine in enumerate(machines):
        here = readings.machine == machine
        others, left_out = readings.of(~here), readings.of(here)
        before, after = (
            float(left_out.share @ scores(left_out, fitted(others, free, start)))
            for free, start in both
        )
        gained[i], weight[i] = after - before, left_out.share.sum()
    mean = float(gained.sum() / weight.sum())
    # of a ratio: machines whose recordings count less say less
    error = float(np.sqrt(((gained - mean * weight) ** 2).sum())) / float(weight.sum())
    few = (len(machines) / max(len(machines) - 1, 1)) ** 0.5
    return Gain(mean / np.log(2.0), few * error / np.log(2.0))


def _errors(readings: Readings, theta: Floats, free: NDArray[np.bool_]) -> Floats:
    """(1 + O,) standard errors of what was fitted, by the curvature; 0 for what was not."""
    _, curve = _derivatives(readings, theta)
    sd = np.zeros(len(theta))
    # what was held fast has no error of its own
    if free.any():
        sd[free] = np.sqrt(np.diag(np.linalg.inv(curve[np.ix_(free, free)])))
    return sd


__all__ = [
    "Calibration",
    "Gain",
    "Readings",
    "calibrate",
    "fitted",
    "log_words",
    "recalibrated",
    "scores",
]
