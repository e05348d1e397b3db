"""Rehearsed recordings: machines of the dynamics room, sound and faulty, heard through a phone of the worse kind.

The ranges are wide on purpose: the reading learned from them must hold on machines nobody simulated. Ranges of
machines are those of the dynamics room; all others are estimates.
"""

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.dynamics import Controller, Load, Machine, Phone, Run, SpinProfile, Unbalance, draw, simulate
from counterpoise.dynamics.check import check
from counterpoise.dynamics.faults import with_fault
from counterpoise.dynamics.machine import Bearing, Bolts, Floor
from counterpoise.errors import InputError
from counterpoise.spin.read import recording
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Recording

HEARD_HZ = 400.0


@dataclass(frozen=True)
class Rehearsal:
    """A simulated recording with what was wrong."""

    faults: tuple[str, ...]
    recording: Recording


def machine_of(rng: np.random.Generator) -> Machine:
    """Draw a sound machine; its feet stand within 0.1 mm of each other."""
    machine = draw("front_loader", rng)
    dampers = tuple(replace(d, friction_n=d.friction_n * rng.uniform(0.93, 1.07)) for d in machine.dampers)
    springs = tuple(replace(s, stiffness_n_m=s.stiffness_n_m * rng.uniform(0.98, 1.02)) for s in machine.springs)
    damping, side = float(rng.uniform(300, 1600)), float(rng.uniform(0.3, 0.8))
    wide, deep, soft = rng.uniform(0.9, 1.08), rng.uniform(0.9, 1.12), float(np.exp(rng.uniform(np.log(0.55), 0.1)))
    one, two, three, four = (
        replace(
            foot,
            length_m=float(rng.uniform(0, 1e-4)),
            stiffness_n_m=foot.stiffness_n_m * soft,
            damping_n_s_m=damping,
            side_share=side,
            place_m=(foot.place_m[0] * wide, foot.place_m[1] * deep, 0.0),
        )
        for foot in machine.feet
    )
    return replace(machine, dampers=dampers, springs=springs, feet=(one, two, three, four))


def loaded(machine: Machine, rng: np.random.Generator) -> Machine:
    """Wet laundry, some of it out of balance."""
    drum = machine.drum
    lump = Unbalance(
        float(np.exp(rng.uniform(np.log(0.12), np.log(0.75)))),
        drum.radius_m * float(rng.uniform(0.8, 1.0)),
        drum.depth_m * float(rng.uniform(0.05, 0.95)),
        float(rng.uniform(0, 2 * np.pi)),
    )
    return replace(machine, load=Load(float(rng.uniform(2, 8)), (lump,), int(rng.integers(3, 8))))


def spoil(machine: Machine, fault: str, rng: np.random.Generator) -> Machine:
    """Put one fault in, of random size and place."""
    if fault in OWN_SIZES:
        return OWN_SIZES[fault](machine, rng)
    low, high, places = {
        "damper_dead": (0.85, 1.0, len(machine.dampers)),
        "two_dampers_dead": (0.85, 1.0, 0),
        "damper_weak": (0.65, 1.0, 0),
        "spring_off": (1.0, 1.0, len(machine.springs)),
        "spring_tired": (0.5, 1.0, len(machine.springs)),
        "counterweight_lost": (0.3, 0.7, len(machine.tub.weights)),
        "counterweight_loose": (0.3, 1.0, len(machine.tub.weights)),
        "drum_support_cracked": (0.5, 1.0, 0),
    }[fault]
    which = int(rng.integers(places)) if places else 0
    return with_fault(machine, fault, float(rng.uniform(low, high)), which)


def _short_foot(machine: Machine, rng: np.random.Generator) -> Machine:
    which, gap = int(rng.integers(4)), float(rng.uniform(0.002, 0.006))
    one, two, three, four = (
        replace(foot, length_m=foot.length_m - gap) if i == which else foot for i, foot in enumerate(machine.feet)
    )
    return replace(machine, feet=(one, two, three, four))


def _soft_floor(machine: Machine, rng: np.random.Generator) -> Machine:
    moving, f, zeta = rng.uniform(70, 250), rng.uniform(7, 16), rng.uniform(0.02, 0.08)
    stiffness = moving * (2 * np.pi * f) ** 2
    floor = Floor(float(moving), float(stiffness), float(2 * zeta * np.sqrt(stiffness * moving)))
    return replace(machine, floor=floor)


def _heavy(machine: Machine, rng: np.random.Generator) -> Machine:
    drum = machine.drum
    lump = Unbalance(float(rng.uniform(1.1, 2.4)), drum.radius_m * 0.9, drum.depth_m * float(rng.uniform(0.2, 0.8)))
    return replace(machine, load=replace(machine.load, unbalances=(*machine.load.unbalances, lump)))


def _bolted(machine: Machine, rng: np.random.Generator) -> Machine:
    bolts: Bolts = with_fault(machine, "transit_bolts").bolts
    stiffness = float(np.exp(rng.uniform(np.log(1e5), np.log(9e5))))
    return replace(machine, bolts=replace(bolts, stiffness_n_m=stiffness))


def _bearing(machine: Machine, rng: np.random.Generator) -> Machine:
    worn = with_fault(machine, "bearing_worn", float(rng.uniform(0.5, 1.0)))
    noise = Bearing(float(rng.uniform(30, 130)), float(rng.uniform(60, 260)), float(rng.uniform(3.0, 3.7)))
    return replace(worn, bearing=noise)


OWN_SIZES = {
    "short_foot": _short_foot,
    "soft_floor": _soft_floor,
    "heavy_load": _heavy,
    "transit_bolts": _bolted,
    "bearing_worn": _bearing,
}


def profile(rng: np.random.Generator, top_rpm: float) -> SpinProfile:
    """Tumble, distribute (once or twice), two holds on the way, full speed, coast."""
    still = rng.uniform(1, 5)
    points = [(0.0, 0.0), (still, 0.0)]

    def to(seconds: float, rpm: float) -> None:
        points.append((points[-1][0] + float(seconds), float(rpm)))

    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    for _ in range(1 + int(rng.random() < 0.25)):
        to(2.0, tumble)
        to(rng.uniform(4, 9), tumble)
        to(3.0, even)
        to(rng.uniform(6, 11), even)
    for rpm in (rng.uniform(370, 440), rng.uniform(620, 820), top_rpm):
        to((rpm - points[-1][1]) / rng.uniform(22, 48), rpm)
        to(rng.uniform(4, 8), rpm)
    to(rng.uniform(10, 18), top_rpm)
    to(top_rpm / rng.uniform(80, 150), 0.0)
    to(2.0, 0.0)
    return SpinProfile(tuple(points))


def run_of(rng: np.random.Generator, top_rpm: float, phone: Phone, *, cautious: bool) -> Run:
    """Draw a spin; a cautious controller gives up on a speed ripple or a travel of the tub that others let pass."""
    control = Controller(ripple_limit=float(rng.uniform(0.1, 0.35)), attempts=3) if rng.random() < 0.25 else None
    if cautious:
        control = Controller(
            ripple_limit=float(np.exp(rng.uniform(np.log(0.008), np.log(0.05)))),
            attempts=int(rng.integers(2, 5)),
            travel_m=float(rng.uniform(0.012, 0.022)) if rng.random() < 0.5 else 0.0,
        )
    return Run(profile(rng, top_rpm), control, phone, seed=int(rng.integers(2**31)))


def phone_of(rng: np.random.Generator) -> Phone:
    """Lay a phone anywhere on the panel, turned anyhow, nearly flat."""
    return Phone(
        float(rng.uniform(-0.22, 0.22)),
        float(rng.uniform(-0.22, 0.22)),
        float(rng.uniform(-np.pi, np.pi)),
        float(rng.normal(0, 0.01)),
        float(rng.normal(0, 0.01)),
    )


def through_phone(t_s: Floats, acc_ms2: Floats, rng: np.random.Generator) -> Recording:
    """Sample as a phone does: own rate and jitter, filter or none, noise, range, rounding, drop-outs."""
    rate = float(rng.choice([60, 100, 200])) * rng.uniform(0.985, 1.015)
    if rng.random() < 0.5:
        acc_ms2 = _low_pass(acc_ms2, 0.45 * rate)
    ticks = np.arange(t_s[0], t_s[-1], 1 / rate)
    at = ticks + rng.uniform(0.005, 0.06) * rng.standard_normal(len(ticks)) / rate
    at = np.sort(at[(at > t_s[0]) & (at < t_s[-1])])
    at = at[rng.random(len(at)) > rng.choice([0.0, 0.001])]
    seen = np.column_stack([np.interp(at, t_s, axis) for axis in acc_ms2.T])
    seen = seen * rng.normal(1, 0.005, 3) + rng.normal(0, 0.05, 3)
    seen += rng.normal(0, rng.uniform(0.001, 0.004) * np.sqrt(rate / 2), seen.shape)
    most = float(rng.choice([4, 8])) * GRAVITY_MS2
    step = float(rng.choice([2 * most / 2 ** rng.integers(12, 17), 0.1 if rate < 70 else 0.005]))
    seen = np.round(np.clip(seen, -most, most) / step) * step
    at = np.unique(at)
    return recording(at - at[0], seen[: len(at)])


def _low_pass(acc_ms2: Floats, edge_hz: float) -> Floats:
    spectrum = np.fft.rfft(acc_ms2, axis=0)
    f = np.fft.rfftfreq(len(acc_ms2), 1 / HEARD_HZ)
    filtered: Floats = np.fft.irfft(spectrum / np.sqrt(1 + (f / edge_hz) ** 8)[:, None], len(acc_ms2), axis=0)
    return filtered


@dataclass(frozen=True)
class Bench:
    """One sound machine, its top speed and where its phone usually lies."""

    machine: Machine
    top_rpm: float
    phone: Phone


def bench_of(rng: np.random.Generator) -> Bench:
    """Draw a machine; one that the dynamics room refuses is drawn again."""
    for _ in range(100):
        try:
            machine = machine_of(rng)
            check(machine)
            return Bench(machine, float(rng.uniform(900, 1450)), phone_of(rng))
        except InputError:
            continue
    raise InputError("no machine could be drawn in 100 trials", remedy="Check the ranges of the machine family")


def rehearse(
    bench: Bench, faults: tuple[str, ...], rng: np.random.Generator, *, cautious: bool = False
) -> Rehearsal | None:
    """One recording with these faults put in, () for sound; None where the machine broke loose at once."""
    spoiled = loaded(bench.machine, rng)
    for fault in faults:
        spoiled = spoil(spoiled, fault, rng)
    phone = bench.phone if rng.random() < 0.6 else phone_of(rng)
    result = simulate(spoiled, run_of(rng, bench.top_rpm, phone, cautious=cautious), HEARD_HZ)
    whole = np.isfinite(result.panel_m_s2.sum(axis=1))
    end = len(whole) if whole.all() else int(np.argmin(whole))
    if end < 25 * HEARD_HZ:
        return None
    return Rehearsal(faults, through_phone(result.t_s[:end], result.panel_m_s2[:end], rng))
