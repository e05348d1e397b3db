"""The front loader: drum axis to the rear, tub on springs above, friction dampers below.

Counterweights keep the swing small; the door bellows ties the tub to the front.
"""

from collections.abc import Mapping

import numpy as np

from counterpoise.dynamics.machines.machine import (
    Bellows,
    Cabinet,
    Damper,
    Drum,
    Foot,
    Machine,
    Spring,
    Stops,
    Tub,
    Weight,
)
from counterpoise.dynamics.machines.value import Value

SAPRE = "Sapre, public 2-DOF model of a 9-kg front loader, 2023"
NGUYEN = "Nguyen, Nguyen, Choi, Asia Pac. J. Comput. Eng. 1:3, 2014"
ESTIMATE = "estimate"
# height of the drum's axis above the floor, m (estimate)
AXIS_HEIGHT = 0.46

# Ranges are what machines of the kind differ by, and the bounds of every fit. Where two sources
# are named the range holds both.
FRONT_LOADER: dict[str, Value] = {
    "oscillating_kg": Value(60.0, 38.0, 66.0, "kg", f"{SAPRE} (60); {NGUYEN} (40)"),
    # what swings: tub, weights, drum, without load
    "upper_weight_kg": Value(10.0, 4.0, 14.0, "kg", ESTIMATE),
    "front_weight_kg": Value(8.0, 3.0, 14.0, "kg", ESTIMATE),
    "drum_kg": Value(11.0, 7.0, 14.0, "kg", ESTIMATE),
    "pitch_inertia_kg_m2": Value(3.0, 1.4, 3.6, "kg m2", ESTIMATE),
    "roll_inertia_kg_m2": Value(2.5, 1.2, 3.2, "kg m2", ESTIMATE),
    "centre_y_m": Value(0.0, -0.05, 0.05, "m", ESTIMATE),
    # all that stands: cabinet, motor of the pump, boards
    "cabinet_kg": Value(20.0, 12.0, 28.0, "kg", ESTIMATE),
    "spring_n_m": Value(9000.0, 4500.0, 11000.0, "N/m a side", f"{SAPRE} (9000); {NGUYEN} (8000)"),
    "spring_pairs": Value(
        1.0,
        1.0,
        2.0,
        "pairs",
        "common practice: two springs carry the tub",
        whole=True,
        drawn=False,
    ),
    "dampers": Value(2.0, 2.0, 4.0, "pieces", "common practice", whole=True),
    "damper_viscous_n_s_m": Value(
        30.0, 5.0, 130.0, "N s/m", f"{SAPRE} (120, all viscous); {ESTIMATE}"
    ),
    "damper_friction_n": Value(
        60.0,
        10.0,
        120.0,
        "N",
        f"{SAPRE} (13, derived from its measured curve); {ESTIMATE} (50-120)",
    ),
    # rubber at both ends of a damper: below a millimetre of stroke it gives and nothing slides
    "damper_bushing_n_m": Value(6e4, 2e4, 1.5e5, "N/m", ESTIMATE),
    "damper_pin_n_m": Value(10000.0, 2000.0, 30000.0, "N/m", ESTIMATE),
    "damper_pin_n_s_m": Value(60.0, 0.0, 200.0, "N s/m", ESTIMATE),
    "bellows_n_m": Value(1500.0, 0.0, 4500.0, "N/m", ESTIMATE),
    "bellows_n_s_m": Value(20.0, 0.0, 60.0, "N s/m", ESTIMATE),
    # room the tub has before it strikes
    "stop_m": Value(0.027, 0.018, 0.032, "m", ESTIMATE),
    "foot_n_m": Value(5e5, 2.5e5, 7e5, "N/m", ESTIMATE),
    "foot_friction": Value(0.6, 0.25, 0.85, "", "from memory: 0.6 dry, 0.3 wet"),
    "drum_radius_m": Value(0.25, 0.22, 0.30, "m", ESTIMATE),
    "unbalance_depth_m": Value(0.17, 0.0, 0.33, "m", ESTIMATE),
}


def springs(v: Mapping[str, float]) -> tuple[Spring, ...]:
    """Two, from the top of the cabinet, or four weaker ones, 0.2 m apart along the axis.

    Nodes as in Sapre's model, about the plane of the tub's centre of gravity; so long that the
    empty tub hangs where it is drawn, less the 1.4 mm of that model (whose free length of 0.172 m
    this gives back).
    """
    z, pairs = AXIS_HEIGHT, round(v["spring_pairs"])
    length = float(np.hypot(0.2753 - 0.2535, 0.33233 - 0.1300))
    # half the weight upright, along a spring that stands a little askew
    pull = v["oscillating_kg"] * 9.80665 / 2 * length / (0.33233 - 0.1300)
    free_length = length - pull / v["spring_n_m"] + 0.0014
    rows = (("", 0.0),) if pairs == 1 else ((" front", -0.10), (" rear", 0.10))
    return tuple(
        Spring(
            name + place,
            (side * 0.2753, v["centre_y_m"] + dy, z + 0.33233),
            (side * 0.2535, v["centre_y_m"] + dy, z + 0.1300),
            v["spring_n_m"] / pairs,
            free_length,
        )
        for place, dy in rows
        for name, side in (("left", -1.0), ("right", 1.0))
    )


def dampers(v: Mapping[str, float]) -> tuple[Damper, ...]:
    """Two to four, from the bottom of the cabinet; N, N/m and N s/m shared between them.

    Nodes as in Sapre's model, apart along the axis where there are more than two.
    """
    z, y, many = AXIS_HEIGHT, v["centre_y_m"], round(v["dampers"])
    # three: one on the left, two on the right (common practice)
    places = {
        2: (("left", -1.0, 0.0), ("right", 1.0, 0.0)),
        3: (("left", -1.0, 0.0), ("right front", 1.0, -0.08), ("right rear", 1.0, 0.08)),
        4: (
            ("left front", -1.0, -0.08),
            ("right front", 1.0, -0.08),
            ("left rear", -1.0, 0.08),
            ("right rear", 1.0, 0.08),
        ),
    }[many]
    # more dampers of a smaller kind
    share = 2.0 / many
    return tuple(
        Damper(
            name,
            (side * 0.2632, y + dy, z - 0.4226),
            (side * 0.18633, y + dy, z - 0.21822),
            share * v["damper_viscous_n_s_m"],
            share * v["damper_friction_n"],
            bushing_n_m=share * v["damper_bushing_n_m"],
            pin_n_m=share * v["damper_pin_n_m"],
            pin_n_s_m=share * v["damper_pin_n_s_m"],
        )
        for name, side, dy in places
    )


def tub_and_drum(v: Mapping[str, float]) -> tuple[Tub, Drum]:
    """Split the oscillating mass (kg) so that group mass, centre and inertia come out as given."""
    z, y = AXIS_HEIGHT, v["centre_y_m"]
    weights = (
        Weight("upper", v["upper_weight_kg"], (0.0, -0.05, z + 0.27)),
        Weight("front", v["front_weight_kg"], (0.0, -0.23, z + 0.02)),
    )
    drum_mass, radius, depth = v["drum_kg"], v["drum_radius_m"], 0.33
    # most of a drum is its wall, a little inside the rim; the back plate is the rest (estimate)
    spin = 0.8 * drum_mass * (0.9 * radius) ** 2
    drum = Drum(
        drum_mass,
        radius,
        depth,
        (0.0, 0.165, z),
        (0.0, -1.0, 0.0),
        spin,
        0.6 * spin + drum_mass * depth**2 / 14,
    )
    # Weights, drum and tub have to add up to what was asked for; the tub's shell takes the rest.
    parts = [(w.mass_kg, np.array(w.place_m)) for w in weights] + [
        (drum_mass, np.array((0.0, 0.0, z)))
    ]
    rest = v["oscillating_kg"] - sum(m for m, _ in parts)
    aim = np.array((0.0, y, z))
    centre = (v["oscillating_kg"] * aim - sum(m * p for m, p in parts)) / rest
    moments = np.array(
        (v["pitch_inertia_kg_m2"], v["roll_inertia_kg_m2"], v["pitch_inertia_kg_m2"])
    )
    # parallel axis theorem: what the parts bring is taken off, and the shell has what is left
    moments -= np.array((drum.cross_inertia_kg_m2, spin, drum.cross_inertia_kg_m2))
    for mass, place in [*parts, (rest, centre)]:
        arm = place - aim
        moments -= mass * (arm @ arm - arm**2)
    # no tub is thinner than this; a light group keeps a little more inertia than asked
    low = 0.012 * rest
    own = np.maximum(moments, low)
    # no inertia is larger than the sum of the two others
    own = np.minimum(own, own.sum() - own)
    x, y, z = (float(c) for c in centre)
    jx, jy, jz = (float(j) for j in own)
    return Tub(rest, (x, y, z), (jx, jy, jz), weights), drum


def front_loader(v: Mapping[str, float]) -> Machine:
    """A machine of the given values (all of them, SI)."""
    z = AXIS_HEIGHT
    tub, drum = tub_and_drum(v)
    m = v["cabinet_kg"]
    feet = [
        Foot((sx * 0.25, sy * 0.24, 0.0), stiffness_n_m=v["foot_n_m"], friction=v["foot_friction"])
        for sy in (-1.0, 1.0)
        for sx in (-1.0, 1.0)
    ]
    k, c = v["bellows_n_m"], v["bellows_n_s_m"]
    return Machine(
        family="front_loader",
        cabinet=Cabinet(m, (0.0, 0.0, 0.42), (0.105 * m, 0.105 * m, 0.10 * m), (0.60, 0.60, 0.85)),
        feet=(feet[0], feet[1], feet[2], feet[3]),
        tub=tub,
        drum=drum,
        springs=springs(v),
        dampers=dampers(v),
        stops=Stops(
            ((0.0, -0.18, z), (0.0, 0.18, z)),
            v["stop_m"],
            v["stop_m"],
            v["stop_m"] + 0.003,
            v["stop_m"],
        ),
        bellows=(Bellows((0.0, -0.24, z), (k, k, k), (c, c, c)),),
        top_rpm=1200.0,
    )
