"""A measured number with its uncertainty, and what it says about ordered outcomes.

Noise here is stated, not guessed: the standard deviation (sd) of one reading comes with the
reading. Where repeats scatter far more than stated (chi-square beyond its 99 % point) the sd is
widened to the scatter, because then the statement was wrong.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy import optimize, special

from counterpoise.errors import InputError, ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from counterpoise.bench.cautions import Caution

# half-width of a central 90 % interval of the standard normal, in sd
Z90 = 1.6448536269514722
# Scatter beyond this share of chance says that the stated doubt was wrong.
WRONG_DOUBT = 0.01


def soft_outcomes(
    value: float, sd: float, edges: Sequence[float], *, falling: bool = False
) -> tuple[float, ...]:
    """Chance that the true value lies in each of the ordered bins, for a normal error of ``sd``.

    Gives ``len(edges) + 1`` weights that sum to 1, in rising order of the bins, or the other way
    round where ``falling`` says that the highest bin is the mildest outcome. Bins are closed below:
    a value on an edge belongs to the upper one. ``value``, ``sd`` and ``edges`` share one unit.
    Raises InputError for edges that do not rise or an sd that is negative.
    """
    if not (math.isfinite(value) and math.isfinite(sd) and sd >= 0):
        raise InputError(
            f"{value} with sd {sd} is no measured value", field="sd", remedy="give a finite sd >= 0"
        )
    rising = all(low < high for low, high in itertools.pairwise(edges))
    if not rising or not all(math.isfinite(edge) for edge in edges):
        raise InputError(
            "bin edges must rise", field="edges", remedy="list them from small to large, each once"
        )
    # a count of swings falls as a damper wears: there the last bin is the mildest
    weights = _bins(value, sd, edges)
    return weights[::-1] if falling else weights


def _bins(value: float, sd: float, edges: Sequence[float]) -> tuple[float, ...]:
    # an exact value lies in one bin; the division below would be by nothing
    if sd == 0:
        place = sum(edge <= value for edge in edges)
        return tuple(float(k == place) for k in range(len(edges) + 1))
    ends = [-math.inf, *((edge - value) / sd for edge in edges), math.inf]
    return tuple(_between(low, high) for low, high in itertools.pairwise(ends))


def _between(low: float, high: float) -> float:
    """Chance of the standard normal between two ends; both tails keep their small digits."""
    if low > 0:
        return float(special.ndtr(-low) - special.ndtr(-high))
    return float(special.ndtr(high) - special.ndtr(low))


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its sd and its central 90 % interval, all in ``unit``."""

    value: float
    sd: float
    unit: str
    # of the central 90 % interval; not always value +- 1.645 sd, as no length is below nothing
    low: float
    high: float

    def __post_init__(self) -> None:
        """Raises ReadingError for what no measurement can be."""
        if not (math.isfinite(self.value) and math.isfinite(self.sd) and self.sd >= 0):
            raise ReadingError(
                f"{self.value:g} {self.unit} with a doubt of {self.sd:g} is no measured value",
                field="sd",
                remedy="give the doubt of a reading as a number that is not negative",
            )

    @classmethod
    def normal(cls, value: float, sd: float, unit: str) -> Quantity:
        """Make a quantity with a normal error of ``sd``, both in ``unit``."""
        return cls(value, sd, unit, value - Z90 * sd, value + Z90 * sd)

    def __str__(self) -> str:
        """Write the value and its interval, as ``3.2 mm (2.8 to 3.6)``."""
        places = decimals(max(self.sd, 1e-9), self.value)
        return (
            f"{self.value:.{places}f} {self.unit} ({self.low:.{places}f} to {self.high:.{places}f})"
        )

    def scaled(self, factor: float, unit: str) -> Quantity:
        """Return the same quantity in another unit: value, sd and interval times ``factor``."""
        # a factor below zero swaps the ends
        ends = sorted((self.low * factor, self.high * factor))
        return Quantity(self.value * factor, self.sd * abs(factor), unit, ends[0], ends[1])

    def outcome_weights(
        self, edges: Sequence[float], sd: float | None = None, *, falling: bool = False
    ) -> tuple[float, ...]:
        """Soft weights over the bins between ``edges``, with an ``sd`` of one's own if wanted."""
        return soft_outcomes(self.value, self.sd if sd is None else sd, edges, falling=falling)


def decimals(sd: float, value: float) -> int:
    """Return how many decimals a value deserves: one digit of its sd, 0 to 4."""
    # a sure value still shows no more than it can be read to: three parts in a thousand
    scale = max(sd, abs(value) * 3e-3, 1e-4)
    return int(min(4, max(0, math.ceil(-math.log10(scale)))))


def average(readings: Sequence[float], sd: float, unit: str) -> Quantity:
    """Mean of repeated readings with a stated ``sd`` each; widened when they scatter far more."""
    values = np.asarray(readings, dtype=float)
    mean = float(values.mean())
    widened = sd * widening(float(((values - mean) ** 2).sum()), values.size - 1, sd)
    return Quantity.normal(mean, widened / math.sqrt(values.size), unit)


def widening(sum_of_squares: float, freedom: int, sd: float) -> float:
    """Factor by which a stated sd must grow to explain residuals; 1 below their 99 % point.

    Raises ReadingError for an sd so small that its square vanishes.
    """
    # one reading cannot scatter, and an exact one must not
    if freedom < 1 or sd <= 0:
        return 1.0
    if sd**2 == 0 or not math.isfinite(sum_of_squares / sd**2):
        raise ReadingError(
            f"a doubt of {sd:g} is next to nothing",
            field="sd",
            remedy="give how far off one reading may be",
        )
    chi_square = sum_of_squares / sd**2
    wrong = special.chdtrc(freedom, chi_square) < WRONG_DOUBT
    return math.sqrt(chi_square / freedom) if wrong else 1.0


def magnitude(length: float, sd: float, unit: str, dimensions: int = 2) -> Quantity:
    """Length of a measured vector whose components carry independent normal errors of ``sd`` each.

    Noise makes a short vector look longer. The interval inverts the non-central chi distribution
    (Rice's for two dimensions), so that it holds the truth in 90 % of cases however short the true
    vector; the value is freed of the mean excess. Method: Rice 1945 and the Neyman construction,
    standard statistics.
    """
    if sd <= 0:
        return Quantity(length, 0.0, unit, length, length)
    # the ends are the true lengths for which what was measured would be just at the edge
    low, high = (_length_at(length / sd, dimensions, chance) * sd for chance in (0.95, 0.05))
    # what noise adds to the square of a length on average, taken off again
    value = math.sqrt(max(0.0, length**2 - (dimensions - 1) * sd**2))
    # An upper end below one sd would claim more than the noise allows; this only ever widens.
    high = max(high, sd, value)
    return Quantity(value, sd, unit, min(low, value), high)


def _length_at(measured: float, dimensions: int, chance: float) -> float:
    """True length (in sd) that gives less than ``measured`` with this chance; 0 where none does."""
    # Far from zero the distribution is normal to five digits, and the exact one runs out of range.
    if measured > 30:
        return measured + float(special.ndtri(1 - chance))

    def excess(true: float) -> float:
        return float(special.chndtr(measured**2, dimensions, true**2)) - chance

    # even no length at all would give less than this too rarely
    if excess(0.0) <= 0:
        return 0.0
    return float(optimize.brentq(excess, 0.0, measured + 10.0, xtol=1e-9))


@dataclass(frozen=True, slots=True)
class Scale:
    """Ordered outcomes of a measure: bin edges in its unit, a word a bin, source of both."""

    edges: tuple[float, ...]
    words: tuple[str, ...]
    source: str

    def weights(self, quantity: Quantity) -> dict[str, float]:
        """Return the chance of each word, 0 to 1, mildest first."""
        return dict(zip(self.words, quantity.outcome_weights(self.edges), strict=True))

    def word(self, quantity: Quantity) -> str:
        """Return the likeliest word."""
        weights = self.weights(quantity)
        return max(weights, key=lambda word: weights[word])

    def at_least(self, quantity: Quantity, word: str) -> float:
        """Return the chance of this word or a later one, 0 to 1."""
        return sum(quantity.outcome_weights(self.edges)[self.words.index(word) :])


@dataclass(frozen=True, kw_only=True)
class Result:
    """What every measurement gives back; a subclass adds its quantities, the leading one first."""

    # bins of the bench itself, by measure; checks of the catalog bring edges of their own
    SCALES: ClassVar[Mapping[str, Scale]] = {}

    sentence: str
    # shown before anything else
    cautions: tuple[Caution, ...] = ()

    @property
    def measures(self) -> dict[str, Quantity]:
        """Measured quantities by field name, the leading one first; empty for none."""
        names = [field.name for field in dataclasses.fields(self)]
        return {name: value for name in names if isinstance(value := getattr(self, name), Quantity)}

    def outcome_weights(
        self,
        edges: Sequence[float],
        sd: float | None = None,
        *,
        measure: str = "",
        falling: bool = False,
    ) -> tuple[float, ...]:
        """Soft weights of one measure (by default the leading one) over the bins between ``edges``.

        Raises InputError for a measure that was not taken.
        """
        measures = self.measures
        if not measures or (measure and measure not in measures):
            known = ", ".join(measures) or "none"
            raise InputError(
                f"no measure {measure!r} here", field="measure", remedy=f"measured: {known}"
            )
        quantity = measures[measure or next(iter(measures))]
        return quantity.outcome_weights(edges, sd, falling=falling)

    def grades(self) -> dict[str, dict[str, float]]:
        """Chance (0 to 1) of each word of the bench's own scales, by measure that has one."""
        measures = self.measures
        return {
            name: scale.weights(measures[name])
            for name, scale in self.SCALES.items()
            if name in measures
        }

    def to_dict(self) -> dict[str, object]:
        """Return everything as plain numbers, texts, lists and mappings, and ``grades`` beside."""
        # the field names are the keys of the JSON that commands and pages have promised
        return {**dataclasses.asdict(self), "grades": self.grades()}
