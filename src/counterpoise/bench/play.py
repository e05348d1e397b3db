"""Play of the drum by wiggling: radial, axial, rocking; what it says of bearing and support."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from counterpoise.bench.cautions import DRUM_STILL, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, average, magnitude
from counterpoise.bench.readings import METRE, PLAY_MM, all_possible, possible, possible_sd
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

_SOURCE = "estimate; common practice: the inner drum must have no play of its own against the tub"


@dataclass(frozen=True, slots=True)
class Shaft:
    """Distance of the bearings, overhang from the front one to the rim, rim's diameter, in m."""

    # usual sizes of a front loader (estimates)
    bearing_distance_m: float = 0.10
    overhang_m: float = 0.35
    rim_diameter_m: float = 0.48

    def __post_init__(self) -> None:
        """Raises ReadingError for sizes that cannot be."""
        for name in ("bearing_distance_m", "overhang_m", "rim_diameter_m"):
            possible(getattr(self, name), METRE, name)

    @property
    def lever(self) -> float:
        """Play at the rim for a unit of clearance in both bearings, by plain geometry: a ratio."""
        # the shaft tilts until it touches one bearing above and the other below
        return 1 + 2 * self.overhang_m / self.bearing_distance_m


@dataclass(frozen=True, slots=True)
class PlayReadings:
    """Movements (mm, from end to end) of the drum against the tub; repeats as rows.

    ``radial_mm``: rim up and down, at the front. ``axial_mm``: drum in and out. ``rocking_mm``: top
    of the rim in and out while the bottom goes the other way, read at the top. ``round_mm``: radial
    play read again with the drum turned on to other places.
    """

    radial_mm: tuple[float, ...]
    axial_mm: tuple[float, ...] = ()
    rocking_mm: tuple[float, ...] = ()
    round_mm: tuple[float, ...] = ()
    # a ruler held beside the rim (estimate)
    sd_mm: float = 0.2


@dataclass(frozen=True, kw_only=True)
class Play(Result):
    """How loose the drum is (mm, degrees) and what that says of its parts; None: not read."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "radial": Scale((0.5, 1.5), ("moves with the tub", "some play", "loose"), _SOURCE),
        "axial": Scale((0.5, 1.5), ("no end play", "some end play", "loose endways"), _SOURCE),
        "rocking": Scale((0.12, 0.36), ("does not rock", "rocks", "rocks badly"), _SOURCE),
        "clearance": Scale(
            (0.06, 0.2),
            ("like new", "worn", "gone"),
            "estimate; new bearings have about 0.01 to 0.03 mm (ISO 5753-1, from memory)",
        ),
        "uneven": Scale((0.4,), ("same all round", "changes round the drum"), _SOURCE),
    }

    radial: Quantity
    axial: Quantity | None
    rocking: Quantity | None
    # in the bearings themselves, from the play at the rim
    clearance: Quantity
    # by how much the play changes as the drum is turned
    uneven: Quantity | None
    # part, and what the readings say of it
    says: tuple[tuple[str, str], ...]


def play(readings: PlayReadings, shaft: Shaft | None = None) -> Play:
    """Play in mm with its uncertainty from readings at the rim; rocking comes out in degrees.

    Raises ReadingError for readings that cannot be, or that claim to be exact.
    """
    shaft = shaft or Shaft()
    # an exact reading would call every tenth of a millimetre certain
    if not possible_sd(readings.sd_mm, PLAY_MM, "sd_mm") > 0:
        raise ReadingError(
            "a reading without doubt",
            field="sd_mm",
            remedy="give how well you can read it, e.g. 0.2 mm",
        )
    sd_mm = readings.sd_mm
    radial = _mean(readings.radial_mm, sd_mm, "radial_mm")
    axial = _mean(readings.axial_mm, sd_mm, "axial_mm") if readings.axial_mm else None
    rock_mm = _mean(readings.rocking_mm, sd_mm, "rocking_mm") if readings.rocking_mm else None
    # over the whole diameter: top and bottom of the rim go opposite ways
    rocking = (
        rock_mm.scaled(math.degrees(1 / (1000 * shaft.rim_diameter_m)), "deg") if rock_mm else None
    )
    uneven = _uneven(readings)
    says = _says(radial, axial, uneven)
    return Play(
        radial=radial,
        axial=axial,
        rocking=rocking,
        clearance=radial.scaled(1 / shaft.lever, "mm"),
        uneven=uneven,
        says=says,
        sentence=_sentence(radial, axial, shaft, says),
        cautions=(UNPLUGGED, DRUM_STILL),
    )


def _mean(readings: tuple[float, ...], sd_mm: float, field: str) -> Quantity:
    mean = average(all_possible(readings, PLAY_MM, field), sd_mm, "mm")
    # no play is below nothing
    return Quantity(mean.value, mean.sd, "mm", max(0.0, mean.low), mean.high)


def _uneven(readings: PlayReadings) -> Quantity | None:
    """Root mean square in mm by which the play differs round the drum; None below three places."""
    if len(readings.round_mm) < 3:
        return None
    values = all_possible(readings.round_mm, PLAY_MM, "round_mm")
    mean = sum(values) / len(values)
    length = math.sqrt(sum((value - mean) ** 2 for value in values))
    return magnitude(length, readings.sd_mm, "mm", len(values) - 1).scaled(
        1 / math.sqrt(len(values)), "mm"
    )


def _says(
    radial: Quantity, axial: Quantity | None, uneven: Quantity | None
) -> tuple[tuple[str, str], ...]:
    # A bearing has play whichever way the drum stands, a support only where its bad arm is.
    loose = 100 * Play.SCALES["radial"].at_least(radial, "some play")
    bearing = (
        f"worn: {loose:.0f} %" if loose >= 10 else f"play does not point to it ({loose:.0f} %)"
    )
    if axial is not None and Play.SCALES["axial"].at_least(axial, "some end play") > 0.5:
        bearing += "; it also moves endways: check that the rotor bolt or pulley nut is tight first"
    # one place cannot tell a bearing from a support
    if uneven is None:
        support = "read the play at three or more places of the drum to part it from the bearing"
    elif (chance := Play.SCALES["uneven"].at_least(uneven, "changes round the drum")) > 0.5:
        support = (
            "the play changes as the drum is turned: a cracked arm is likely "
            f"({100 * chance:.0f} %)"
        )
    else:
        support = "the play is the same all round: rather the bearing than the support"
    return (("bearing", bearing), ("drum support", support), ("drum", "not told by wiggling"))


def _sentence(
    radial: Quantity, axial: Quantity | None, shaft: Shaft, says: tuple[tuple[str, str], ...]
) -> str:
    word = Play.SCALES["radial"].word(radial)
    lever = (
        f"that is {radial.value / shaft.lever:.2f} mm in the bearings, {shaft.lever:.0f} times less"
    )
    endways = "" if axial is None else f" Endways it moves {axial}."
    moved = f"At the rim the drum moves {radial} against the tub ({word}); {lever}."
    return f"{moved}{endways} Drum support: {says[1][1]}."
