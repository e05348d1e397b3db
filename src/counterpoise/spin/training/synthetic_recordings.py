"""Synthetic recordings: machines of the dynamics room as a poor phone records them.

The ranges are wide on purpose, as in ``random_machines``; all of them are estimates.
"""

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.dynamics import Controller, Machine, Phone, Run, SpinProfile, SpinResult, simulate
from counterpoise.dynamics.motion.check import check
from counterpoise.dynamics.motion.speed_control import speed_ripple
from counterpoise.errors import InputError
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Recording
from counterpoise.spin.training.field_conditions import (
    Panel,
    field_profile,
    field_recording,
    random_panel,
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


@dataclass(frozen=True)
class SyntheticSpin:
    """One simulated spin and its faults, as two phones of different kinds would record it."""

    faults: tuple[str, ...]
    recordings: tuple[Recording, ...]
    # (2, n) at 10 Hz for each recording: s, true rpm; what the reader's speed is held against.
    truths: tuple[Floats, ...] = ()


@dataclass(frozen=True)
class AbortLimits:
    """What a controller minds at distribution speed, and how often it tries.

    ``ripple`` is a share of the speed, ``travel_m`` the way of the tub in m.
    """

    ripple: float
    travel_m: float
    attempts: int

    def aborts(self, machine: Machine, spin: SpinProfile, result: SpinResult) -> bool:
        """Whether it would not have let this spin go on."""
        end_s, rpm = distribution_end(spin)
        last = (result.t_s > end_s - 3) & (result.t_s < end_s)
        travel = np.hypot(result.tub_centre_m[last, 0], result.tub_centre_m[last, 2])
        return (
            speed_ripple(machine, rpm) > self.ripple
            or float(travel.max(initial=0.0)) > self.travel_m
        )


def random_abort_limits(rng: np.random.Generator) -> AbortLimits:
    """Draw the limits of a controller: ripple 1.2 to 8 %, travel 4 to 20 mm, 2 to 4 attempts."""
    ripple_limit, travel = np.exp(rng.uniform(np.log([0.012, 0.004]), np.log([0.08, 0.02])))
    return AbortLimits(float(ripple_limit), float(travel), int(rng.integers(2, 5)))


def random_profile(rng: np.random.Generator, top_rpm: float) -> SpinProfile:
    """Tumble, distribute (once or twice), two holds on the way, full speed in rpm, coast."""
    # At rest for a moment: somebody presses start and steps back.
    points = [(0.0, 0.0), (float(rng.uniform(1, 5)), 0.0)]
    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    for _ in range(1 + int(rng.random() < 0.25)):
        _distribute(points, tumble, even, rng)
    # Two holds on the way, where controllers look whether the load sits well.
    for rpm in (rng.uniform(370, 440), rng.uniform(620, 820), top_rpm):
        _to(points, (rpm - points[-1][1]) / rng.uniform(22, 48), rpm)
        _to(points, rng.uniform(4, 8), rpm * rng.uniform(0.997, 1.003))
    _to(points, rng.uniform(10, 18), top_rpm)
    # Motors brake at 80 to 150 rpm a second (estimate).
    _to(points, top_rpm / rng.uniform(80, 150), 0.0)
    _to(points, 2.0, 0.0)
    return SpinProfile(tuple(points))


def _to(points: list[tuple[float, float]], seconds: float, rpm: float) -> None:
    points.append((points[-1][0] + float(seconds), float(rpm)))


def _distribute(
    points: list[tuple[float, float]], tumble: float, even: float, rng: np.random.Generator
) -> None:
    _to(points, 2.0, tumble)
    _to(points, rng.uniform(4, 9), tumble)
    _to(points, 3.0, even)
    _to(points, rng.uniform(6, 11), even * rng.uniform(0.98, 1.02))


def distribution_end(spin: SpinProfile) -> tuple[float, float]:
    """End in s and speed in rpm of the last distribution before the climb."""
    climb = next(i for i, (_, rpm) in enumerate(spin.points) if rpm > 200)
    return spin.points[climb - 1]


def aborted_profile(attempts: int, rng: np.random.Generator) -> SpinProfile:
    """Tumble and distribute ``attempts`` times over, then stop; never above 110 rpm."""
    points = [(0.0, 0.0), (float(rng.uniform(1, 5)), 0.0)]
    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    for _ in range(attempts):
        _distribute(points, tumble, even, rng)
    _to(points, rng.uniform(1, 4), 0.0)
    _to(points, 4.0, 0.0)
    return SpinProfile(tuple(points))


def simulated_spin(
    machine: Machine,
    setup: "MachineSetup",
    rng: np.random.Generator,
    *,
    aborts_easily: bool,
    field: bool = False,
) -> SpinResult:
    """Simulate one spin; one that an easily aborting controller minds is run again as cut short.

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
    result = simulate(machine, run, PANEL_RATE_HZ)
    if aborts_easily and limits.aborts(machine, spin, result):
        result = simulate(
            machine, replace(run, profile=aborted_profile(limits.attempts, rng)), PANEL_RATE_HZ
        )
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
        acc_ms2 = _low_pass(acc_ms2, 0.45 * rate)
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


def _low_pass(acc_ms2: Floats, edge_hz: float) -> Floats:
    spectrum = np.fft.rfft(acc_ms2, axis=0)
    f = np.fft.rfftfreq(len(acc_ms2), 1 / PANEL_RATE_HZ)
    filtered: Floats = np.fft.irfft(
        # Fourth order, as the filter in a sensor of the better kind.
        spectrum / np.sqrt(1 + (f / edge_hz) ** 8)[:, None],
        len(acc_ms2),
        axis=0,
    )
    return filtered


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


def synthetic_spin(
    setup: MachineSetup,
    faults: tuple[str, ...],
    rng: np.random.Generator,
    *,
    aborts_easily: bool = False,
    panels: tuple[Panel, ...] = (),
) -> SyntheticSpin | None:
    """One spin with these faults put in, () for sound; None where the machine broke loose.

    With ``panels``, one for each phone, under the conditions of the field; else as a phone lying
    flat in a quiet room records it.
    """
    # The load first: some faults depend on what lies in the drum.
    spoiled = with_random_load(setup.machine, rng, well_spread=bool(panels))
    for fault in faults:
        spoiled = with_random_fault(spoiled, fault, rng)
    result = simulated_spin(spoiled, setup, rng, aborts_easily=aborts_easily, field=bool(panels))
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
        heard = [field_recording(result, panel, PANEL_RATE_HZ, rng) for panel in panels]
        return SyntheticSpin(
            faults, tuple(each for each, _ in heard), tuple(true for _, true in heard)
        )
    plain = [phone_recording(result.t_s, result.panel_m_s2, rng) for _ in range(PHONES_PER_SPIN)]
    coarse = np.arange(result.t_s[0], result.t_s[-1], 0.1)
    truth = np.stack([coarse - result.t_s[0], np.interp(coarse, result.t_s, result.drum_rpm)])
    return SyntheticSpin(faults, tuple(plain), (truth,) * PHONES_PER_SPIN)
