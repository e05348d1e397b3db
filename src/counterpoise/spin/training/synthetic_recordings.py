"""Synthetic recordings: machines of the dynamics room as a poor phone records them.

The ranges are wide on purpose, as in ``random_machines``; all of them are estimates.
"""

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

import numpy as np

from counterpoise.dynamics import Controller, Machine, Phone, Run, SpinResult, simulate
from counterpoise.dynamics.motion.check import check
from counterpoise.errors import InputError
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Recording
from counterpoise.spin.training.field_conditions import (
    Panel,
    field_profile,
    field_recording,
    low_passed,
    random_panel,
)
from counterpoise.spin.training.programmes import (
    aborted_profile,
    random_abort_limits,
    random_profile,
)
from counterpoise.spin.training.random_machines import (
    random_machine,
    with_random_fault,
    with_random_load,
)

# Well above every phone, so that what a phone lets fold has something to fold.
PANEL_RATE_HZ = 400.0
# Two phones of different kinds hear each spin: one recording of sound baseline and test need
# not come from the same phone.
PHONES_PER_SPIN = 2
# A machine that broke loose earlier than this left nothing to read.
LEAST_SPIN_S = 25
Kept = TypeVar("Kept")
# Asks for a machine and its run, is sent the spin, and may ask again before it returns what it
# kept: so whoever has an accelerator can answer thousands at once, with the same draws.
Asking: TypeAlias = Generator[tuple[Machine, Run], SpinResult, Kept]


@dataclass(frozen=True)
class SyntheticSpin:
    """One simulated spin and its faults, as two phones of different kinds would record it."""

    faults: tuple[str, ...]
    recordings: tuple[Recording, ...]
    # (2, n) at 10 Hz for each recording: s, true rpm; what the reader's speed is held against.
    truths: tuple[Floats, ...] = ()


def asked_spins(
    machine: Machine,
    setup: "MachineSetup",
    rng: np.random.Generator,
    *,
    aborts_easily: bool,
    field: bool = False,
) -> Asking[SpinResult]:
    """Ask for one spin; for one that an easily aborting controller minds again, cut short.

    ``field``: with a programme and a place of the phone as wide as the field's.
    """
    elsewhere = random_place if field else random_phone
    phone = setup.phone if rng.random() < 0.6 else elsewhere(rng)
    limits = random_abort_limits(rng)
    profile = field_profile if field else random_profile
    spin = profile(rng, setup.top_rpm)
    # Others let pass all but what no machine would spin.
    usual = (
        Controller(ripple_limit=float(rng.uniform(0.1, 0.35)), attempts=3)
        if rng.random() < 0.25
        else None
    )
    run = Run(spin, None if aborts_easily else usual, phone, seed=int(rng.integers(2**31)))
    result = yield machine, run
    if aborts_easily and limits.aborts(machine, spin, result):
        result = yield machine, replace(run, profile=aborted_profile(limits.attempts, rng))
    return result


def random_phone(rng: np.random.Generator) -> Phone:
    """Lay a phone anywhere on the panel, turned anyhow, nearly flat."""
    return Phone(
        float(rng.uniform(-0.22, 0.22)),
        float(rng.uniform(-0.22, 0.22)),
        float(rng.uniform(-np.pi, np.pi)),
        float(rng.normal(0, 0.01)),
        float(rng.normal(0, 0.01)),
    )


def random_place(rng: np.random.Generator) -> Phone:
    """Put a sensor on the top, on the upper end of a side panel, or on that of the front.

    Measured recordings are of a side panel; how often each is chosen is an estimate.
    """
    phone = random_phone(rng)
    chosen = rng.random()
    if chosen < 0.55:
        return phone
    # Taped upright: turned about its own edge, and anyhow in the plane of the panel.
    if chosen < 0.85:
        side = float(rng.choice([-1.0, 1.0]))
        return replace(phone, x_m=0.3 * side, yaw_rad=0.0, roll_rad=side * np.pi / 2)
    return replace(phone, y_m=-0.3, yaw_rad=0.0, pitch_rad=np.pi / 2)


def random_panels(rng: np.random.Generator) -> tuple[Panel, ...]:
    """Draw the panels of one machine under its phones; half of the time both lie at one place."""
    first, second = random_panel(rng), random_panel(rng)
    same = rng.random() < 0.5
    return first, replace(
        second,
        modes=first.modes if same else second.modes,
        motor_order=first.motor_order,
        motor_ms2=first.motor_ms2 if same else second.motor_ms2,
        bend=first.bend if same else second.bend,
    )


def phone_recording(t_s: Floats, acc_ms2: Floats, rng: np.random.Generator) -> Recording:
    """Sample panel motion (n,) s, (n, 3) m/s2 as a phone does.

    Own rate and jitter, filter or none, noise, range, rounding, drop-outs.
    """
    rate = float(rng.choice([60, 100, 200])) * rng.uniform(0.985, 1.015)
    if rng.random() < 0.5:
        acc_ms2 = low_passed(acc_ms2, PANEL_RATE_HZ, 0.45 * rate)
    ticks = np.arange(t_s[0], t_s[-1], 1 / rate)
    # Jitter as a share of the step between samples.
    at = ticks + rng.uniform(0.005, 0.06) * rng.standard_normal(len(ticks)) / rate
    at = np.sort(at[(at > t_s[0]) & (at < t_s[-1])])
    at = at[rng.random(len(at)) > rng.choice([0.0, 0.001])]
    readings = np.column_stack([np.interp(at, t_s, axis) for axis in acc_ms2.T])
    # Errors of scale and offset, each axis its own.
    readings = readings * rng.normal(1, 0.005, 3) + rng.normal(0, 0.05, 3)
    readings += rng.normal(0, rng.uniform(0.001, 0.004) * np.sqrt(rate / 2), readings.shape)
    # Range of the sensor and the rounding of its converter, or of the program.
    most = float(rng.choice([4, 8])) * GRAVITY_MS2
    step = float(rng.choice([2 * most / 2 ** rng.integers(12, 17), 0.1 if rate < 70 else 0.005]))
    readings = np.round(np.clip(readings, -most, most) / step) * step
    at = np.unique(at)
    return recording_from_samples(at - at[0], readings[: len(at)])


@dataclass(frozen=True)
class MachineSetup:
    """One sound machine, its top speed in rpm and where its phone usually lies."""

    machine: Machine
    top_rpm: float
    phone: Phone


def random_setup(rng: np.random.Generator) -> MachineSetup:
    """Draw a machine; one that the dynamics room refuses is drawn again.

    Raises InputError after 100 refusals.
    """
    # Some draws cannot stand, such as a tub that hangs on its stops.
    for _ in range(100):
        try:
            machine = random_machine(rng)
            check(machine)
            return MachineSetup(machine, float(rng.uniform(900, 1450)), random_phone(rng))
        except InputError:
            continue
    raise InputError(
        "no machine could be drawn in 100 trials", remedy="Check the ranges of the machine family"
    )


def asked_recordings(
    setup: MachineSetup,
    faults: tuple[str, ...],
    rng: np.random.Generator,
    *,
    aborts_easily: bool = False,
    panels: tuple[Panel, ...] = (),
    phones: tuple[int, ...] = tuple(range(PHONES_PER_SPIN)),
) -> Asking[SyntheticSpin | None]:
    """Ask for one spin with these faults put in, () for sound; None where the machine broke loose.

    Heard by ``phones``. With ``panels``, one for each phone, under the conditions of the field;
    else as phones lying flat in a quiet room record it.
    """
    # The load first: some faults depend on what lies in the drum.
    spoiled = with_random_load(setup.machine, rng, well_spread=bool(panels))
    for fault in faults:
        spoiled = with_random_fault(spoiled, fault, rng)
    result = yield from asked_spins(
        spoiled, setup, rng, aborts_easily=aborts_easily, field=bool(panels)
    )
    # The simulation ends where the machine tips or the tub breaks loose.
    whole = np.isfinite(result.panel_m_s2.sum(axis=1))
    end = len(whole) if whole.all() else int(np.argmin(whole))
    # Broken off before it spun or stood still, a run shows nothing that a machine would do.
    stood = abs(float(result.drum_rpm[end - 1])) < 5
    if end < LEAST_SPIN_S * PANEL_RATE_HZ or not (stood or result.drum_rpm[:end].max() > 250):
        return None
    result = replace(
        result,
        t_s=result.t_s[:end],
        panel_m_s2=result.panel_m_s2[:end],
        drum_rpm=result.drum_rpm[:end],
        drum_rad=result.drum_rad[:end],
    )
    if panels:
        heard = [field_recording(result, panels[i], PANEL_RATE_HZ, rng) for i in phones]
        return SyntheticSpin(
            faults, tuple(each for each, _ in heard), tuple(true for _, true in heard)
        )
    plain = [phone_recording(result.t_s, result.panel_m_s2, rng) for _ in phones]
    coarse = np.arange(result.t_s[0], result.t_s[-1], 0.1)
    truth = np.stack([coarse - result.t_s[0], np.interp(coarse, result.t_s, result.drum_rpm)])
    return SyntheticSpin(faults, tuple(plain), (truth,) * len(phones))


def answered(asking: Asking[Kept]) -> Kept:
    """Simulate here whatever is asked for, and return what comes of it."""
    try:
        machine, run = next(asking)
        while True:
            machine, run = asking.send(simulate(machine, run, PANEL_RATE_HZ))
    except StopIteration as end:
        kept: Kept = end.value
        return kept
