"""Dampers: push and pull by a household scale, the set side by side, and the bounce of a pushed tub."""

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
    all_possible,
    possible,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

G = 9.80665  # standard gravity, m/s^2 (exact by convention)
# Vertical, front loader with two springs of 9000 N/m: derived from a published model (Sapre 2023).
TUB_STIFFNESS_N_PER_M = 17829.0


def newton(scale_kg: float) -> float:
    """Force (N) of a kitchen or luggage scale that shows kilograms."""
    return possible(scale_kg, SCALE_KG, "scale_kg") * G


@dataclass(frozen=True, slots=True)
class Stroke:
    """Forces (N) to push one damper slowly in and pull it out again; repeats as rows, one may be missing."""

    name: str
    in_n: tuple[float, ...] = ()
    out_n: tuple[float, ...] = ()
    sd_n: float = 4.0


@dataclass(frozen=True, slots=True)
class Damper:
    """One damper: its friction, how much harder it goes one way, and the chance that it is worn."""

    name: str
    friction: Quantity
    bias: Quantity | None
    chance_worn: float
    word: str


@dataclass(frozen=True, kw_only=True)
class DamperSet(Result):
    """The set: weakest and mean friction, and each damper."""

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


def damper_set(strokes: Sequence[Stroke], new_n: float = 80.0, new_sd_n: float = 15.0) -> DamperSet:
    """Friction of each damper and of the set against a new one.

    A new one has 80 N, sd 15, by default (estimate: machines have 50 to 120).
    Friction is the mean of in and out: the damper's own weight helps one way and hinders the other.
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
    dampers = tuple(_damper(stroke, new_n, new_sd_n) for stroke in strokes)
    weakest, strongest = (
        pick((d.friction for d in dampers), key=lambda q: q.value) for pick in (min, max)
    )
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


def _damper(stroke: Stroke, new_n: float, new_sd_n: float) -> Damper:
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
    both = math.hypot(*(way.sd for way in ways)) / len(ways)
    friction = Quantity.normal(sum(way.value for way in ways) / len(ways), both, "N")
    bias = Quantity.normal(ways[0].value - ways[1].value, 2 * both, "N") if len(ways) == 2 else None
    # Worn below 0.6 of new; the new force is itself known only to new_sd_n.
    doubt = math.hypot(friction.sd, 0.6 * new_sd_n)
    worn = (
        float(special.ndtr((0.6 * new_n - friction.value) / doubt))
        if doubt > 0
        else float(friction.value < 0.6 * new_n)
    )
    word = DamperSet.SCALES["weakest_of_new"].word(friction.scaled(1 / new_n, "of new"))
    return Damper(stroke.name, friction, bias, worn, word)


def _set_sentence(dampers: tuple[Damper, ...], new_n: float, *, replace: bool) -> str:
    each = "; ".join(
        f"{d.name} {d.friction} ({d.word}, worn with {100 * d.chance_worn:.0f} %)" for d in dampers
    )
    bad = [d.name for d in dampers if d.chance_worn > 0.5]
    if replace:
        names = " and ".join(bad)
        return f"{each}. Against {new_n:.0f} N for a sound one {names} failed: one bad, replace the set."
    return f"{each}. None is clearly below {new_n:.0f} N: keep the set."


@dataclass(frozen=True, kw_only=True)
class Bounce(Result):
    """Friction (N) of all dampers together from how a pushed tub comes to rest."""

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
    """Friction from a push (mm down from rest, then let go) and the number of whole bounces until it stands.

    Dry friction F on a spring k takes 2 F / k off every swing and holds the tub once the swing is below F /
    k (den Hartog, *Mechanical Vibrations*; Rao, *Mechanical Vibrations*, ch. 2). A count of n whole bounces
    means 2n or 2n + 1 swings, so F / (k push) lies between 1 / (4n + 3) and 1 / (4n - 1), or between 1/3
    and 1 for none; every force in between is taken as equally likely.
    """
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
    """Quantile of a uniform share times a normal push of mean 1."""
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
    """Friction from two amplitudes ``cycles`` apart: dry friction takes 4 F / k off each cycle."""
    possible(first_mm, AMPLITUDE_MM, "first_mm")
    possible(last_mm, AMPLITUDE_MM, "last_mm")
    _stiff(stiffness_n_per_m)
    if not (last_mm < first_mm and cycles > 0):
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
    if not 1e3 <= stiffness_n_per_m <= 1e5:
        raise ReadingError(
            f"a stiffness of {stiffness_n_per_m:g} N/m cannot be right",
            field="stiffness_n_per_m",
            remedy=f"a tub has 3000 to 40000 N/m: did you mean {stiffness_n_per_m * 1000:g} N/m (from N/mm)?",
        )


def _bounce(
    friction: Quantity, stiffness: float, seen: str, swings: Quantity | None = None
) -> Bounce:
    word = Bounce.SCALES["friction"].word(friction)
    advice = {
        "sound": "The set as a whole brakes well; one dead damper can hide in it, so push each if in doubt.",
        "weak": "The set is weak: push each damper by itself.",
        "dead": "Hardly anything brakes: is a damper worn out, or off? One bad, replace the set.",
    }[word]
    return Bounce(
        friction=friction,
        loss_per_bounce=friction.scaled(4000 / stiffness, "mm"),
        swings=swings,
        cautions=(UNPLUGGED, DRUM_STILL),
        sentence=f"{seen}: the dampers together hold {friction}. {advice}",
    )
