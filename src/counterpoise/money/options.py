"""The options side by side: expected value, 80 % range, how often best, what it hinges on.

The range is drawn: a hypothesis from the belief, each unknown from its law, each risk by a coin
with its chance; the same draw serves all options, so that they are compared in the same world.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.money.sensitivity import Hinge, expected, hinges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from counterpoise.money.option_model import Floats, Option, OptionCase, Unknown

# eight times in ten: the range a person can picture
LOW, HIGH = 0.10, 0.90


@dataclass(frozen=True, slots=True)
class OptionResult:
    """An option weighed. At least eight times in ten it lies from ``low_minor`` to ``high_minor``.

    ``chance_best``: share of the draws in which no open option did better; ``chance_loss``: share
    below zero. ``per_hour_minor`` is None where no bench time is left to spend.
    """

    id: str
    title: str
    value_minor: int
    low_minor: int
    high_minor: int
    chance_best: float
    chance_loss: float
    days: float
    per_hour_minor: int | None
    hinges: tuple[Hinge, ...]
    hinges_on: str
    best: bool
    # shown all the same: the customer asks why it is not among the ways
    available: bool


def compare(
    case: OptionCase, rng: np.random.Generator, advised: str = ""
) -> tuple[OptionResult, ...]:
    """All options, best first, those not open last.

    ``advised``: id of the option to be marked best, where that was chosen by more than its mean;
    without it, the one of the highest mean. Raises InputError on an impossible case (when it is
    made).
    """
    # drawn for the ranges alone; the order goes by exact expected values
    outcomes = draw(case, rng)
    values = [expected(option, case.belief) for option in case.options]
    # an option that is not open is shown, but can neither be best nor take the crown from another
    shut = np.array([not option.available for option in case.options])
    # of equal values the first named wins, so that the answer does not depend on luck
    best = int(np.argmax(np.where(shut, -np.inf, values)))
    # two marks on one page, "advised" here and "best" there, would be two voices
    best = next((i for i, option in enumerate(case.options) if option.id == advised), best)
    winner = np.argmax(np.where(shut[:, None], -np.inf, outcomes), axis=0)
    share = np.bincount(winner, minlength=len(values)) / outcomes.shape[1]
    results = [
        _result(case, (i, best), (values[i], float(share[i])), outcomes[i])
        for i in range(len(case.options))
    ]
    return tuple(sorted(results, key=lambda r: (not r.available, not r.best, -r.value_minor)))


def draw(case: OptionCase, rng: np.random.Generator) -> Floats:
    """Outcomes in minor units, (options, draws)."""
    n = case.draws
    # one drawn world serves all options, so their difference is not blurred by luck
    # divided once more: rng.choice is stricter about the sum than the belief is
    world = rng.choice(case.belief.size, size=n, p=case.belief / case.belief.sum())
    # deviations: the option's values hold at the mean
    off = [(item, _sample(item, n, rng) - item.mean) for item in case.unknowns]
    # one throw a world for the risks: an option's risks exclude each other
    luck = rng.random(n)
    return np.array([_outcome(option, world, off, luck) for option in case.options])


def _outcome(
    option: Option, world: NDArray[np.intp], off: list[tuple[Unknown, Floats]], luck: Floats
) -> Floats:
    total = option.values[world].astype(float)
    for item, deviation in off:
        effect = np.asarray(item.effect.get(option.id, 0.0), dtype=float)
        # an effect by hypothesis follows the drawn world
        total += deviation * (effect[world] if effect.ndim else effect)
    edge = np.zeros(luck.size)
    for risk in option.risks:  # side by side on one throw, so that they exclude each other
        loss = np.broadcast_to(risk.loss_minor, risk.chance.shape)[world]
        total -= loss * ((edge <= luck) & (luck < edge + risk.chance[world]))
        edge += risk.chance[world]
    return total


def _sample(item: Unknown, n: int, rng: np.random.Generator) -> Floats:
    mean, sd = item.mean, item.sd
    if sd == 0.0:
        return np.full(n, mean)
    # lognormal with the given mean and standard deviation, not those of its logarithm
    if item.law == "positive":
        spread = np.log1p((sd / mean) ** 2)
        return rng.lognormal(np.log(mean) - spread / 2.0, np.sqrt(spread), n)
    # beta law by its mean and variance (method of moments)
    if item.law == "chance":
        # the weight of the law in counts: alpha + beta
        size = mean * (1.0 - mean) / sd**2 - 1.0
        return rng.beta(mean * size, (1.0 - mean) * size, n)
    return rng.normal(mean, sd, n)


def _result(
    case: OptionCase, pair: tuple[int, int], figures: tuple[float, float], outcomes: Floats
) -> OptionResult:
    (index, best), (value, share) = pair, figures
    option = case.options[index]
    hinges_near = hinges(case, index, best) if option.available else ()
    low, high = np.quantile(outcomes, (LOW, HIGH))
    # a rare great loss can carry the mean out of the range: a range that leaves out its own value
    # is believed by nobody, so it is widened to it, and holds the more
    low, high = min(low, value), max(high, value)
    return OptionResult(
        option.id,
        option.title,
        round(value),
        round(float(low)),
        round(float(high)),
        chance_best=share,
        chance_loss=float(np.mean(outcomes < 0.0)),
        days=option.days,
        # no bench time: the rate of nothing says nothing
        per_hour_minor=round(value * 60.0 / option.minutes) if option.minutes > 0 else None,
        hinges=hinges_near,
        hinges_on=_words(option, hinges_near, index == best),
        best=index == best,
        available=option.available,
    )


def _words(option: Option, hinges_near: tuple[Hinge, ...], best: bool) -> str:
    if not option.available:
        return "Not open for this job."
    if hinges_near:
        return hinges_near[0].sentence
    if best:
        return "No single input, within what can be expected, would change this."
    return "No single input, within what can be expected, would make this the best."
