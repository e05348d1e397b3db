"""Machines and runs packed side by side: the last axis of every array counts the machines.

So neighbouring threads of an accelerator read neighbouring numbers. Tables of different length are
filled up with zeros, and ``Lanes.rows`` says how many rows of each count.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.check import check, check_run
from counterpoise.dynamics.motion.equilibrium import new_state, static_equilibrium
from counterpoise.dynamics.motion.pack import RPM, Floats, MachineArrays, pack
from counterpoise.dynamics.motion.run import Run
from counterpoise.dynamics.motion.simulate import RunArrays, pack_run, time_step

# Fields with a number of rows of their own, in the order of ``Lanes.rows``.
ROWS_OF_MACHINE = ("struts", "ties", "unbalances")
ROWS_OF_RUN = ("profile", "lumps")
STRUTS, TIES, UNBALANCES, PROFILE, LUMPS, SAMPLES = range(6)
# Kept in double precision whatever the rest is in: time, the drum's angle over a whole spin, and
# the register of the noise, whose 32 bits single precision would cut.
ALWAYS_DOUBLE = ("dt", "profile", "lump_rate", "limits")
# Lanes packed together; what they hold lies in the processor's near memory.
AT_ONCE = 16


@dataclass(frozen=True)
class PreparedSpin:
    """One machine at rest, ready to run: its arrays, its run, where it rests and for how long."""

    par: MachineArrays
    run: RunArrays
    rest: Floats  # (18,)
    seed: int
    samples: int
    # the controller never asked for the speed that was wanted
    refused: bool

    @property
    def outline(self) -> "Outline":
        """What its samples need to become a result, without the machine."""
        return Outline(self.run.dt * self.run.every, self.run.profile, self.samples, self.refused)


@dataclass(frozen=True)
class Outline:
    """Seconds a sample, programme (p, 2) in s and rad/s, samples wanted, whether it was refused."""

    step_s: float
    profile: Floats
    samples: int
    refused: bool


class Lanes(NamedTuple):
    """``n`` prepared spins: parameters as in ``MachineArrays`` and ``RunArrays``, last axis n."""

    par: MachineArrays
    run: RunArrays
    rows: NDArray[np.int32]  # (6, n): struts, ties, unbalances, profile, lumps, samples
    rest: Floats  # (18, n)
    memory: Floats  # (5, n): what ``MotionState.memory`` starts from
    omega: Floats  # (n,): speed of the drum at the start, rad/s


def prepare(machine: Machine, run: Run, sample_rate_hz: float) -> PreparedSpin:
    """Check, pack and bring to rest one machine. Raises InputError for nonsense."""
    check(machine)
    check_run(machine, run, sample_rate_hz)
    par = pack(machine)
    rest = static_equilibrium(par)
    arrays = pack_run(machine, run, time_step(par, sample_rate_hz), rest)
    wanted = RPM * max(rpm for _, rpm in run.profile.points)
    return PreparedSpin(
        par,
        arrays._replace(lumps=_without_rest(arrays.lumps)),
        rest,
        run.seed,
        # the same count as a single run has, rounding included
        int(arrays.profile[-1, 0] * sample_rate_hz + 1e-9) + 1,
        bool(arrays.profile[:, 1].max() < wanted - 1e-9),
    )


def _without_rest(lumps: Floats) -> Floats:
    """Forces of tumbling up to the last blow and one row of nothing, which the kernel holds."""
    blows = np.flatnonzero(lumps.any(axis=1))
    last = int(blows[-1]) + 1 if len(blows) else 0
    return np.concatenate([lumps[:last], np.zeros((1, 2))])


def stacked(spins: Sequence[PreparedSpin], dtype: type = np.float64) -> Lanes:
    """Pack prepared spins side by side, parameters in ``dtype`` (float64 or float32)."""

    def side_by_side(arrays: list[Floats], kind: type) -> Floats:
        most = tuple(max(a.shape[axis] for a in arrays) for axis in range(arrays[0].ndim))
        out = np.zeros((*most, len(arrays)), dtype=kind)
        # Some at a time: a number here and a number there in a large table takes ten times as long.
        for first in range(0, len(arrays), AT_ONCE):
            some = arrays[first : first + AT_ONCE]
            block = np.zeros((len(some), *most), dtype=kind)
            for row, array in enumerate(some):
                here: tuple[int | slice, ...] = (row, *map(slice, array.shape))
                block[here] = array
            out[..., first : first + AT_ONCE] = np.moveaxis(block, 0, -1)
        return out

    def all_of(name: str, holders: list[MachineArrays] | list[RunArrays]) -> Any:
        arrays = [np.asarray(getattr(each, name)) for each in holders]
        if name == "every":
            return np.array(arrays, dtype=np.int64)
        return side_by_side(arrays, np.float64 if name in ALWAYS_DOUBLE else dtype)

    machines, runs = [spin.par for spin in spins], [spin.run for spin in spins]
    states = [new_state(s.rest, float(s.run.profile[0, 1]), s.seed) for s in spins]
    rows = [
        [getattr(s.par, name).shape[0] for name in ROWS_OF_MACHINE]
        + [getattr(s.run, name).shape[0] for name in ROWS_OF_RUN]
        + [s.samples]
        for s in spins
    ]
    return Lanes(
        MachineArrays(*(all_of(name, machines) for name in MachineArrays._fields)),
        RunArrays(*(all_of(name, runs) for name in RunArrays._fields)),
        np.array(rows, dtype=np.int32).T.copy(),
        side_by_side([s.rest for s in spins], dtype),
        np.array([state.memory for state in states]).T.copy(),
        np.array([s.run.profile[0, 1] for s in spins]),
    )
