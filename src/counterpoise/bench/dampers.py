"""Dampers: push and pull by a household scale, the set side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy import special

from counterpoise.bench.cautions import BLOCK_TUB, SHARP, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, average
from counterpoise.bench.readings import (
    FORCE_N,
    SCALE_KG,
    all_possible,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# standard gravity, m/s^2 (exact by convention)
G = 9.80665
# Share of a new one's friction below which a damper counts as worn (estimate).
WORN_SHARE = 0.6


def scale_newton(scale_kg: float) -> float:
    """Force (N) of a kitchen or luggage scale that shows kilograms.

    Raises ReadingError for what no such scale shows.
    """
    return possible(scale_kg, SCALE_KG, "scale_kg") * G


@dataclass(frozen=True, slots=True)
class DamperForces:
    """Forces (N) to push a damper slowly in and pull it out; repeats as rows, one may be empty."""

    name: str
    in_n: tuple[float, ...] = ()
    out_n: tuple[float, ...] = ()
    # a scale that is pushed by hand swings by about this much (estimate)
    sd_n: float = 4.0


@dataclass(frozen=True, slots=True)
class Damper:
    """One damper: friction in N, how much harder it goes one way, chance that it is worn."""

    name: str
    friction: Quantity
    # None where it was only pushed or only pulled
    bias: Quantity | None
    chance_worn: float
    word: str


@dataclass(frozen=True, kw_only=True)
class DamperSet(Result):
    """The set: weakest and mean friction in N, and each damper."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "weakest_of_new": Scale(
            (0.2, 0.6),
            ("dead", "worn", "sound"),
            "estimate; common practice: a sound one is very hard to push in by hand",
        ),
    }

    # the weakest as a share of a new one: what the words are about
    weakest_of_new: Quantity
    weakest: Quantity
    mean: Quantity
    # strongest less weakest: large where one is an odd one
    spread: Quantity
    dampers: tuple[Damper, ...]
    new_n: float
    # one bad means all: an odd one twists the tub
    replace_set: bool


def damper_set(
    strokes: Sequence[DamperForces], new_n: float = 80.0, new_sd_n: float = 15.0
) -> DamperSet:
    """Friction of each damper and of the set against a new one, N.

    A new one has 80 N, sd 15, by default (estimate: machines have 50 to 120). Friction is the mean
    of in and out: the damper's own weight helps one way and hinders the other. Raises ReadingError
    for forces that cannot be, and for a pull without doubt.
    """
    if not strokes:
        raise ReadingError(
            "no damper was measured", field="strokes", remedy="push in at least one damper"
        )
    possible(new_n, FORCE_N, "new_n")
    if not new_n > 0:
        raise ReadingError(
            "a new damper without friction",
            field="new_n",
            remedy="give the force of a sound one in N",
        )
    possible_sd(new_sd_n, FORCE_N, "new_sd_n")
    dampers = tuple(_damper(stroke, new_n, new_sd_n) for stroke in strokes)
    weakest, strongest = (
        pick((d.friction for d in dampers), key=lambda q: q.value) for pick in (min, max)
    )
    # d(w / n) = dw / n - w dn / n^2: the doubt of a new one counts with the share
    share = weakest.value / new_n
    of_new = Quantity.normal(share, math.hypot(weakest.sd, share * new_sd_n) / new_n, "of new")
    forces = [d.friction for d in dampers]
    mean_sd = math.sqrt(sum(force.sd**2 for force in forces)) / len(forces)
    # rather worn than not: a set is cheap beside a drum that strikes
    replace = any(damper.chance_worn > 0.5 for damper in dampers)
    return DamperSet(
        weakest_of_new=of_new,
        weakest=weakest,
        mean=Quantity.normal(float(np.mean([f.value for f in forces])), mean_sd, "N"),
        spread=Quantity.normal(
            strongest.value - weakest.value, math.hypot(strongest.sd, weakest.sd), "N"
        ),
        dampers=dampers,
        new_n=new_n,
        replace_set=replace,
        sentence=_set_sentence(dampers, new_n, replace=replace),
        cautions=(UNPLUGGED, BLOCK_TUB, SHARP),
    )


def _damper(stroke: DamperForces, new_n: float, new_sd_n: float) -> Damper:
    # Without doubt 49 N against a limit of 48 would be sound for certain.
    if not possible_sd(stroke.sd_n, FORCE_N, "sd_n") > 0:
        raise ReadingError(
            f"pulls of damper {stroke.name!r} without doubt",
            field="sd_n",
            remedy="give how well you can read the scale, e.g. 4 N",
        )
    ways = [
        average(all_possible(forces, FORCE_N, field), stroke.sd_n, "N")
        for forces, field in ((stroke.in_n, "in_n"), (stroke.out_n, "out_n"))
        if forces
    ]
    if not ways:
        raise ReadingError(
            f"no force for damper {stroke.name!r}",
            field="in_n",
            remedy="push it in, or pull it out, over a scale",
        )
    # in and out are read apart, so their errors are independent
    both = math.hypot(*(way.sd for way in ways)) / len(ways)
    friction = Quantity.normal(sum(way.value for way in ways) / len(ways), both, "N")
    bias = Quantity.normal(ways[0].value - ways[1].value, 2 * both, "N") if len(ways) == 2 else None
    # The new force is itself known only to new_sd_n.
    doubt = math.hypot(friction.sd, WORN_SHARE * new_sd_n)
    worn = float(special.ndtr((WORN_SHARE * new_n - friction.value) / doubt))
    word = DamperSet.SCALES["weakest_of_new"].word(friction.scaled(1 / new_n, "of new"))
    return Damper(stroke.name, friction, bias, worn, word)


def _set_sentence(dampers: tuple[Damper, ...], new_n: float, *, replace: bool) -> str:
    each = "; ".join(
        f"{d.name} {d.friction} ({d.word}, worn with {100 * d.chance_worn:.0f} %)" for d in dampers
    )
    bad = [d.name for d in dampers if d.chance_worn > 0.5]
    if replace:
        names = " and ".join(bad)
        return (
            f"{each}. Against {new_n:.0f} N for a sound one {names} failed: one bad, "
            "replace the set."
        )
    return f"{each}. None is clearly below {new_n:.0f} N: keep the set."
