"""What one thread does: take its own machine out of the lanes, and run it.

These functions only choose numbers; all motion is in ``kernels.integration``. They are compiled
twice from this one text: for the processor here, for the accelerator in ``batch.accelerator``.
"""

from typing import Any

from numba import njit

from counterpoise.dynamics.batch.lanes import (
    LUMPS,
    PROFILE,
    SAMPLES,
    STRUTS,
    TIES,
    UNBALANCES,
)
from counterpoise.dynamics.kernels.compiler import OPTIONS
from counterpoise.dynamics.kernels.integration import integrate
from counterpoise.dynamics.kernels.layout import OMEGA
from counterpoise.dynamics.motion.pack import MachineArrays
from counterpoise.dynamics.motion.simulate import RunArrays, Samples

# Not kept on disk: the cache would watch this file and not the kernels it draws on.
jit: Any = njit(**OPTIONS | {"cache": False})


def machine_of(all_par: Any, rows: Any, m: int) -> Any:
    """Arrays of machine ``m``, as views without the rows that only fill up."""
    p = all_par
    return MachineArrays(
        p.cabinet[:, m],
        p.inertia[:, :, m],
        p.inverse[:, :, :, m],
        p.axes[:, :, m],
        p.gap[:, m],
        p.struts[: rows[STRUTS, m], :, m],
        p.ties[: rows[TIES, m], :, m],
        p.stops[:, :, m],
        p.feet[:, :, m],
        p.weight[:, m],
        p.hub[:, m],
        p.bearing[:, m],
        p.floor[:, m],
        p.drum[:, m],
        p.unbalances[: rows[UNBALANCES, m], :, m],
    )


def run_of(all_run: Any, rows: Any, m: int) -> Any:
    """Arrays of the run of machine ``m``, as views."""
    r = all_run
    return RunArrays(
        r.dt[m],
        r.every[m],
        r.profile[: rows[PROFILE, m], :, m],
        r.lump_rate[m],
        r.lumps[: rows[LUMPS, m], :, m],
        r.phone[:, :, m],
        r.watch[:, :, m],
        r.rest[:, m],
        r.limits[:, m],
    )


def samples_of(out: Any, rows: Any, m: int) -> Any:
    """Samples of machine ``m``, as many as its run has."""
    n = rows[SAMPLES, m]
    return Samples(
        out.panel[m, :n],
        out.tub[m, :n],
        out.foot[m, :n],
        out.place[m, :n],
        out.stop[m, :n],
        out.drum[m, :n],
        out.state[m, :n],
    )


def set_to_rest(lanes: Any, m: int, state: Any) -> None:
    """Fill ``state`` with the rest of machine ``m``, all speeds and forces of friction nothing."""
    for i in range(state.q.shape[0]):
        state.q[i] = lanes.rest[i, m]
        state.v[i] = 0.0
    for i in range(state.friction.shape[0]):
        state.friction[i] = 0.0
    for i in range(state.drive.shape[0]):
        state.drive[i] = 0.0
    for i in range(state.memory.shape[0]):
        state.memory[i] = lanes.memory[i, m]
    state.drive[OMEGA] = lanes.omega[m]


machine_at, run_at, samples_at = jit(machine_of), jit(run_of), jit(samples_of)
put_to_rest = jit(set_to_rest)


def lane(lanes: Any, out: Any, held: Any, m: int, state: Any, work: Any) -> None:
    """Run machine ``m``: samples to ``out``, how many hold to ``held[m]``."""
    put_to_rest(lanes, m, state)
    par = machine_at(lanes.par, lanes.rows, m)
    run = run_at(lanes.run, lanes.rows, m)
    held[m] = integrate(par, run, state, samples_at(out, lanes.rows, m), work)


run_lane = jit(lane)
