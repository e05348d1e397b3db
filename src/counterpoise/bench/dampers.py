"""Dampers: push and pull by a household scale, the set side by side, the bounce of a pushed tub."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy import optimize, special

from counterpoise.bench.cautions import BLOCK_TUB, DRUM_STILL, SHARP, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, average
from counterpoise.bench.readings import (
    AMPLITUDE_MM,
    BOUNCES,
    FORCE_N,
    SCALE_KG,
    STIFFNESS_N_PER_M,
    all_possible,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# standard gravity, m/s^2 (exact by convention)
G = 9.80665
# Vertical, front loader with two springs of 9000 N/m: derived from a published model (Sapre 2023).
TUB_STIFFNESS_N_PER_M = 17829.0
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
    sd_n: float = 4.0


@dataclass(frozen=True, slots=True)
class Damper:
    """One damper: friction in N, how much harder it goes one way, chance that it is worn."""

    name: str
    friction: Quantity
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

    weakest_of_new: Quantity
    weakest: Quantity
    mean: Quantity
    spread: Quantity
    dampers: tuple[Damper, ...]
    new_n: float
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


@dataclass(frozen=True, kw_only=True)
class Bounce(Result):
    """Friction (N) of all dampers together, as a pushed tub comes to rest; loss in mm a bounce."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "friction": Scale(
            (40.0, 100.0),
            ("dead", "weak", "sound"),
            "estimate: two to four dampers of 50 to 120 N at an angle",
        )
    }

    friction: Quantity
    loss_per_bounce: Quantity
    swings: Quantity | None


def bounce(
    push_mm: float,
    bounces: int,
    *,
    push_sd_mm: float = 3.0,
    stiffness_n_per_m: float = TUB_STIFFNESS_N_PER_M,
) -> Bounce:
    """Friction (N) from a push (mm down from rest, let go) and the whole bounces until it stands.

    Dry friction F on a spring k takes 2 F / k off every swing and holds the tub once the swing is
    below F / k (den Hartog, *Mechanical Vibrations*; Rao, *Mechanical Vibrations*, ch. 2). A count
    of n whole bounces means 2n or 2n + 1 swings, so F / (k push) lies between 1 / (4n + 3) and 1 /
    (4n - 1), or between 1/3 and 1 for none; every force in between is taken as equally likely.
    Raises ReadingError for a push, count or stiffness that cannot be.
    """
    possible_sd(push_sd_mm, AMPLITUDE_MM, "push_sd_mm")
    possible(push_mm, AMPLITUDE_MM, "push_mm")
    possible(bounces, BOUNCES, "bounces")
    _stiff(stiffness_n_per_m)
    low, high = (1 / (4 * bounces + 3), 1 / (4 * bounces - 1)) if bounces else (1 / 3, 1.0)
    full = stiffness_n_per_m * push_mm / 1000
    relative = push_sd_mm / push_mm
    middle, spread = (low + high) / 2, (high - low) / math.sqrt(12)
    sd = full * math.sqrt(spread**2 + relative**2 * (middle**2 + spread**2))
    ends = [full * _share_quantile(chance, low, high, relative) for chance in (0.05, 0.95)]
    friction = Quantity(full * middle, sd, "N", ends[0], ends[1])
    counted = f"{bounces} bounce{'' if bounces == 1 else 's'} after a push of {push_mm:.0f} mm"
    # Whether the last small swing counts differs from hand to hand.
    return _bounce(friction, stiffness_n_per_m, counted, Quantity.normal(bounces, 0.5, "swings"))


def _share_quantile(chance: float, low: float, high: float, relative: float) -> float:
    """Quantile of a uniform share times a normal push of mean 1; ``relative`` is its sd."""
    # the mean over 200 shares is the convolution, good to four digits
    shares = low + (high - low) * (np.arange(200) + 0.5) / 200
    if relative <= 0:
        return low + chance * (high - low)

    def excess(limit: float) -> float:
        return float(special.ndtr((limit / shares - 1) / relative).mean()) - chance

    return float(optimize.brentq(excess, -10 * high, high * (1 + 12 * relative)))


def bounce_decay(
    first_mm: float,
    last_mm: float,
    cycles: float,
    *,
    sd_mm: float = 1.0,
    stiffness_n_per_m: float = TUB_STIFFNESS_N_PER_M,
) -> Bounce:
    """Friction (N) from two amplitudes (mm) so many cycles apart: 4 F / k goes off each cycle.

    Raises ReadingError for a swing that did not get smaller.
    """
    possible_sd(sd_mm, AMPLITUDE_MM, "sd_mm")
    possible(first_mm, AMPLITUDE_MM, "first_mm")
    possible(last_mm, AMPLITUDE_MM, "last_mm")
    _stiff(stiffness_n_per_m)
    if not (last_mm < first_mm and 0 < cycles <= BOUNCES.high):
        raise ReadingError(
            "the swing did not get smaller",
            field="last_mm",
            remedy="give the first swing, a later smaller one, and the bounces between",
        )
    per_mm = stiffness_n_per_m / 4000 / cycles
    friction = Quantity.normal((first_mm - last_mm) * per_mm, math.sqrt(2) * sd_mm * per_mm, "N")
    return _bounce(
        friction,
        stiffness_n_per_m,
        f"{first_mm:.0f} mm down to {last_mm:.0f} mm in {cycles:g} bounces",
    )


def _stiff(stiffness_n_per_m: float) -> None:
    # N/mm for N/m is the usual slip; where that does not make sense of it either, none is offered
    from_mm = stiffness_n_per_m * 1000
    if not STIFFNESS_N_PER_M.low <= stiffness_n_per_m <= STIFFNESS_N_PER_M.high:
        slip = STIFFNESS_N_PER_M.low <= from_mm <= STIFFNESS_N_PER_M.high
        meant = f": did you mean {from_mm:g} N/m (from N/mm)?" if slip else ", all springs together"
        raise ReadingError(
            f"a stiffness of {stiffness_n_per_m:g} N/m cannot be right",
            field="stiffness_n_per_m",
            remedy=f"a tub has 3000 to 40000 N/m{meant}",
            meant=from_mm if slip else None,
        )


def _bounce(
    friction: Quantity, stiffness: float, observed: str, swings: Quantity | None = None
) -> Bounce:
    word = Bounce.SCALES["friction"].word(friction)
    advice = {
        "sound": "The set as a whole brakes well; one dead damper can hide in it, so push each if "
        "in doubt.",
        "weak": "The set is weak: push each damper by itself.",
        "dead": "Hardly anything brakes: is a damper worn out, or off? One bad, replace the set.",
    }[word]
    return Bounce(
        friction=friction,
        loss_per_bounce=friction.scaled(4000 / stiffness, "mm"),
        swings=swings,
        cautions=(UNPLUGGED, DRUM_STILL),
        sentence=f"{observed}: the dampers together hold {friction}. {advice}",
    )
