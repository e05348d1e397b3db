"""Where the machine comes to rest, and the buffers the compiled loops write to."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.forces import accelerations
from counterpoise.dynamics.kernels.motion import fall_into_place, slopes
from counterpoise.dynamics.motion.pack import Floats, Par
from counterpoise.errors import InputError

LEAN_RAD = 0.7


class State(NamedTuple):
    """What changes: coordinates, rates and the memory of friction (layout in ``kernels.forces``)."""

    q: Floats
    v: Floats
    inner: Floats
    drive: Floats  # drum and laundry at this instant (columns in ``kernels.forces``)
    memory: Floats  # profile row, two of the noise, when (below zero: not) and at what speed the controller gave up


class Work(NamedTuple):
    """Scratch arrays of one machine, allocated once."""

    rot: Floats
    wrench: Floats
    body: Floats
    solved: Floats
    foot: Floats
    acc: Floats
    ahead: Floats
    rate: Floats
    before: Floats
    turning: Floats


def new_state(q: Floats, omega: float = 0.0, seed: int = 0) -> State:
    """At rest in a given place, the drum at a speed in rad/s."""
    drive, memory = np.zeros(7), np.array([0.0, seed + 1.0, 0.0, -1.0, 0.0])
    drive[1] = omega
    return State(q.copy(), np.zeros(18), np.zeros(16), drive, memory)


def new_work() -> Work:
    """Fresh scratch arrays."""
    z = np.zeros
    return Work(z((2, 3, 3)), z((2, 6)), z(8), z(8), z((4, 6)), z(18), z(18), z(8), z(8), z((2, 3)))


def accelerations_at(
    par: Par, q: Floats, v: Floats, drive: Floats | None = None, inner: Floats | None = None
) -> Floats:
    """Accelerations (18) of a machine in a given state; the drum stands still where no drive is given."""
    work = new_work()
    drive = np.zeros(7) if drive is None else drive
    accelerations(par, q, v, np.zeros(16) if inner is None else inner, drive, work)
    return work.acc.copy()


def active_coordinates(par: Par) -> NDArray[np.intp]:
    """Cabinet and tub always; drum tilt, loose weight and floor where the machine has them."""
    there = list(range(12))
    there += [12, 13] if par.hub[0] > 0.0 else []
    there += [14, 15, 16] if par.weight[0] > 0.0 else []
    there += [17] if par.floor[0] > 0.0 else []
    return np.array(there, dtype=np.intp)


def jacobian(par: Par, q: Floats, omega: float = 0.0) -> Floats:
    """Change of acceleration with each coordinate and each rate, (2, 18, 18), the drum at a speed in rad/s."""
    out = np.empty((2, 18, 18))
    slopes(par, new_state(q, omega), 1e-7, new_work(), out)
    return out


def settle(par: Par, q: Floats, seconds: float = 6.0, dt: float = 2.5e-4) -> Floats:
    """Let the machine fall into place with its speed bled off."""
    state = new_state(q)
    fall_into_place(par, state, dt, int(seconds / dt), new_work())
    return state.q


def newton(par: Par, q: Floats, rounds: int = 25) -> tuple[Floats, float]:
    """Newton's method with step halving; returns the place and the largest acceleration left."""
    still, active = np.zeros(18), active_coordinates(par)
    left = accelerations_at(par, q, still)
    for _ in range(rounds):
        if np.abs(left).max() < 1e-9:
            break
        way = np.zeros(18)
        way[active] = np.linalg.lstsq(
            jacobian(par, q)[0][np.ix_(active, active)], -left[active], rcond=1e-12
        )[0]
        way *= min(1.0, 0.1 / np.abs(way).max())  # no leaps past a contact
        for share in (1.0, 0.5, 0.25, 0.1, 0.02):
            trial = accelerations_at(par, q + share * way, still)
            if np.linalg.norm(trial) < np.linalg.norm(left):
                q, left = q + share * way, trial
                break
        else:
            break
    return q, float(np.abs(left).max())


def standing(par: Par) -> Floats:
    """First guess: the whole machine as one block on its feet, unequal as they are."""
    x, y, length = par.feet[:, 0], par.feet[:, 1], par.feet[:, 3]
    tilt_y, tilt_x, rise = np.linalg.lstsq(
        np.column_stack([-x, y, np.ones(4)]), length, rcond=None
    )[0]
    q, turn = np.zeros(18), np.array([tilt_x, tilt_y, 0.0])
    q[2], q[3:6], q[9:12] = rise, turn, turn
    foot = np.array([0.0, 0.0, par.feet[0, 2]])
    q[:2] = np.cross(turn, -foot)[:2]
    q[6:9] = q[:3] + np.cross(turn, par.gap)
    return q


def leaning(q: Floats) -> float:
    """Largest turn of cabinet or tub about any axis, rad."""
    return float(np.abs(q[[3, 4, 5, 9, 10, 11]]).max())


def rest(par: Par) -> Floats:
    """Static equilibrium (18), friction not holding anything up. Raises InputError where the machine finds no rest."""
    feet = par.feet.copy()
    feet[:, 8] = 1e6  # at rest no foot slides
    par = par._replace(feet=feet)
    q, left = newton(par, standing(par))
    if left > 1e-6 or leaning(q) > LEAN_RAD:
        q, left = newton(par, settle(par, standing(par)))
    if left > 1e-3 or leaning(q) > LEAN_RAD:
        raise InputError(
            f"the machine finds no rest: {left:.2g} m/s2 is left and it leans by {leaning(q):.2f} rad",
            field="machine",
            remedy="check the springs: stiffness, free length and where they are hung",
        )
    return q
