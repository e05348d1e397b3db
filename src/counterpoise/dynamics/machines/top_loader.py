"""The top loader: upright drum, tub hung on four rods from the corners, liquid balance ring."""

from collections.abc import Mapping
from math import pi

from counterpoise.dynamics.machines.machine import (
    BalanceRing,
    Bellows,
    Cabinet,
    Damper,
    Drum,
    Foot,
    Machine,
    Spring,
    Stops,
    Tub,
)
from counterpoise.dynamics.machines.value import Value

MISG = "report on liquid balance rings, Mathematics in Industry Study Group, 2006"
MEMORY = "from memory"
ESTIMATE = "estimate"
ROD_M = 0.55
HANG_HEIGHT = 0.80

# Less is published on these than on front loaders: most ranges are estimates, and wide.
TOP_LOADER: dict[str, Value] = {
    "oscillating_kg": Value(35.0, 28.0, 45.0, "kg", ESTIMATE),
    "drum_kg": Value(9.0, 6.0, 12.0, "kg", ESTIMATE),
    "cabinet_kg": Value(18.0, 12.0, 26.0, "kg", ESTIMATE),
    "rods_n_m": Value(8000.0, 6000.0, 11000.0, "N/m, four together", ESTIMATE),
    "rod_friction_n": Value(
        30.0, 20.0, 40.0, "N a rod", f"{ESTIMATE}; that friction governs is read"
    ),
    "side_damping_n_s_m": Value(60.0, 20.0, 120.0, "N s/m", ESTIMATE),
    "clearance_m": Value(0.025, 0.020, 0.035, "m", MISG),
    "ring_radius_m": Value(0.225, 0.19, 0.25, "m", ESTIMATE),
    "ring_height_m": Value(0.04, 0.03, 0.05, "m", ESTIMATE),
    "foot_n_m": Value(5e5, 2.5e5, 7e5, "N/m", ESTIMATE),
    "foot_friction": Value(0.6, 0.25, 0.85, "", "from memory: 0.6 dry, 0.3 wet"),
    "drum_radius_m": Value(0.24, 0.21, 0.28, "m", ESTIMATE),
}
# salt water, nearly saturated: from memory
BRINE_KG_M3 = 1200.0


def ring_added_mass_kg(density_kg_m3: float, radius_m: float, height_m: float) -> float:
    """Mass in kg that a liquid balance ring above its critical speed adds: rho pi b^2 h (derived).

    The liquid gathers opposite the unbalance; to first order it acts like a disc of liquid that
    follows the drum across its axis.
    """
    return density_kg_m3 * pi * radius_m**2 * height_m


def rods(v: Mapping[str, float]) -> tuple[tuple[Spring, ...], tuple[Damper, ...]]:
    """Four rods with springs, and the friction (N) that works along each."""
    # sag: the drawn length is the loaded one
    share = v["oscillating_kg"] * 9.80665 / v["rods_n_m"]
    springs, dampers = [], []
    for name, sx, sy in (
        ("front left", -1, -1),
        ("front right", 1, -1),
        ("rear left", -1, 1),
        ("rear right", 1, 1),
    ):
        top, low = (0.23 * sx, 0.23 * sy, HANG_HEIGHT), (0.23 * sx, 0.23 * sy, HANG_HEIGHT - ROD_M)
        springs.append(Spring(name, top, low, v["rods_n_m"] / 4, ROD_M - share, pulls_only=True))
        dampers.append(Damper(name, top, low, 5.0, v["rod_friction_n"], bushing_n_m=4e4))
    return tuple(springs), tuple(dampers)


def top_loader(v: Mapping[str, float]) -> Machine:
    """A machine of the given values (all of them, SI)."""
    springs, dampers = rods(v)
    # ``rest``: the tub alone, the drum being a body of its own
    radius, depth, rest, m = (
        v["drum_radius_m"],
        0.36,
        v["oscillating_kg"] - v["drum_kg"],
        v["cabinet_kg"],
    )
    spin = 0.8 * v["drum_kg"] * (0.9 * radius) ** 2
    feet = [
        Foot((sx * 0.25, sy * 0.25, 0.0), stiffness_n_m=v["foot_n_m"], friction=v["foot_friction"])
        for sy in (-1.0, 1.0)
        for sx in (-1.0, 1.0)
    ]
    c, room = v["side_damping_n_s_m"], v["clearance_m"]
    ring = ring_added_mass_kg(BRINE_KG_M3, v["ring_radius_m"], v["ring_height_m"])
    return Machine(
        family="top_loader",
        cabinet=Cabinet(m, (0.0, 0.0, 0.46), (0.12 * m, 0.12 * m, 0.10 * m), (0.60, 0.60, 0.95)),
        feet=(feet[0], feet[1], feet[2], feet[3]),
        tub=Tub(rest, (0.0, 0.0, 0.42), (0.055 * rest, 0.055 * rest, 0.05 * rest)),
        drum=Drum(
            v["drum_kg"],
            radius,
            depth,
            (0.0, 0.0, 0.30),
            (0.0, 0.0, 1.0),
            spin,
            0.6 * spin + v["drum_kg"] * depth**2 / 14,
        ),
        springs=springs,
        dampers=dampers,
        stops=Stops(((0.0, 0.0, 0.62), (0.0, 0.0, 0.28)), room, room, 0.05, 0.04),
        # hoses and the friction of the rods' sockets, across
        bellows=(Bellows((0.0, 0.0, 0.45), (20.0, 20.0, 20.0), (c, c, 0.3 * c)),),
        # The ring engages above the tub's swing on its rods, about 40 rpm, with room to spare.
        ring=BalanceRing(ring, 150.0),
        top_rpm=800.0,
    )
