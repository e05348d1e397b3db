"""Run one machine, or many, through a spin."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import ceil, cos, sin
from typing import NamedTuple

import numpy as np

from counterpoise.dynamics.kernels.integration import integrate
from counterpoise.dynamics.kernels.layout import (
    BUSHING_STIFFNESS,
    CUT_TIME,
    DRY_FRICTION,
    FOOT_STIFFNESS,
    GROUP_MASS,
    SETTLING_SPEED,
    STRUT_VISCOUS,
)
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.check import check, check_run
from counterpoise.dynamics.motion.equilibrium import new_state, new_workspace, static_equilibrium
from counterpoise.dynamics.motion.pack import RPM, Floats, MachineArrays, pack, tub_group
from counterpoise.dynamics.motion.run import Phone, Run
from counterpoise.dynamics.motion.speed_control import drive_table, tumbling_forces
from counterpoise.errors import InputError

# Forces of tumbling laundry a second: a blow lasts ten of them.
LUMP_RATE = 200.0
# Longest step, s; half of it changes less than 1 % where nothing knocks (``docs/dynamics.md``).
STEP_S = 5e-4
# Share of the quickest natural motion's 1/omega that a step may take, so that it stays stable
# with room to spare.
STABLE_SHARE = 0.16
# Cut-off of the rumble's low-pass, Hz (estimate): above it a real panel rings and this one not.
RUMBLE_HZ = 120.0


class RunArrays(NamedTuple):
    """A run as arrays, as ``kernels.integration`` reads them."""

    dt: float
    every: int
    profile: Floats  # (p, 2): time in s, speed in rad/s
    lump_rate: float
    lumps: Floats  # (l, 2): force x, z in N on the tub from tumbling laundry
    phone: Floats  # (4, 3): point, then the phone's axes, in cabinet axes
    watch: Floats  # (2, 6): two tub points and the cabinet points they are measured from
    rest: Floats  # (3,): tub less cabinet at rest
    limits: Floats  # (5,): travel switch, brake, filter of the noise


class Samples(NamedTuple):
    """Sampled arrays of n rows that the kernel fills."""

    panel: Floats  # (n, 3)
    tub: Floats  # (n, 2, 3)
    foot: Floats  # (n, 4, 3)
    place: Floats  # (n, 4, 2)
    stop: Floats  # (n,)
    drum: Floats  # (n, 3)
    state: Floats  # (n, 36), or no rows where the states are not kept


@dataclass(frozen=True)
class SpinResult:
    """One simulated spin, n samples.

    ``panel_m_s2`` (n, 3): specific force at the phone in the phone's axes, gravity included (z
    about +9.81 at rest). ``tub_m`` (n, 3): watched tub point relative to the cabinet, less its
    place at rest; ``tub_centre_m`` the same for the drum's middle. ``foot_n`` (n, 4, 3): force of
    the floor on each foot (front left, front right, rear left, rear right), z up. ``walked_m``
    (n, 4, 2): where each foot sticks to the floor. ``stop_n`` (n,): largest force in the stops
    since the last sample. ``gave_up``: the controller cut the spin. ``complete`` is False when the
    machine tipped or the tub broke loose: the arrays end there.
    """

    t_s: Floats
    drum_rpm: Floats
    drum_rad: Floats
    panel_m_s2: Floats
    tub_m: Floats
    tub_centre_m: Floats
    foot_n: Floats
    walked_m: Floats
    stop_n: Floats
    gave_up: bool
    complete: bool
    state: Floats

    @property
    def struck(self) -> bool:
        """Whether the tub touched a stop."""
        return bool(np.any(self.stop_n > 0.0))


def phone_rows(machine: Machine, phone: Phone) -> Floats:
    """The phone's place from the cabinet's centre (m) and its three axes, as rows (4, 3)."""
    top = np.array([phone.x_m, phone.y_m, machine.cabinet.size_m[2]])
    c, s = cos(phone.yaw_rad), sin(phone.yaw_rad)
    yaw = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    c, s = cos(phone.pitch_rad), sin(phone.pitch_rad)
    pitch = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    c, s = cos(phone.roll_rad), sin(phone.roll_rad)
    roll = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    return np.vstack([top - np.array(machine.cabinet.centre_m), (yaw @ pitch @ roll).T])


def watch_points(machine: Machine, watch_m: Vector | None) -> Floats:
    """Watched tub point and drum's middle, each with its cabinet point (2, 6); None: the middle."""
    group, drum = tub_group(machine), machine.drum
    axis = np.array(drum.axis) / np.linalg.norm(drum.axis)
    middle = np.array(drum.hub_m) + 0.5 * drum.depth_m * axis
    points = (middle if watch_m is None else np.array(watch_m), middle)
    cab = np.array(machine.cabinet.centre_m)
    return np.array([[*(p - group.centre_m), *(p - cab)] for p in points])


def time_step(par: MachineArrays, sample_rate_hz: float) -> tuple[float, int]:
    """Step in s and whole steps a sample, as long as the stiffest part of the machine allows."""
    # a quarter of the tub group: what a damper at one end of it has to move
    struts, light = par.struts, min(par.cabinet[0], par.drum[GROUP_MASS] / 4)
    # Hard friction on rigid bushings is the steepest damping there is.
    hard = struts[:, BUSHING_STIFFNESS] <= 0.0
    slope = float(
        np.sum(struts[hard, DRY_FRICTION] / struts[hard, SETTLING_SPEED])
        + np.sum(struts[:, STRUT_VISCOUS])
    )
    ties = float(par.ties[:, 6:9].max(axis=1, initial=0.0).sum()) + 1.0
    # 1/omega of tub and cabinet on their stiffest springs
    quick = min(
        float(np.sqrt(light / ties)),
        float(np.sqrt(par.cabinet[0] / (ties + par.feet[:, FOOT_STIFFNESS].sum()))),
    )
    longest = min(STEP_S, light / max(slope, 1.0), STABLE_SHARE * quick)
    every = max(1, ceil(1.0 / (sample_rate_hz * longest) - 1e-9))
    return 1.0 / (sample_rate_hz * every), every


def pack_run(machine: Machine, run: Run, step: tuple[float, int], q: Floats) -> RunArrays:
    """Run to arrays, for a step in s and steps a sample, with the machine at rest in q (18,)."""
    dt, every = step
    table = drive_table(machine, run)
    control = run.controller
    switch = (
        (control.travel_m, control.travel_from_rpm, control.brake_rpm_s)
        if control
        else (0.0, 0.0, 1.0)
    )
    smooth = min(1.0, 2 * np.pi * RUMBLE_HZ * dt)
    # Even noise from -1 to 1 has a variance of 1/3 and the filter takes smooth / (2 - smooth) of
    # it: the gain makes the rumble's root mean square 1 whatever the step.
    gain = np.sqrt(3.0 * (2.0 - smooth) / smooth)
    return RunArrays(
        dt=dt,
        every=every,
        profile=table,
        lump_rate=LUMP_RATE,
        lumps=tumbling_forces(machine, table, run.seed, LUMP_RATE),
        phone=phone_rows(machine, run.phone),
        watch=watch_points(machine, run.watch_m),
        rest=q[6:9] - q[0:3],
        limits=np.array([switch[0], switch[1] * RPM, switch[2] * RPM, smooth, gain]),
    )


def new_samples(samples: int, states: int) -> Samples:
    """Arrays for so many samples, and for so many states beside them."""
    z = np.zeros
    return Samples(
        panel=z((samples, 3)),
        tub=z((samples, 2, 3)),
        foot=z((samples, 4, 3)),
        place=z((samples, 4, 2)),
        stop=z(samples),
        drum=z((samples, 3)),
        state=z((states, 36)),
    )


def spin_result(
    run: RunArrays, out: Samples, at_rest: Floats, *, gave_up: bool, complete: bool
) -> SpinResult:
    """Samples in the units of the border; ``at_rest`` (2, 3): the watched points at rest, m."""
    n = out.stop.shape[0]
    tub = out.tub - at_rest
    return SpinResult(
        t_s=np.arange(n, dtype=np.float64) * (run.dt * run.every),
        drum_rpm=out.drum[:, 1] / RPM,
        drum_rad=out.drum[:, 0],
        panel_m_s2=out.panel,
        tub_m=tub[:, 0],
        tub_centre_m=tub[:, 1],
        foot_n=out.foot,
        walked_m=out.place,
        stop_n=out.stop,
        gave_up=gave_up,
        complete=complete,
        state=out.state,
    )


def watched_at_rest(par: MachineArrays, run: RunArrays, q: Floats) -> Floats:
    """Where the watched points are at rest (2, 3), m."""
    # one sample of the same kernel, so that nothing is left where the machine does not move
    still = new_samples(1, 0)
    integrate(par, run, new_state(q), still, new_workspace())
    at_rest: Floats = still.tub[0]
    return at_rest


def simulate(
    machine: Machine, run: Run, sample_rate_hz: float = 200.0, *, keep_state: bool = False
) -> SpinResult:
    """Run one machine through one spin, from rest; the same input gives the same numbers.

    Raises InputError for a machine or run that makes no sense.
    """
    check(machine)
    check_run(machine, run, sample_rate_hz)
    return simulate_arrays(pack(machine), machine, run, sample_rate_hz, keep_state=keep_state)


def simulate_arrays(
    par: MachineArrays,
    machine: Machine,
    run: Run,
    sample_rate_hz: float,
    *,
    keep_state: bool = False,
    finer: float = 1,
) -> SpinResult:
    """Run packed arrays, unchecked; ``finer`` divides the step, to a whole number a sample."""
    q = static_equilibrium(par)
    dt, every = time_step(par, sample_rate_hz)
    steps = max(1, round(every * finer))
    arrays = pack_run(machine, run, (dt * every / steps, steps), q)
    samples = int(arrays.profile[-1, 0] * sample_rate_hz + 1e-9) + 1
    out = new_samples(samples, samples if keep_state else 0)
    state = new_state(q, float(arrays.profile[0, 1]), run.seed)
    held = integrate(par, arrays, state, out, new_workspace())
    # A controller that does not like the load never asks for the speed that was wanted.
    refused = bool(
        arrays.profile[:, 1].max() < RPM * max(rpm for _, rpm in run.profile.points) - 1e-9
    )
    return spin_result(
        arrays,
        Samples(*(a[:held] for a in out)),
        watched_at_rest(par, arrays, q),
        gave_up=refused or bool(state.memory[CUT_TIME] >= 0.0),
        complete=held == samples,
    )


def simulate_many(
    machines: Sequence[Machine],
    runs: Sequence[Run] | Run,
    sample_rate_hz: float = 200.0,
    *,
    workers: int = 2,
) -> list[SpinResult]:
    """Run many machines, each through its own run (or all through one).

    Results in the order given, whatever the number of workers. Raises InputError where runs and
    machines differ in number.
    """
    each = [runs] * len(machines) if isinstance(runs, Run) else list(runs)
    if len(each) != len(machines):
        raise InputError(
            f"{len(machines)} machines but {len(each)} runs",
            field="runs",
            remedy="give one run, or one for each machine",
        )
    # Threads, not processes: the kernels let go of the interpreter, and results need no copying.
    with ThreadPoolExecutor(max_workers=workers) as pool:
        return list(
            pool.map(
                lambda pair: simulate(pair[0], pair[1], sample_rate_hz),
                zip(machines, each, strict=True),
            )
        )
