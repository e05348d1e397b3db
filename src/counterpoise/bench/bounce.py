"""The bounce of a pushed tub: what all dampers together hold, from how it comes to rest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy import optimize, special

from counterpoise.bench.cautions import DRUM_STILL, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale
from counterpoise.bench.readings import (
    AMPLITUDE_MM,
    BOUNCES,
    STIFFNESS_N_PER_M,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# Vertical, front loader with two springs of 9000 N/m: derived from a published model (Sapre 2023).
TUB_STIFFNESS_N_PER_M = 17829.0


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
    # counted, where bounces were counted: what the check of the catalog asks for
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
    # not a single bounce: it stuck on the way up, or only just came back
    low, high = (1 / (4 * bounces + 3), 1 / (4 * bounces - 1)) if bounces else (1 / 3, 1.0)
    full = stiffness_n_per_m * push_mm / 1000
    relative = push_sd_mm / push_mm
    # the deviation of an even spread is its width over the root of twelve
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
    # 4 F / k a cycle, in mm
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
    # the sum hides one dead damper among good ones, so no word here speaks of a single one
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
