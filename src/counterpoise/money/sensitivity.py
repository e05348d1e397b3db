"""What a choice hinges on: the interval of each input on which an option stays the best.

Expected values are linear in each input (and in the chance of a suspect), so an option is best on
one interval of it, whose ends are exact crossings of two lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.money.amount import show_about

if TYPE_CHECKING:
    from counterpoise.money.option_model import Floats, Option, OptionCase, Unit, Unknown

# chances nearer to 0 or 1 than this are told to a tenth of a per cent
ROUND_PERCENT = 0.1
# standard deviations: a value so far off will not be met, so nobody needs to know of the flip
_FAR = 4.0
# minor units: two options worth the same now cannot take the place of each other
_TIE = 1.0


@dataclass(frozen=True, slots=True)
class Line:
    """Expected values (O,) of the options at ``now``, and slopes (O,) in one input."""

    id: str
    words: str
    unit: Unit
    now: float
    sd: float
    values: Floats
    slopes: Floats
    low: float
    high: float
    # its chance is the belief's own, so the sentence is worded otherwise
    suspect: bool = False


@dataclass(frozen=True, slots=True)
class Hinge:
    """An input that would flip the choice: at which value, to which option, how many sd away."""

    id: str
    words: str
    now: float
    flips_at: float
    to: str
    sds: float
    sentence: str


def expected(option: Option, belief: Floats) -> float:
    """Return the expected value of an option in minor units, risks included."""
    # linear: the mean over hypotheses of values with risks at their average
    return float(belief @ settled(option))


def settled(option: Option) -> Floats:
    """Value under each hypothesis (H,) with the risks at their average."""
    return option.values - sum(
        (risk.chance * risk.loss_minor for risk in option.risks), np.zeros_like(option.values)
    )


def lines(case: OptionCase) -> tuple[Line, ...]:
    """Every input along which the choice could flip: the unknowns, the risks, the suspects."""
    # all lines start from the same expected values; only their slopes differ
    values = np.array([expected(option, case.belief) for option in case.options])
    unknown = [_of_unknown(case, item, values) for item in case.unknowns]
    # two options may run the same risk: one line moves both
    risks = dict.fromkeys(risk.words for option in case.options for risk in option.risks)
    chances = [_of_risk(case, words, values) for words in risks]
    chances += [_of_suspect(case, words, values) for words in case.suspects]
    return (*unknown, *(line for line in chances if line is not None))


def _of_unknown(case: OptionCase, item: Unknown, values: Floats) -> Line:
    effects = [
        np.broadcast_to(item.effect.get(option.id, 0.0), case.belief.shape)
        for option in case.options
    ]
    # where the input can lie at all; a crossing outside is no crossing
    low, high = {
        "normal": (-math.inf, math.inf),
        "positive": (0.0, math.inf),
        "chance": (0.0, 1.0),
    }[item.law]
    # effects are linear, so the slope of the expected value is the expected effect
    slopes = np.array([float(case.belief @ effect) for effect in effects])
    return Line(item.id, item.words, item.unit, item.mean, item.sd, values, slopes, low, high)


def _of_risk(case: OptionCase, words: str, values: Floats) -> Line | None:
    """Scale the chance of a risk in all options; None where it is certain or impossible."""
    costs, chances, spread = np.zeros(values.size), [], 0.0
    for i, option in enumerate(case.options):
        for risk in option.risks:
            if risk.words == words:
                costs[i] -= float(case.belief @ (risk.chance * risk.loss_minor))
                chances.append(float(case.belief @ risk.chance))
                spread = max(spread, risk.spread)
    # a risk that is certain or impossible has nothing to vary
    if not 0.0 < chances[0] < 1.0:
        return None
    # per unit of the first option's chance: where several run it, they move in proportion
    slopes = costs / chances[0]
    return Line(
        words,
        f"the chance that {words}",
        "percent",
        chances[0],
        spread * chances[0],
        values,
        slopes,
        0.0,
        1.0,
    )


def _of_suspect(case: OptionCase, words: str, values: Floats) -> Line | None:
    """Vary the chance of a suspect, the rest in proportion; None where it is settled already."""
    mask = case.suspects[words]
    now = float(case.belief @ mask)
    # a settled suspect has no chance left to vary
    if not 0.0 < now < 1.0:
        return None
    table = np.array([settled(option) for option in case.options])
    # conditional values given the suspect, and given that it is not there: the belief is a mixture
    # of the two
    inside = table @ (case.belief * mask) / now
    outside = table @ (case.belief * ~mask) / (1.0 - now)
    # of a coin with this chance: learning of the suspect moves it by about so much
    sd = math.sqrt(now * (1.0 - now))
    return Line(words, words, "percent", now, sd, values, inside - outside, 0.0, 1.0, suspect=True)


def reign(line: Line, option: int, rivals: list[int]) -> tuple[float, float, int, int]:
    """Interval of the input on which an option is best, and who ends it: (low, high, below, above).

    An empty interval has low > high; an open end has its rival as -1.
    """
    low, high, below, above = line.low, line.high, -1, -1
    for rival in rivals:
        gap = float(line.values[option] - line.values[rival])
        slope = float(line.slopes[option] - line.slopes[rival])
        # parallel lines never cross: either it rules everywhere beside this rival, or nowhere
        if slope == 0.0:
            if gap < 0.0:
                return math.inf, -math.inf, rival, rival
            continue
        # where the two expected values are equal
        crossing = line.now - gap / slope
        # better towards larger inputs: this rival bounds it from below
        if slope > 0.0 and crossing > low:
            low, below = crossing, rival
        elif slope < 0.0 and crossing < high:
            high, above = crossing, rival
    return low, high, below, above


def hinges(case: OptionCase, option: int, best: int, most: int = 3) -> tuple[Hinge, ...]:
    """Find the inputs that would flip the choice, nearest first.

    For the best option: where it stops being best, and what takes over. For another: where it would
    become best.
    """
    open_ones = [i for i, item in enumerate(case.options) if item.available]
    worth = [expected(item, case.belief) for item in case.options]
    rivals = [i for i in open_ones if i != option and abs(worth[i] - worth[option]) > _TIE]
    crossings = [h for line in lines(case) for h in _ends(case, line, (option, best), rivals)]
    nearest: dict[str, Hinge] = {}
    for hinge in sorted(crossings, key=lambda h: (h.sds, h.id)):
        # an input may flip the choice at both ends; the nearer one is told
        nearest.setdefault(hinge.id, hinge)
    return tuple(nearest.values())[:most]


def _ends(case: OptionCase, line: Line, pair: tuple[int, int], rivals: list[int]) -> list[Hinge]:
    option, best = pair
    # what is known exactly cannot turn out otherwise
    if line.sd == 0.0:
        return []
    low, high, below, above = reign(line, option, rivals)
    # no value of this input makes it the best
    if low > high:
        return []
    if option == best:
        ends = [(low, below), (high, above)]
    else:
        ends = [(low, option)] * (line.now < low) + [(high, option)] * (line.now > high)
    return [
        _hinge(case, line, at, to)
        for at, to in ends
        if to >= 0 and line.low < at < line.high and abs(at - line.now) <= _FAR * line.sd
    ]


def _hinge(case: OptionCase, line: Line, at: float, to: int) -> Hinge:
    option = case.options[to]
    now, then = (_say(value, line.unit, case.currency) for value in (line.now, at))
    side = "above" if at > line.now else "below"
    subject = f"the chance of {line.words}" if line.suspect else line.words
    where = f"{side} {then} (now {now})"
    # "above 99 % (now 99 %)" says nothing: where it turns so near by, that is what is said
    if now == then:
        where = f"only a little {side} the {now} that it is now"
    sentence = f"If {subject} were {where}, the best would be: {option.title}."
    return Hinge(
        line.id, line.words, line.now, at, option.id, abs(at - line.now) / line.sd, sentence
    )


def _say(value: float, unit: Unit, currency: str) -> str:
    if unit == "money":
        return show_about(value, currency)
    # near 0 and 1 whole per cent would say nothing
    share = f"{value:.0%}" if ROUND_PERCENT <= value <= 1.0 - ROUND_PERCENT else f"{value:.1%}"
    return {"minutes": f"{value:.0f} min", "percent": share, "number": f"{value:.3g}"}[unit]
