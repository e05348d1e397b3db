"""Lifting and tipping a machine: how many people, or a trolley."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from counterpoise.bench.cautions import DRAIN, HEAVY, TIPPED, UNPLUGGED
from counterpoise.bench.quantity import Quantity, Result, Scale
from counterpoise.bench.readings import (
    ANGLE_DEG,
    LENGTH_CM,
    MACHINE_KG,
    METRE,
    REACH_CM,
    possible,
    possible_sd,
)
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# standard gravity, m/s^2 (exact by convention)
G = 9.80665
# kg and sd: average of washing machines, UNU key 0104; 65 to 75 are usual
MACHINE = (72.5, 3.0)
# What one person may lift where all is at its best: NIOSH 94-110.
LOAD_CONSTANT_KG = 23.0
# NIOSH counts a nearer load as at this distance, and lifts none that is further or higher (cm).
NEAREST_CM, FURTHEST_CM, HIGHEST_CM = 25.0, 63.0, 175.0

# Lifts a minute: multiplier for up to 1, 2 and 8 hours. NIOSH 94-110, table 5 (from memory), the
# column for low lifts.
_FREQUENCY = (
    (0.2, 1.00, 0.95, 0.85),
    (0.5, 0.97, 0.92, 0.81),
    (1, 0.94, 0.88, 0.75),
    (2, 0.91, 0.84, 0.65),
    (3, 0.88, 0.79, 0.55),
    (4, 0.84, 0.72, 0.45),
    (5, 0.80, 0.60, 0.35),
    (6, 0.75, 0.50, 0.27),
)
# What a team can lift, as a share of the sum of its members. HSE, manual handling guidance L23
# (from memory).
TEAM_SHARE = {1: 1.0, 2: 2 / 3, 3: 1 / 2, 4: 1 / 2}


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift: hands to ankles, hands above the floor, way up (cm); twist (degrees); grip; pace.

    ``per_minute`` lifts for so many ``hours``.
    """

    reach_cm: float = 30.0
    height_cm: float = 0.0
    travel_cm: float = 20.0
    twist_deg: float = 0.0
    grip: str = "fair"
    per_minute: float = 0.2
    hours: float = 1.0


def weight_limit_kg(lift: Lift) -> float:
    """Recommended weight limit (kg) of one person: revised NIOSH lifting equation (94-110).

    23 (25/H) (1 - .003 abs(V - 75)) (.82 + 4.5/D) (1 - .0032 A) FM CM; 0 where a lift is out of
    reach. Raises ReadingError for what no lift can be.
    """
    possible(lift.reach_cm, REACH_CM, "reach_cm")
    for name, value in (("height_cm", lift.height_cm), ("travel_cm", lift.travel_cm)):
        possible(value, LENGTH_CM, name)
    possible(lift.twist_deg, ANGLE_DEG, "twist_deg")
    if lift.reach_cm > FURTHEST_CM or lift.height_cm > HIGHEST_CM:
        return 0.0
    horizontal = NEAREST_CM / max(NEAREST_CM, lift.reach_cm)
    vertical = 1 - 0.003 * abs(lift.height_cm - 75)
    distance = min(1.0, 0.82 + 4.5 / max(25.0, lift.travel_cm))
    twist = 1 - 0.0032 * lift.twist_deg
    return (
        LOAD_CONSTANT_KG * horizontal * vertical * distance * twist * _frequency(lift) * _grip(lift)
    )


def _frequency(lift: Lift) -> float:
    if not (0 <= lift.per_minute <= 6 and 0 < lift.hours <= 8):
        raise ReadingError(
            f"{lift.per_minute:g} lifts a minute over {lift.hours:g} hours",
            field="per_minute",
            remedy="a workshop lifts at most 6 times a minute and 8 hours a day: rest, or use a "
            "machine",
        )
    # the table's columns: up to one, two and eight hours
    column = 1 if lift.hours <= 1 else 2 if lift.hours <= 2 else 3
    return next(row[column] for row in _FREQUENCY if lift.per_minute <= row[0])


def _grip(lift: Lift) -> float:
    # coupling multipliers of NIOSH 94-110: a fair grip costs nothing at hip height
    grips = {"good": 1.0, "fair": 1.0 if lift.height_cm >= 75 else 0.95, "poor": 0.9}
    if lift.grip not in grips:
        raise ReadingError(
            f"no grip is called {lift.grip!r}", field="grip", remedy=f"one of: {', '.join(grips)}"
        )
    return grips[lift.grip]


@dataclass(frozen=True, kw_only=True)
class LiftAdvice(Result):
    """How to move a load. ``index``: mass over one person's limit, a ratio; over 1 is too much.

    ``people`` is None where not even the largest team is enough.
    """

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "index": Scale(
            (1.0, 3.0),
            ("one person", "strains", "harms"),
            "NIOSH 94-110: over 1 raises the risk, over 3 for nearly all",
        )
    }

    index: Quantity
    limit_kg: float
    # people, and mass over what they may lift together
    team_index: tuple[tuple[int, float], ...]
    people: int | None
    trolley: bool


def lifting(
    mass_kg: float, lift: Lift | None = None, *, sd_kg: float = 0.0, most_people: int = 4
) -> LiftAdvice:
    """People needed so that nobody lifts over the limit, or a trolley.

    The equation holds for one person; for a team its limit (kg) is summed and cut to the share that
    a team can really bring to bear. Raises ReadingError where nobody can lift.
    """
    lift = lift or Lift()
    possible(mass_kg, MACHINE_KG, "mass_kg")
    possible_sd(sd_kg, MACHINE_KG, "sd_kg")
    limit = weight_limit_kg(lift)
    if not limit > 0:
        raise ReadingError(
            "nobody can lift there",
            field="reach_cm",
            remedy="get closer than 63 cm and grip below 175 cm",
        )
    # nobody is hurt by a machine that turns out lighter: the upper end of the mass decides
    heavy = mass_kg + 1.645 * sd_kg
    teams = tuple(
        (people, mass_kg / (limit * people * share))
        for people, share in TEAM_SHARE.items()
        if people <= most_people
    )
    enough = [people for people, index in teams if index * heavy / mass_kg <= 1]
    return LiftAdvice(
        index=Quantity.normal(mass_kg / limit, sd_kg / limit, "times the limit"),
        limit_kg=limit,
        team_index=teams,
        people=enough[0] if enough else None,
        trolley=not enough,
        cautions=(UNPLUGGED, DRAIN, HEAVY),
        sentence=_sentence(mass_kg, limit, enough, most_people) + _counted_as(lift),
    )


def _counted_as(lift: Lift) -> str:
    if lift.reach_cm >= NEAREST_CM:
        return ""
    return f" A reach of {lift.reach_cm:g} cm counts as {NEAREST_CM:g} cm, the nearest there is."


def _sentence(mass_kg: float, limit: float, enough: list[int], most_people: int) -> str:
    start = f"{mass_kg:g} kg; one person may lift {limit:.1f} kg ({mass_kg / limit:.1f} times over)"
    if not enough:
        return f"{start}: use a trolley with a strap. Not even {most_people} people are enough."
    if enough[0] == 1:
        return (
            f"{mass_kg:g} kg: one person may lift it; the limit held like this is {limit:.1f} kg."
        )
    return f"{start}: {enough[0]} people, or a trolley."


@dataclass(frozen=True, slots=True)
class TippedMachine:
    """A machine tipped about its lower edge: kg, where its centre and the hands are in m."""

    mass_kg: float = MACHINE[0]
    sd_kg: float = MACHINE[1]
    centre_height_m: float = 0.40
    centre_from_edge_m: float = 0.275
    hands_m: float = 0.80


@dataclass(frozen=True, kw_only=True)
class Tipping(Result):
    """Tipping: the push (N) that starts it, the angle past which it falls, the lift (kg) back up.

    ``people`` is None where more than four would have to lift.
    """

    push: Quantity
    balance_deg: float
    raise_kg: Quantity
    people: int | None
    trolley: bool


def tipping(body: TippedMachine | None = None) -> Tipping:
    """Statics of a rigid box about its lower edge, N, kg and degrees.

    The hands push level and lift upright. Raises ReadingError for sizes that cannot be.
    """
    body = body or TippedMachine()
    possible(body.mass_kg, MACHINE_KG, "mass_kg")
    possible_sd(body.sd_kg, MACHINE_KG, "sd_kg")
    for name in ("centre_height_m", "centre_from_edge_m", "hands_m"):
        possible(getattr(body, name), METRE, name)
    # about the edge that stays down, the push at the height of the hands
    moment = body.mass_kg * G * body.centre_from_edge_m
    relative = body.sd_kg / body.mass_kg
    push = Quantity.normal(moment / body.hands_m, relative * moment / body.hands_m, "N")
    # the centre of mass is above the edge: from here on it falls by itself
    angle = math.degrees(math.atan2(body.centre_from_edge_m, body.centre_height_m))
    # Lying flat, the centre is centre_height_m away from the edge it turns about, the hands
    # hands_m.
    heave = body.mass_kg * body.centre_height_m / body.hands_m
    # from low down and far out: the worst of the way up
    limit = weight_limit_kg(Lift(reach_cm=35, height_cm=20, travel_cm=60))
    people = next(
        (team for team, share in TEAM_SHARE.items() if team >= 2 and team * share * limit >= heave),
        None,
    )
    helped = (
        f"{people} people"
        if people
        else "more than four people should lift, so use a trolley with a strap"
    )
    return Tipping(
        push=push,
        balance_deg=angle,
        raise_kg=Quantity.normal(heave, relative * heave, "kg"),
        people=people,
        trolley=people is None,
        cautions=(UNPLUGGED, DRAIN, HEAVY, TIPPED),
        sentence=(
            f"It starts to tip at a push of {push} and falls by itself past {angle:.0f} degrees. "
            f"Raising it again from lying takes {heave:.0f} kg at the hands: {helped}. "
            "Block the feet that stay down."
        ),
    )
