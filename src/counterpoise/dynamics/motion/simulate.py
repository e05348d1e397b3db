"""Run one machine, or many, through a spin."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import ceil, cos, sin
from typing import NamedTuple

import numpy as np

from counterpoise.dynamics.kernels.motion import integrate
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.check import check, check_run
from counterpoise.dynamics.motion.equilibrium import new_state, new_work, rest
from counterpoise.dynamics.motion.pack import RPM, Floats, Par, pack, tub_group
from counterpoise.dynamics.motion.run import Phone, Run
from counterpoise.dynamics.motion.speed_control import drive_table, tumbling
from counterpoise.errors import InputError

LUMP_RATE = 200.0
STEP_S = 5e-4


class KernelRun(NamedTuple):
    """A run as arrays, as ``kernels.motion`` reads them."""

    dt: float
    every: int
    profile: Floats  # time, rad/s
    lump_rate: float
    lumps: Floats  # force x, z on the tub from tumbling laundry
    phone: Floats  # point, then the phone's axes, in cabinet axes
    watch: Floats  # two tub points and the cabinet points they are measured from
    rest: Floats  # tub less cabinet at rest
    limits: Floats  # travel switch m, from rad/s, brake rad/s2, noise filter share, its gain


class Out(NamedTuple):
    """Sampled arrays the kernel fills."""

    panel: Floats
    tub: Floats
    foot: Floats
    place: Floats
    stop: Floats
    drum: Floats
    state: Floats


@dataclass(frozen=True)
class SpinResult:
    """One simulated spin, n samples.

    ``panel_m_s2`` (n, 3): specific force at the phone in the phone's axes, gravity included (z about +9.81 at rest).
    ``tub_m`` (n, 3): watched
    tub point relative to the cabinet, less its place at rest; ``tub_centre_m`` the same for the drum's middle.
    ``foot_n`` (n, 4, 3): force of
    the floor on each foot (front left, front right, rear left, rear right), z up. ``walked_m`` (n, 4, 2): where each
    foot sticks to the
    floor. ``stop_n`` (n): largest force in the stops since the last sample. ``gave_up``: the controller cut the
    spin. ``complete`` is False when the machine tipped or the tub broke loose: the arrays end there.
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
    """The phone's place relative to the cabinet's centre of gravity and its three axes in cabinet axes."""
    top = np.array([phone.x_m, phone.y_m, machine.cabinet.size_m[2]])
    c, s = cos(phone.yaw_rad), sin(phone.yaw_rad)
    yaw = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    c, s = cos(phone.pitch_rad), sin(phone.pitch_rad)
    pitch = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    c, s = cos(phone.roll_rad), sin(phone.roll_rad)
    roll = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    return np.vstack([top - np.array(machine.cabinet.centre_m), (yaw @ pitch @ roll).T])


def watch_points(machine: Machine, watch_m: Vector | None) -> Floats:
    """The watched tub point and the drum's middle, each with the cabinet point it starts from."""
    group, drum = tub_group(machine), machine.drum
    axis = np.array(drum.axis) / np.linalg.norm(drum.axis)
    middle = np.array(drum.hub_m) + 0.5 * drum.depth_m * axis
    points = (middle if watch_m is None else np.array(watch_m), middle)
    cab = np.array(machine.cabinet.centre_m)
    return np.array([[*(p - group.centre_m), *(p - cab)] for p in points])


def step_of(par: Par, sample_rate_hz: float) -> tuple[float, int]:
    """Step and steps a sample; hard friction on rigid bushings and stiff ties ask for a shorter step."""
    struts, light = par.struts, min(par.cabinet[0], par.drum[7] / 4)
    hard = struts[:, 11] <= 0.0
    slope = float(np.sum(struts[hard, 9] / struts[hard, 10]) + np.sum(struts[:, 8]))
    ties = float(par.ties[:, 6:9].max(axis=1, initial=0.0).sum()) + 1.0
    quick = min(
        float(np.sqrt(light / ties)), float(np.sqrt(par.cabinet[0] / (ties + par.feet[:, 4].sum())))
    )
    longest = min(STEP_S, light / max(slope, 1.0), 0.16 * quick)
    every = max(1, ceil(1.0 / (sample_rate_hz * longest) - 1e-9))
    return 1.0 / (sample_rate_hz * every), every


def kernel_run(machine: Machine, run: Run, step: tuple[float, int], q: Floats) -> KernelRun:
    """Run to arrays."""
    dt, every = step
    table = drive_table(machine, run)
    control = run.controller
    switch = (
        (control.travel_m, control.travel_from_rpm, control.brake_rpm_s)
        if control
        else (0.0, 0.0, 1.0)
    )
    smooth = min(1.0, 2 * np.pi * 120.0 * dt)
    gain = np.sqrt(3.0 * (2.0 - smooth) / smooth)
    return KernelRun(
        dt,
        every,
        table,
        LUMP_RATE,
        tumbling(machine, table, run.seed, LUMP_RATE),
        phone_rows(machine, run.phone),
        watch_points(machine, run.watch_m),
        q[6:9] - q[0:3],
        np.array([switch[0], switch[1] * RPM, switch[2] * RPM, smooth, gain]),
    )


def new_out(samples: int, states: int) -> Out:
    """Arrays for the samples."""
    z = np.zeros
    return Out(
        z((samples, 3)),
        z((samples, 2, 3)),
        z((samples, 4, 3)),
        z((samples, 4, 2)),
        z(samples),
        z((samples, 3)),
        z((states, 36)),
    )


def result(
    run: KernelRun, out: Out, at_rest: Floats, *, gave_up: bool, complete: bool
) -> SpinResult:
    """Samples in the units of the border."""
    n = out.stop.shape[0]
    tub = out.tub - at_rest
    return SpinResult(
        np.arange(n, dtype=np.float64) * (run.dt * run.every),
        out.drum[:, 1] / RPM,
        out.drum[:, 0],
        out.panel,
        tub[:, 0],
        tub[:, 1],
        out.foot,
        out.place,
        out.stop,
        gave_up,
        complete,
        out.state,
    )


def rest_watch(par: Par, run: KernelRun, q: Floats) -> Floats:
    """Where the watched points are at rest (2, 3)."""
    still = new_out(1, 0)
    integrate(par, run, new_state(q), still, new_work())
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
    return spin(pack(machine), machine, run, sample_rate_hz, keep_state=keep_state)


def spin(
    par: Par,
    machine: Machine,
    run: Run,
    sample_rate_hz: float,
    *,
    keep_state: bool = False,
    finer: float = 1,
) -> SpinResult:
    """Run packed arrays, unchecked; ``finer`` divides the step (below 1: longer, to a whole number a sample)."""
    q = rest(par)
    dt, every = step_of(par, sample_rate_hz)
    steps = max(1, round(every * finer))
    arrays = kernel_run(machine, run, (dt * every / steps, steps), q)
    samples = int(arrays.profile[-1, 0] * sample_rate_hz + 1e-9) + 1
    out = new_out(samples, samples if keep_state else 0)
    state = new_state(q, float(arrays.profile[0, 1]), run.seed)
    held = integrate(par, arrays, state, out, new_work())
    planned = bool(
        arrays.profile[:, 1].max() < RPM * max(rpm for _, rpm in run.profile.points) - 1e-9
    )
    return result(
        arrays,
        Out(*(a[:held] for a in out)),
        rest_watch(par, arrays, q),
        gave_up=planned or bool(state.memory[3] >= 0.0),
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

    Results in the order given, whatever the number of workers.
    """
    each = [runs] * len(machines) if isinstance(runs, Run) else list(runs)
    if len(each) != len(machines):
        raise InputError(
            f"{len(machines)} machines but {len(each)} runs",
            field="runs",
            remedy="give one run, or one for each machine",
        )
    with ThreadPoolExecutor(max_workers=workers) as pool:
        return list(
            pool.map(
                lambda pair: simulate(pair[0], pair[1], sample_rate_hz),
                zip(machines, each, strict=True),
            )
        )
