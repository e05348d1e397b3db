"""Springs as a pair, and counterweights: mass, bolts, dust."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from counterpoise.bench.cautions import BLOCK_TUB, DUST, HEAVY, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, average
from counterpoise.bench.readings import (
    LENGTH_MM,
    NOMINAL_KG,
    SAG_MM,
    WEIGHT_KG,
    all_possible,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# What is looked for, mildest first.
HOOKS = ("sound", "worn", "cracked", "off")
DUST_SEEN = ("none", "some", "heap")
# one of two springs: published model (Sapre 2023)
SPRING_N_PER_M = 9000.0
# oscillating mass of a 9-kg front loader: same source
TUB_KG = 60.0


@dataclass(frozen=True, slots=True)
class SpringPair:
    """Hanging lengths (mm, hook to hook, repeats as rows) of both springs, hooks, a free length.

    ``free_mm`` and ``new_free_mm``: unloaded length now and of a new one. ``sag_mm``: how far the
    middle of the empty drum hangs below the middle of the door ring, repeats as rows.
    """

    left_mm: tuple[float, ...]
    right_mm: tuple[float, ...]
    # a ruler between two hooks (estimate)
    sd_mm: float = 1.0
    hooks: tuple[str, str] = ("sound", "sound")
    free_mm: float | None = None
    new_free_mm: float | None = None
    sag_mm: tuple[float, ...] = ()
    stiffness_n_per_m: float = SPRING_N_PER_M


@dataclass(frozen=True, kw_only=True)
class Springs(Result):
    """The pair. ``difference``: left less right in mm, positive when the left side hangs lower."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "unlike": Scale((4.0, 12.0), ("a pair", "unlike", "one is gone"), "estimate"),
        "set_length": Scale(
            (3.0, 8.0), ("not stretched", "stretched", "stretched badly"), "estimate"
        ),
        "sag": Scale((6.0, 15.0), ("sits right", "sags", "hangs low"), "estimate"),
    }

    # size of the difference, whichever side hangs lower
    unlike: Quantity
    difference: Quantity
    # that the two springs pull unlike, N
    force_difference: Quantity
    # by how much it has stretched for good, which only a spring that is off can show
    set_length: Quantity | None
    sag: Quantity | None
    # one bad means both
    replace_pair: bool


def springs(pair: SpringPair) -> Springs:
    """Compare the two springs (mm, N); one bad means both.

    A new one beside an old one hangs the tub askew. Raises ReadingError for what no spring can be.
    """
    possible_sd(pair.sd_mm, LENGTH_MM, "sd_mm")
    for hook in pair.hooks:
        if hook not in HOOKS:
            raise ReadingError(
                f"no hook is called {hook!r}", field="hooks", remedy=f"one of: {', '.join(HOOKS)}"
            )
    left, right = (
        average(all_possible(lengths, LENGTH_MM, field), pair.sd_mm, "mm")
        for lengths, field in ((pair.left_mm, "left_mm"), (pair.right_mm, "right_mm"))
    )
    difference = Quantity.normal(left.value - right.value, math.hypot(left.sd, right.sd), "mm")
    unlike = _absolute(difference)
    stretched = _set_length(pair)
    sag = (
        average(all_possible(pair.sag_mm, SAG_MM, "sag_mm"), pair.sd_mm, "mm")
        if pair.sag_mm
        else None
    )
    # each sign by the word of its own scale from which on it counts
    bad = (
        ("unlike", unlike, "unlike"),
        ("set_length", stretched, "stretched"),
        ("sag", sag, "sags"),
    )
    replace = any(hook != "sound" for hook in pair.hooks) or any(
        measure is not None and Springs.SCALES[name].at_least(measure, word) > 0.5
        for name, measure, word in bad
    )
    return Springs(
        unlike=unlike,
        difference=difference,
        force_difference=difference.scaled(pair.stiffness_n_per_m / 1000, "N"),
        set_length=stretched,
        sag=sag,
        replace_pair=replace,
        sentence=_springs_sentence(pair, difference, sag, replace=replace),
        cautions=(UNPLUGGED, BLOCK_TUB),
    )


def _absolute(signed: Quantity) -> Quantity:
    """Size of a signed quantity, with the interval folded at zero."""
    # an interval over zero folds into one from nothing to the larger end
    ends = sorted((abs(signed.low), abs(signed.high)))
    low = 0.0 if signed.low <= 0 <= signed.high else ends[0]
    return Quantity(abs(signed.value), signed.sd, signed.unit, low, ends[1])


def _set_length(pair: SpringPair) -> Quantity | None:
    # a length alone says nothing: springs of one machine differ by make
    if pair.free_mm is None or pair.new_free_mm is None:
        return None
    possible(pair.free_mm, LENGTH_MM, "free_mm")
    possible(pair.new_free_mm, LENGTH_MM, "new_free_mm")
    return Quantity.normal(pair.free_mm - pair.new_free_mm, pair.sd_mm, "mm")


def _springs_sentence(
    pair: SpringPair, difference: Quantity, sag: Quantity | None, *, replace: bool
) -> str:
    # the longer one is the weaker one, as a rule
    side = "left" if difference.value >= 0 else "right"
    faults = [
        f"the {name} hook is {hook}"
        for name, hook in zip(("left", "right"), pair.hooks, strict=True)
        if hook != "sound"
    ]
    hooks = "; ".join(faults) if faults else "both hooks are sound"
    advice = "Replace both springs, never one." if replace else "They make a pair: leave them."
    low = (
        ""
        if sag is None
        else f" the drum hangs {sag} below the door ring ({Springs.SCALES['sag'].word(sag)});"
    )
    return f"The {side} spring hangs longer by {_absolute(difference)};{low} {hooks}. {advice}"


@dataclass(frozen=True, slots=True)
class WeightReading:
    """One counterweight: kg on the scale (None if still on), stamped or usual kg, bolts, dust."""

    mass_kg: float | None = None
    nominal_kg: float | None = None
    # a bathroom scale (estimate)
    sd_kg: float = 0.1
    loose_bolts: int = 0
    bolts: int = 2
    # grey dust below is concrete that rubs
    dust: str = "none"
    tub_kg: float = TUB_KG


@dataclass(frozen=True, kw_only=True)
class Counterweight(Result):
    """What is missing (kg) and what that does, as ratios: resonances rise, the swing grows."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "missing": Scale((0.5, 3.0), ("whole", "chipped", "broken"), "estimate"),
    }

    # None where it was not weighed
    missing: Quantity | None
    # over the whole machine's: above 1 where mass is gone
    frequency_factor: float
    swing_factor: float
    loose: bool
    replace: bool


def counterweight(reading: WeightReading) -> Counterweight:
    """Judge one counterweight; a mass needs its nominal.

    Natural frequencies go with 1/sqrt(swinging mass), the swing at full spin with 1/mass (both
    ratios are derived). Raises ReadingError for what no weight can be.
    """
    if reading.dust not in DUST_SEEN:
        raise ReadingError(
            f"dust cannot be {reading.dust!r}",
            field="dust",
            remedy=f"one of: {', '.join(DUST_SEEN)}",
        )
    if not 0 <= reading.loose_bolts <= reading.bolts:
        raise ReadingError(
            f"{reading.loose_bolts} of {reading.bolts} bolts loose",
            field="loose_bolts",
            remedy="count the bolts of this weight again",
        )
    missing = _missing(reading)
    # heavier than stamped is a slip of the scale, not a heavier tub
    lost = max(0.0, missing.value) if missing else 0.0
    # what still swings
    left = reading.tub_kg - lost
    if left <= 0:
        raise ReadingError(
            "more is missing than swings",
            field="tub_kg",
            remedy="give the mass of tub, drum and weights in kg",
        )
    broken = (
        missing is not None and Counterweight.SCALES["missing"].at_least(missing, "chipped") > 0.5
    )
    # a heap of dust below is a weight that has come apart, whatever the scale says
    replace = broken or reading.dust == "heap"
    return Counterweight(
        missing=missing,
        frequency_factor=math.sqrt(reading.tub_kg / left),
        swing_factor=reading.tub_kg / left,
        loose=reading.loose_bolts > 0,
        replace=replace,
        sentence=_weight_sentence(reading, missing, replace=replace),
        cautions=(UNPLUGGED, HEAVY, DUST)
        if reading.dust != "none" or broken
        else (UNPLUGGED, HEAVY),
    )


def _missing(reading: WeightReading) -> Quantity | None:
    # a nominal mass that cannot be is a slip even where nothing was weighed
    if reading.nominal_kg is not None:
        possible(reading.nominal_kg, NOMINAL_KG, "nominal_kg")
    if reading.mass_kg is None:
        return None
    if reading.nominal_kg is None:
        raise ReadingError(
            "a mass, but not what it should be",
            field="nominal_kg",
            remedy="give the stamped mass in kg, or that of the same part",
        )
    possible(reading.mass_kg, WEIGHT_KG, "mass_kg")
    possible_sd(reading.sd_kg, WEIGHT_KG, "sd_kg")
    return Quantity.normal(reading.nominal_kg - reading.mass_kg, reading.sd_kg, "kg")


def _weight_sentence(reading: WeightReading, missing: Quantity | None, *, replace: bool) -> str:
    mass = (
        "The weight was not put on a scale" if missing is None else f"{missing} of it are missing"
    )
    bolts = (
        f"{reading.loose_bolts} of {reading.bolts} bolts are loose"
        if reading.loose_bolts
        else "no bolt is loose"
    )
    advice = []
    if replace:
        advice.append("Replace it.")
    if reading.loose_bolts:
        advice.append(
            "Look for a crack round the holes, then tighten all its bolts: a loose weight knocks "
            "and breaks."
        )
    if reading.dust == "some" and not replace:
        advice.append("Some dust: look for where it rubs.")
    return f"{mass}; {bolts}; dust: {reading.dust}. " + (" ".join(advice) or "Nothing to do.")
