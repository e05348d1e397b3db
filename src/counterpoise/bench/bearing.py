"""Drum bearing: turn it, listen to it, and the frequencies at which a damaged one is heard."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from counterpoise.bench.cautions import DRUM_STILL, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale, average
from counterpoise.bench.readings import (
    FORCE_N,
    METRE,
    TURNING_RPM,
    all_possible,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# mm; the published table gives inches
INCH = 25.4
# The two sources of geometry: one measured and published, one that has to be doubted.
_MEMORY = "typical inner geometry, from memory: makers differ, count the balls where you can; +-3 %"
_CWRU = "Case Western Reserve University bearing data centre"


@dataclass(frozen=True, slots=True)
class BearingSize:
    """A deep-groove ball bearing, mm. ``relative_sd``: doubt of ball over pitch, as a share."""

    name: str
    balls: int
    ball_mm: float
    pitch_mm: float
    source: str
    relative_sd: float = 0.03
    # deep-groove balls run in the middle of the groove unless the ring is pushed along the axis
    contact_deg: float = 0.0

    def __post_init__(self) -> None:
        """Raises ReadingError for a bearing that cannot be built."""
        # two balls would let the ring fall; a pitch circle holds the balls inside it
        if not (self.balls >= 3 and 0 < self.ball_mm < self.pitch_mm):
            raise ReadingError(
                f"no bearing has {self.balls} balls of {self.ball_mm:g} mm on a pitch circle "
                f"of {self.pitch_mm:g} mm",
                field="balls",
                remedy="give the number of balls, their diameter and the pitch diameter in mm",
            )

    @property
    def ratio(self) -> float:
        """Ball over pitch diameter, seen along the contact angle; a share of 1."""
        return self.ball_mm / self.pitch_mm * math.cos(math.radians(self.contact_deg))


# The sizes that carry drums of front loaders (from memory), by their printed number.
SIZES = {
    size.name: size
    for size in (
        BearingSize("6203", 8, 0.2656 * INCH, 1.122 * INCH, _CWRU, 0.001),
        BearingSize("6204", 8, 7.938, 33.5, _MEMORY),
        BearingSize("6205", 9, 0.3126 * INCH, 1.537 * INCH, _CWRU, 0.001),
        BearingSize("6206", 9, 9.525, 46.0, _MEMORY),
        BearingSize("6305", 7, 11.509, 43.5, _MEMORY),
        BearingSize("6306", 8, 11.906, 51.0, _MEMORY),
    )
}


@dataclass(frozen=True, slots=True)
class DefectOrders:
    """Knocks a turn of the shaft: outer ring, inner ring, a ball on both rings, cage."""

    # the ring that stands still: a dent is always under the load, so this is heard first
    outer: float
    # the ring that turns: its knock swells and fades once a turn
    inner: float
    ball: float
    cage: float


def defect_orders(size: BearingSize) -> DefectOrders:
    """Kinematic orders of a bearing whose inner ring turns: knocks a turn.

    Harris, *Rolling Bearing Analysis* (standard).
    A damaged ball strikes both rings in one turn of its own, so its order is twice the ball's spin;
    real ones slip by 1 to 2 %.
    """
    ratio = size.ratio
    # turns of a ball about itself in one of the shaft
    spin = size.pitch_mm / (2 * size.ball_mm) * (1 - ratio**2)
    return DefectOrders(
        size.balls / 2 * (1 - ratio), size.balls / 2 * (1 + ratio), 2 * spin, (1 - ratio) / 2
    )


@dataclass(frozen=True, kw_only=True)
class DefectFrequencies(Result):
    """Where in Hz a damaged bearing is heard at one speed, and the orders behind it."""

    outer: Quantity
    inner: Quantity
    ball: Quantity
    cage: Quantity
    orders: DefectOrders
    source: str


def defect_frequencies(size: BearingSize, speed_rpm: float) -> DefectFrequencies:
    """Frequencies in Hz, with the doubt of the geometry and of up to 2 % slip (sd 1 %).

    Raises ReadingError for a speed at which nothing turns.
    """
    turn_hz = possible(speed_rpm, TURNING_RPM, "speed_rpm") / 60
    orders = defect_orders(size)
    ratio, doubt = size.ratio, size.relative_sd
    # d(order)/d(ratio) * ratio, from the formulas above.
    slopes = {
        "outer": size.balls / 2 * ratio,
        "inner": size.balls / 2 * ratio,
        "cage": ratio / 2,
        "ball": (1 / ratio + ratio),
    }
    tones = {
        name: Quantity.normal(
            getattr(orders, name) * turn_hz,
            math.hypot(slope * doubt, 0.01 * getattr(orders, name)) * turn_hz,
            "Hz",
        )
        for name, slope in slopes.items()
    }
    return DefectFrequencies(
        **tones,
        orders=orders,
        source=size.source,
        cautions=(UNPLUGGED,),
        sentence=(
            f"A {size.name} at {speed_rpm:.0f} rpm: outer ring {tones['outer']}, inner ring "
            f"{tones['inner']}, "
            f"ball {tones['ball']}, cage {tones['cage']}. Geometry: {size.source}."
        ),
    )


# What hand and ear can tell, mildest first.
TURNS = ("free", "tight", "rough")
SOUNDS = ("quiet", "hum", "rumble", "grinding")
MARKS = ("dry", "rust or grease below the seal")


@dataclass(frozen=True, slots=True)
class TurningReadings:
    """The drum turned by hand, belt off where there is one: feel, sound, marks.

    ``pull_n``: the pull (N) at the rim that keeps it turning, repeats as rows.
    """

    feel: str = "free"
    sound: str = "quiet"
    mark: str = "dry"
    pull_n: tuple[float, ...] = ()
    # a luggage scale held by hand (estimate)
    sd_n: float = 0.5
    # where the pull acts: the rim of a usual drum (estimate)
    rim_radius_m: float = 0.24


@dataclass(frozen=True, kw_only=True)
class BearingCheck(Result):
    """What turning and listening say; ``drag``: N m that keep it turning, None if not read."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "drag": Scale((0.6, 1.5), ("turns freely", "drags", "binds"), "estimate")
    }

    drag: Quantity | None
    # sound, doubtful or worn
    grade: str
    signs: tuple[str, ...]


def turn_and_listen(turning: TurningReadings) -> BearingCheck:
    """Gather the signs: two of them, or a grinding noise, call the bearing worn.

    One alone asks for the wiggle. Raises ReadingError for a word that is not offered.
    """
    for value, allowed, field in (
        (turning.feel, TURNS, "feel"),
        (turning.sound, SOUNDS, "sound"),
        (turning.mark, MARKS, "mark"),
    ):
        if value not in allowed:
            raise ReadingError(
                f"{field} cannot be {value!r}", field=field, remedy=f"one of: {', '.join(allowed)}"
            )
    possible(turning.rim_radius_m, METRE, "rim_radius_m")
    # feeling alone does not give a torque
    drag = None
    if turning.pull_n:
        pull = average(
            all_possible(turning.pull_n, FORCE_N, "pull_n"),
            possible_sd(turning.sd_n, FORCE_N, "sd_n"),
            "N",
        )
        drag = pull.scaled(turning.rim_radius_m, "N m")
    # One sign can have another cause (a belt, a seal run dry); two together hardly can.
    signs = _signs(turning, drag)
    grade = (
        "worn"
        if turning.sound == "grinding" or len(signs) >= 2
        else "doubtful"
        if signs
        else "sound"
    )
    # the wiggle decides, before anything is opened
    advice = {
        "worn": "The bearing is worn: wiggle the drum for its play, weigh the job before "
        "opening it.",
        "doubtful": "One sign alone: wiggle the drum for its play.",
        "sound": "Nothing points to the bearing.",
    }[grade]
    return BearingCheck(
        drag=drag,
        grade=grade,
        signs=signs,
        cautions=(UNPLUGGED, DRUM_STILL),
        sentence=f"Signs: {', '.join(signs) or 'none'}. {advice}",
    )


def _signs(turning: TurningReadings, drag: Quantity | None) -> tuple[str, ...]:
    # a hum alone is no sign: motors and belts hum too
    signs = []
    if turning.feel == "rough":
        signs.append("turns roughly")
    if turning.sound in {"rumble", "grinding"}:
        signs.append(f"a {turning.sound} noise" if turning.sound == "rumble" else "it grinds")
    if turning.mark != "dry":
        signs.append(turning.mark)
    dragging = drag is not None and BearingCheck.SCALES["drag"].at_least(drag, "drags") > 0.5
    if turning.feel == "tight" or dragging:
        signs.append("drags" if drag is None else f"drags with {drag}")
    return tuple(signs)
