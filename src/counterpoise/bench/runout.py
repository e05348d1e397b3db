"""Gap readings round the rim: eccentricity, ovality, tilt, and what they say of the parts.

Two ways to read, which answer two questions:

- ``turned``: the feeler stays at one place of the tub and the drum is turned under it. What changes
  is the drum's own runout: support or drum.
- ``walked``: the drum stays and the feeler goes round the tub. What changes is where the drum sits
  in the tub: bearing, or a tub that is off.

Places count in equal steps from twelve o'clock, clockwise as seen from the front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from counterpoise.bench.cautions import DRUM_STILL, SHARP, UNPLUGGED
from counterpoise.bench.harmonics import RimFit, amplitude, fit_rim
from counterpoise.bench.quantity import Quantity, Result, Scale
from counterpoise.bench.readings import GAP_MM, possible, possible_sd
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

# Which of the two moves, drum or feeler; see above.
WAYS = ("turned", "walked")
# Where the words part; the geometry itself needs no source.
_SOURCE = "estimate of this workshop's defaults; from memory"


@dataclass(frozen=True, slots=True)
class Rim:
    """Gap readings (mm, None where missing) at equal steps round one depth, 4 to 24 places."""

    gaps_mm: tuple[float | None, ...]
    # a feeler in a gap that is not quite even (estimate)
    sd_mm: float = 0.3

    def known(self) -> tuple[Array, Array]:
        """Angles (n,) in rad and gaps (n,) in mm of the readings that are there.

        Raises ReadingError for too few of them, and for what no gap or doubt can be.
        """
        if not 4 <= len(self.gaps_mm) <= 24:
            raise ReadingError(
                f"{len(self.gaps_mm)} places round the rim",
                field="gaps_mm",
                remedy="use 4 to 24 places",
            )
        possible_sd(self.sd_mm, GAP_MM, "sd_mm")
        places = [k for k, gap in enumerate(self.gaps_mm) if gap is not None]
        gaps = [
            possible(gap, GAP_MM, f"gaps_mm[{k}]")
            for k, gap in enumerate(self.gaps_mm)
            if gap is not None
        ]
        # three unknowns of a circle, and one reading to tell that it is one
        if len(gaps) < 4:
            raise ReadingError(
                f"only {len(gaps)} readings",
                field="gaps_mm",
                remedy="four are the least; read the missing ones",
            )
        return np.array(places) * (2 * math.pi / len(self.gaps_mm)), np.array(gaps)


@dataclass(frozen=True, kw_only=True)
class Runout(Result):
    """Shape and place of the rim in mm; ovality is the largest less the smallest diameter.

    ``ovality`` and ``tilt`` are None where the readings cannot tell them.
    """

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "eccentricity": Scale((0.7, 2.0), ("runs true", "runs out", "runs out badly"), _SOURCE),
        "ovality": Scale((1.5, 4.0), ("round", "oval", "buckled"), _SOURCE),
        "tilt": Scale((0.25, 0.8), ("straight", "tilted", "tilted badly"), _SOURCE),
    }

    eccentricity: Quantity
    indicated: Quantity
    # clockwise from the first reading
    narrow_deg: float
    mean_gap: Quantity
    # of the fitted rim, which may lie between two readings
    least_gap: Quantity
    ovality: Quantity | None
    tilt: Quantity | None
    # as read, for the figure
    front: Rim
    way: str
    remarks: tuple[str, ...]
    # part, and what the readings say of it
    says: tuple[tuple[str, str], ...]


def runout(
    front: Rim, back: Rim | None = None, *, depth_mm: float = 200.0, way: str = "turned"
) -> Runout:
    """Work out the rim from readings at the front; for the tilt, a second row further in (mm).

    Raises ReadingError for readings that cannot be or do not fix a circle.
    """
    if way not in WAYS:
        raise ReadingError(
            f"no way of reading is called {way!r}",
            field="way",
            remedy="turned (drum turns) or walked (feeler goes round)",
        )
    angles, gaps = front.known()
    fit = fit_rim(angles, gaps, front.sd_mm)
    eccentricity = amplitude(fit.coefficients[1:3], fit.covariance[1:3, 1:3])
    # an amplitude a in the radius is 2 a in each of two diameters, and one grows as one shrinks
    ovality = amplitude(fit.coefficients[3:], fit.covariance[3:, 3:], 4.0) if fit.oval else None
    tilt = _tilt(fit, back, depth_mm)
    # the gap is least where its first harmonic points away
    narrow = math.degrees(math.atan2(-fit.coefficients[2], -fit.coefficients[1])) % 360
    parts = _says(way, eccentricity, ovality, tilt)
    return Runout(
        eccentricity=eccentricity,
        # what a dial shows over a turn: from the nearest to the furthest
        indicated=eccentricity.scaled(2.0, "mm"),
        narrow_deg=narrow,
        mean_gap=Quantity.normal(float(fit.coefficients[0]), math.sqrt(fit.covariance[0, 0]), "mm"),
        least_gap=_least(fit),
        ovality=ovality,
        tilt=tilt,
        front=front,
        way=way,
        remarks=_remarks(fit, front, angles),
        says=parts,
        sentence=_sentence(eccentricity, _where(way, narrow, len(front.gaps_mm)), ovality, tilt),
        cautions=(UNPLUGGED, DRUM_STILL, SHARP),
    )


def _tilt(fit: RimFit, back: Rim | None, depth_mm: float) -> Quantity | None:
    """Angle (deg) of the axis, from the shift of the rim's centre over the depth."""
    if back is None:
        return None
    # shorter than 20 mm the angle is all noise, and no drum is deeper than 600
    if not 20 <= depth_mm <= 600:
        raise ReadingError(
            f"{depth_mm:g} mm between the two rows",
            field="depth_mm",
            remedy="give 20 to 600 mm: did you mean cm?",
        )
    angles, gaps = back.known()
    inner = fit_rim(angles, gaps, back.sd_mm)
    shift = fit.coefficients[1:3] - inner.coefficients[1:3]
    covariance = fit.covariance[1:3, 1:3] + inner.covariance[1:3, 1:3]
    return amplitude(shift, covariance, math.degrees(1 / depth_mm), "deg")


def _least(fit: RimFit) -> Quantity:
    """Smallest gap (mm) of the fitted rim, wherever it is."""
    # a degree is finer than any gap changes
    rows = fit.row(np.linspace(0, 2 * math.pi, 361))
    curve = rows @ fit.coefficients
    row = rows[int(np.argmin(curve))]
    return Quantity.normal(float(curve.min()), math.sqrt(float(row @ fit.covariance @ row)), "mm")


def _remarks(fit: RimFit, rim: Rim, angles: Array) -> tuple[str, ...]:
    remarks = []
    if not fit.oval:
        remarks.append("Too few places to tell an oval: read at six or more.")
    # The readings scatter more than their doubt: one of them is likely off.
    if fit.widened > 1:
        worst = int(np.argmax(np.abs(fit.residuals)))
        place = round(float(angles[worst]) / (2 * math.pi) * len(rim.gaps_mm)) + 1
        remarks.append(
            f"The readings fit no round or oval rim: place {place} is "
            f"{abs(fit.residuals[worst]):.1f} mm off. "
            "Read it again; if it stays, the rim is dented there."
        )
    return tuple(remarks)


def _says(
    way: str, eccentricity: Quantity, ovality: Quantity | None, tilt: Quantity | None
) -> tuple[tuple[str, str], ...]:
    """Say what the readings mean for each part, in words with the chance."""
    # Each way of reading sees only what changes in it; of the rest it must not seem to speak.
    scales = Runout.SCALES
    out = scales["eccentricity"].at_least(eccentricity, "runs out")
    bent = 0.0 if tilt is None else scales["tilt"].at_least(tilt, "tilted")
    # the worse of both: an axis can be off its place and straight, or tilted about the middle
    off = f"{100 * max(out, bent):.0f} %"
    oval = (
        "not told by these readings"
        if ovality is None
        else f"oval: {100 * scales['ovality'].at_least(ovality, 'oval'):.0f} %"
    )
    if way == "turned":
        return (
            ("drum support", f"bent or cracked: {off}"),
            (
                "bearing",
                "not told: wiggle the drum for its play, and walk round with the drum still",
            ),
            (
                "drum",
                f"{oval}; a drum that is oval but turns about its own centre has a sound support",
            ),
        )
    tub = "a tub that is out of shape looks the same until the drum is wiggled"
    return (
        ("drum support", "not told: turn the drum under one place"),
        ("bearing", f"lets the drum sit off: {off}; {tub}"),
        ("drum", f"{oval}, drum or tub"),
    )


def _sentence(
    eccentricity: Quantity, where: str, ovality: Quantity | None, tilt: Quantity | None
) -> str:
    parts = [where.format(eccentricity)]
    parts.append("an oval could not be told" if ovality is None else f"it is oval by {ovality}")
    if tilt is not None:
        parts.append(f"its axis is tilted by {tilt}")
    return "; ".join(parts) + f". It {Runout.SCALES['eccentricity'].word(eccentricity)}."


def _where(way: str, narrow_deg: float, places: int) -> str:
    """Say what runs out and where it is narrowest; ``{}`` stands for how much."""
    if way == "walked":
        # the drum stands still, so the hour is a place of the tub
        clock = round(narrow_deg / 30) % 12 or 12
        return f"The drum sits off the middle of the tub by {{}}, narrowest near {clock} o'clock"
    # the drum turns, so only the number of the reading names a place on it
    place = round(narrow_deg / 360 * places) % places + 1
    return f"Turned by hand, the drum runs out by {{}}, narrowest near reading {place} of {places}"


@dataclass(frozen=True, kw_only=True)
class Strike(Result):
    """Whether the drum will touch the tub; ``room`` (mm) is left where it is narrowest."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "room": Scale(
            (0.0, 2.0), ("will strike", "close", "clear"), "geometry; the 2 mm are an estimate"
        )
    }

    # below zero the parts meet
    room: Quantity
    # that it touches, 0 to 1
    chance: float


def strike(
    walked: Runout,
    *,
    turned: Runout | None = None,
    play_mm: Sequence[float] = (0.0, 0.1),
    flex_mm: tuple[float, float] = (1.0, 0.5),
) -> Strike:
    """Room left in mm at the narrowest place once runout, play and flexing are taken off.

    ``play_mm`` is the play (mm, whole way) and its sd; half of it counts, as the drum already hangs
    on one side. ``flex_mm`` is how far a sound drum and support give way at full spin and its sd
    (estimate). All independent, normal.
    """
    # a drum that runs out brings its far side round to every place of the tub
    out = turned.eccentricity if turned else Quantity.normal(0.0, 0.0, "mm")
    room = walked.least_gap.value - out.value - play_mm[0] / 2 - flex_mm[0]
    sd = math.hypot(walked.least_gap.sd, out.sd, play_mm[1] / 2, flex_mm[1])
    left = Quantity.normal(room, sd, "mm")
    chance = left.outcome_weights([0.0])[0]
    verdict = (
        "will strike the tub"
        if chance > 0.5
        else "may touch the tub"
        if chance > 0.05
        else "stays clear of the tub"
    )
    return Strike(
        room=left,
        chance=chance,
        cautions=(UNPLUGGED, DRUM_STILL),
        sentence=f"In a spin the drum {verdict}: {left} left at the narrowest place (chance that "
        f"it touches {100 * chance:.0f} %).",
    )
