"""Random machines to learn from: sound ones varied, with their laundry and their faults.

The ranges are wide on purpose: what is learned from them must hold on machines nobody simulated.
Ranges are those of the dynamics room where nothing else is said; all others are estimates. Dampers:
the friction of a sound one is mostly 30 to 120 N (common practice for front loaders: 40 to 110, and
some on either side), now and then a fluid kind leads instead.
"""

from dataclasses import replace

import numpy as np

from counterpoise.dynamics import Load, Machine, Unbalance, draw
from counterpoise.dynamics.machines.faults import with_fault
from counterpoise.dynamics.machines.machine import Bearing, Bolts, Damper, Floor, Foot, Hub, Spring

# Share of machines with dampers led by fluid (estimate).
FLUID_SHARE = 0.15


def random_machine(rng: np.random.Generator) -> Machine:
    """Draw a sound machine; its feet stand within 0.15 mm of each other."""
    machine = draw("front_loader", rng)
    cabinet, tub, stops = machine.cabinet, machine.tub, machine.stops
    # One factor for all axes: heavier panels make all three moments larger.
    inertia = float(rng.uniform(0.8, 1.25))
    jx, jy, jz = cabinet.inertia_kg_m2
    return replace(
        machine,
        cabinet=replace(
            cabinet,
            centre_m=(
                float(rng.uniform(-0.02, 0.02)),
                float(rng.uniform(-0.02, 0.03)),
                float(rng.uniform(0.38, 0.46)),
            ),
            inertia_kg_m2=(inertia * jx, inertia * jy, inertia * jz),
        ),
        tub=replace(tub, centre_m=(float(rng.uniform(-0.012, 0.012)), *tub.centre_m[1:])),
        stops=replace(
            stops,
            down_m=stops.down_m * float(rng.uniform(1, 1.7)),
            up_m=stops.up_m * float(rng.uniform(1, 1.4)),
        ),
        dampers=_dampers(machine.dampers, rng),
        springs=_springs(machine.springs, rng),
        feet=_feet(machine.feet, rng),
    )


def _dampers(dampers: tuple[Damper, ...], rng: np.random.Generator) -> tuple[Damper, ...]:
    """One kind for the machine, led by friction or fluid, leaning 0.3 to 0.6 rad, 7 % apart.

    Makers choose friction by ratio, so it is drawn log-evenly: sound machines of little grip are as
    common as those of much. The bushing gives by the same way, 0.5 to 2.5 mm, before the lining
    slides, however strong the friction.
    """
    # Four dampers are each smaller than two would be, somewhere between half and the same.
    smaller = float(rng.uniform(2 / len(dampers), 1))
    # Friction in N and viscous damping in N s/m of one of two dampers.
    friction, viscous = np.exp(rng.uniform(np.log([30, 3]), np.log([120, 40])))
    if rng.random() < FLUID_SHARE:
        friction, viscous = np.exp(rng.uniform(np.log([10, 40]), np.log([40, 130])))
    # Lean in rad from the vertical, and how far the bushing gives in m.
    lean, slack_m = (
        float(np.tan(rng.uniform(0.3, 0.6))),
        np.exp(rng.uniform(np.log(5e-4), np.log(2.5e-3))),
    )
    return tuple(
        replace(
            d,
            friction_n=float(smaller * friction * rng.uniform(0.93, 1.07)),
            viscous_n_s_m=float(smaller * viscous),
            # Give is what makers choose; the stiffness follows from it and the friction.
            bushing_n_m=float(smaller * friction / slack_m),
            tub_m=(
                d.cabinet_m[0] - np.sign(d.cabinet_m[0]) * lean * (d.tub_m[2] - d.cabinet_m[2]),
                *d.tub_m[1:],
            ),
        )
        for d in dampers
    )


def _springs(springs: tuple[Spring, ...], rng: np.random.Generator) -> tuple[Spring, ...]:
    """Stiffness differs by 2 % from piece to piece; how far they splay and damp, by machine."""
    # Hooks up to 12 mm further in or out, and 0 to 30 N s/m in the hooks and coils.
    inward, damping = float(rng.uniform(-0.012, 0.012)), float(rng.uniform(0, 30))

    def varied(s: Spring) -> Spring:
        moved = (s.tub_m[0] - np.sign(s.tub_m[0]) * inward, *s.tub_m[1:])
        # The spring is as much longer as it splays, so that the tub hangs where it did.
        longer = np.linalg.norm(np.subtract(moved, s.cabinet_m)) - np.linalg.norm(
            np.subtract(s.tub_m, s.cabinet_m)
        )
        return replace(
            s,
            tub_m=moved,
            free_length_m=float(s.free_length_m + longer),
            stiffness_n_m=s.stiffness_n_m * float(rng.uniform(0.98, 1.02)),
            damping_n_s_m=damping,
        )

    return tuple(varied(s) for s in springs)


def _feet(
    feet: tuple[Foot, Foot, Foot, Foot], rng: np.random.Generator
) -> tuple[Foot, Foot, Foot, Foot]:
    """Softness and damping by machine and floor covering; they stand a little wider or closer."""
    damping, side = float(rng.uniform(300, 1600)), float(rng.uniform(0.3, 0.8))
    # Rubber on tiles to rubber on carpet: 0.55 to 1.1 of the usual stiffness.
    wide, deep, soft = (
        rng.uniform(0.9, 1.08),
        rng.uniform(0.9, 1.12),
        float(np.exp(rng.uniform(np.log(0.55), 0.1))),
    )
    a, b, c, d = (
        replace(
            foot,
            length_m=float(rng.uniform(0, 1.5e-4)),
            stiffness_n_m=foot.stiffness_n_m * soft,
            damping_n_s_m=damping,
            side_share=side,
            place_m=(foot.place_m[0] * wide, foot.place_m[1] * deep, 0.0),
        )
        for foot in feet
    )
    return a, b, c, d


def with_random_load(
    machine: Machine, rng: np.random.Generator, *, well_spread: bool = False
) -> Machine:
    """Wet laundry of 2 to 8 kg, some of it out of balance.

    It tumbles in few heavy lumps or many light ones. ``well_spread``: most loads lie evenly.
    """
    drum = machine.drum
    # In kg, log-even. A real machine shook ten to thirty times less than 0.15 to 0.4 kg make it
    # (measured), so real loads go down to 0.02.
    least, most = (0.02, 0.5) if well_spread else (0.12, 0.7)
    lump = Unbalance(
        float(np.exp(rng.uniform(np.log(least), np.log(most)))),
        drum.radius_m * float(rng.uniform(0.8, 1.0)),
        drum.depth_m * float(rng.uniform(0.05, 0.95)),
        float(rng.uniform(0, 2 * np.pi)),
    )
    # Tumbling: three heavy lumps or twenty light ones.
    lumps = round(float(np.exp(rng.uniform(np.log(3), np.log(20)))))
    return replace(machine, load=Load(float(rng.uniform(2, 8)), (lump,), lumps))


def with_random_fault(machine: Machine, fault: str, rng: np.random.Generator) -> Machine:
    """Put one fault in, of random size and place."""
    if fault in DAMPING:
        return _worn(machine, fault, rng)
    if fault in OWN_SIZES:
        return OWN_SIZES[fault](machine, rng)
    # Share of the full fault, and at how many places it can sit.
    low, high, places = {
        "spring_off": (1.0, 1.0, len(machine.springs)),
        "spring_tired": (0.5, 1.0, len(machine.springs)),
        "counterweight_lost": (0.3, 0.7, len(machine.tub.weights)),
        "counterweight_loose": (0.35, 1.0, len(machine.tub.weights)),
    }[fault]
    which = int(rng.integers(places)) if places else 0
    return with_fault(machine, fault, float(rng.uniform(low, high)), which)


def _worn(machine: Machine, fault: str, rng: np.random.Generator) -> Machine:
    """Take friction away; a lining that lost only its grip keeps its bushing, a worn is soft."""
    which = int(rng.integers(len(machine.dampers))) if fault == "damper_dead" else 0
    spoiled = with_fault(machine, fault, float(rng.uniform(*DAMPING[fault])), which)
    # At 0 a worn lining keeps the stiffness of its bushing, at 1 it loses it with the grip.
    softens = float(rng.uniform(0, 1))
    dampers = tuple(
        replace(worn, bushing_n_m=d.bushing_n_m * (worn.friction_n / d.friction_n) ** softens)
        for worn, d in zip(spoiled.dampers, machine.dampers, strict=True)
    )
    return replace(spoiled, dampers=dampers)


def _short_foot(machine: Machine, rng: np.random.Generator) -> Machine:
    # 2 to 6 mm off the floor: gross enough to matter in every spin (estimate).
    which, gap = int(rng.integers(4)), float(rng.uniform(0.002, 0.006))
    a, b, c, d = (
        replace(foot, length_m=foot.length_m - gap) if i == which else foot
        for i, foot in enumerate(machine.feet)
    )
    return replace(machine, feet=(a, b, c, d))


def _soft_floor(machine: Machine, rng: np.random.Generator) -> Machine:
    # Mass of floor that moves along in kg, its frequency in Hz, its damping ratio.
    moving, f, zeta = rng.uniform(70, 250), rng.uniform(7, 16), rng.uniform(0.02, 0.08)
    # From the frequency in Hz of a floor with that mass moving along.
    stiffness = moving * (2 * np.pi * f) ** 2
    floor = Floor(float(moving), float(stiffness), float(2 * zeta * np.sqrt(stiffness * moving)))
    return replace(machine, floor=floor)


def _heavy(machine: Machine, rng: np.random.Generator) -> Machine:
    """Take the laundry's own unbalance along: the heavy thing lies in it, not across from it."""
    drum = machine.drum
    lump = Unbalance(
        float(rng.uniform(1.2, 2.2)),
        drum.radius_m * 0.9,
        drum.depth_m * float(rng.uniform(0.1, 0.9)),
    )
    # Part of the load is the heavy thing, so less of the rest is off balance.
    rest = tuple(replace(u, mass_kg=0.4 * u.mass_kg) for u in machine.load.unbalances)
    return replace(machine, load=replace(machine.load, unbalances=(*rest, lump)))


def _bolted(machine: Machine, rng: np.random.Generator) -> Machine:
    bolts: Bolts = with_fault(machine, "transit_bolts").bolts
    # In N/m: old spacers of rubber make it softer than the bolts themselves (estimate).
    stiffness = float(np.exp(rng.uniform(np.log(1e5), np.log(9e5))))
    return replace(machine, bolts=replace(bolts, stiffness_n_m=stiffness))


def _bearing(machine: Machine, rng: np.random.Generator) -> Machine:
    # Tilting stiffness in N m/rad of shaft and support, and play in rad.
    hub = Hub(
        float(np.exp(rng.uniform(np.log(7e4), np.log(1.8e5)))),
        bearing_play_rad=float(rng.uniform(1e-3, 5e-3)),
    )
    # Forces in N and times a turn at which balls pass a pit.
    noise = Bearing(
        float(rng.uniform(30, 130)), float(rng.uniform(60, 260)), float(rng.uniform(3.0, 3.7))
    )
    return replace(machine, hub=hub, bearing=noise)


def _support(machine: Machine, rng: np.random.Generator) -> Machine:
    stiff = float(np.exp(rng.uniform(np.log(4e4), np.log(1.2e5))))
    # Stiffness of the cracked arm over that of the others, and how far the crack opens in rad.
    weak, play = float(rng.uniform(0.2, 0.6)), float(rng.uniform(0.002, 0.008))
    return replace(machine, hub=Hub(stiff, weak_n_m_rad=weak * stiff, weak_play_rad=play))


# By how much of its grip each fault robs a damper, 1 being all of it (estimates).
DAMPING = {"damper_dead": (0.85, 1.0), "two_dampers_dead": (0.85, 1.0), "damper_weak": (0.7, 1.0)}
# Faults with sizes of their own here; all others take those of the dynamics room.
OWN_SIZES = {
    "short_foot": _short_foot,
    "soft_floor": _soft_floor,
    "heavy_load": _heavy,
    "transit_bolts": _bolted,
    "bearing_worn": _bearing,
    "drum_support_cracked": _support,
}
