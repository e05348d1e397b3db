"""Where the machine comes to rest, and the buffers the compiled loops write to."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.forces import accelerations
from counterpoise.dynamics.kernels.integration import difference_quotients, settle
from counterpoise.dynamics.kernels.layout import (
    BUSHINGS,
    COORDINATES,
    CUT_TIME,
    FLOOR,
    FLOOR_MASS,
    FOOT_FRICTION,
    FOOT_LENGTH,
    HUB,
    HUB_WEAK,
    NOISE_SEED,
    OMEGA,
    WEIGHT,
    WEIGHT_MASS,
)
from counterpoise.dynamics.motion.pack import Floats, MachineArrays
from counterpoise.errors import InputError

# Beyond this tilt the machine lies on its side rather than stands askew.
MOST_TILT_RAD = 0.7
# A bushing for each damper, then x and y for each of four feet.
FRICTIONS = BUSHINGS + 8
# Acceleration left, in m/s2: what Newton's method reaches, and what still counts as rest where a
# contact is on the verge and the slope is none.
RESTS, NEARLY_RESTS = 1e-6, 1e-3


class MotionState(NamedTuple):
    """What changes: coordinates, rates and the memory of friction (see ``kernels.layout``)."""

    q: Floats  # (18,)
    v: Floats  # (18,)
    friction: Floats  # (16,): N in each bushing, then m where each foot sticks
    drive: Floats  # (7,): drum and laundry at this instant
    memory: Floats  # (5,): profile row, noise, and when the controller gave up


class Workspace(NamedTuple):
    """Scratch arrays of one machine, allocated once: the kernels allocate nothing."""

    rot: Floats  # (2, 3, 3): rotation of cabinet and tub
    wrench: Floats  # (2, 6): force and moment on each, room axes
    body: Floats  # (8,): force, moment and hub moments on the tub group, tub axes
    solved: Floats  # (8,)
    foot: Floats  # (4, 6)
    acc: Floats  # (18,)
    predicted: Floats  # (18,): rates at the end of the step
    rate: Floats  # (8,): N/s in each bushing
    last_rate: Floats  # (8,)
    angular: Floats  # (2, 3): angular velocity of cabinet and tub, room axes


def new_state(q: Floats, omega: float = 0.0, seed: int = 0) -> MotionState:
    """At rest in a given place (18,), the drum at a speed in rad/s."""
    drive, memory = np.zeros(7), np.zeros(5)
    drive[OMEGA] = omega
    # seed 0 must not be the generator's fixed point; below zero means: has not given up
    memory[NOISE_SEED], memory[CUT_TIME] = seed + 1.0, -1.0
    return MotionState(q.copy(), np.zeros(COORDINATES), np.zeros(FRICTIONS), drive, memory)


def new_workspace() -> Workspace:
    """Fresh scratch arrays, all zero."""
    z = np.zeros
    return Workspace(
        rot=z((2, 3, 3)),
        wrench=z((2, 6)),
        body=z(8),
        solved=z(8),
        foot=z((4, 6)),
        acc=z(COORDINATES),
        predicted=z(COORDINATES),
        rate=z(BUSHINGS),
        last_rate=z(BUSHINGS),
        angular=z((2, 3)),
    )


def accelerations_at(
    par: MachineArrays,
    q: Floats,
    v: Floats,
    drive: Floats | None = None,
    friction: Floats | None = None,
) -> Floats:
    """Accelerations (18,) in a given state; the drum stands still where no drive is given."""
    work = new_workspace()
    drive = np.zeros(7) if drive is None else drive
    friction = np.zeros(FRICTIONS) if friction is None else friction
    accelerations(par, q, v, friction, drive, work)
    return work.acc.copy()


def active_coordinates(par: MachineArrays) -> NDArray[np.intp]:
    """Indices of cabinet and tub, and of hub, loose weight and floor where the machine has them."""
    active = list(range(HUB))
    active += [HUB, HUB + 1] if par.hub[HUB_WEAK] > 0.0 else []
    active += [WEIGHT, WEIGHT + 1, WEIGHT + 2] if par.weight[WEIGHT_MASS] > 0.0 else []
    active += [FLOOR] if par.floor[FLOOR_MASS] > 0.0 else []
    return np.array(active, dtype=np.intp)


def jacobian(par: MachineArrays, q: Floats, omega: float = 0.0) -> Floats:
    """Change of acceleration with each coordinate and rate (2, 18, 18), drum at omega in rad/s."""
    out = np.empty((2, COORDINATES, COORDINATES))
    difference_quotients(par, new_state(q, omega), 1e-7, new_workspace(), out)
    return out


def settled(par: MachineArrays, q: Floats, seconds: float = 6.0, dt: float = 2.5e-4) -> Floats:
    """Coordinates (18,) after the machine fell into place with its speed bled off."""
    state = new_state(q)
    settle(par, state, dt, int(seconds / dt), new_workspace())
    return state.q


def newton(par: MachineArrays, q: Floats, rounds: int = 25) -> tuple[Floats, float]:
    """Newton's method with step halving: place (18,) and largest acceleration left in m/s2."""
    still, active = np.zeros(COORDINATES), active_coordinates(par)
    left = accelerations_at(par, q, still)
    for _ in range(rounds):
        if np.abs(left).max() < 1e-9:
            break
        way = np.zeros(COORDINATES)
        # Least squares, as a machine on its rods or a tub without bellows has a free direction.
        way[active] = np.linalg.lstsq(
            jacobian(par, q)[0][np.ix_(active, active)], -left[active], rcond=1e-12
        )[0]
        # no leaps past a contact
        way *= min(1.0, 0.1 / np.abs(way).max())
        for share in (1.0, 0.5, 0.25, 0.1, 0.02):
            trial = accelerations_at(par, q + share * way, still)
            if np.linalg.norm(trial) < np.linalg.norm(left):
                q, left = q + share * way, trial
                break
        else:
            break
    return q, float(np.abs(left).max())


def upright(par: MachineArrays) -> Floats:
    """First guess (18,): the whole machine as one block on its feet, unequal as they are."""
    x, y, length = par.feet[:, 0], par.feet[:, 1], par.feet[:, FOOT_LENGTH]
    tilt_y, tilt_x, rise = np.linalg.lstsq(
        np.column_stack([-x, y, np.ones(4)]), length, rcond=None
    )[0]
    q, turn = np.zeros(COORDINATES), np.array([tilt_x, tilt_y, 0.0])
    q[2], q[3:6], q[9:12] = rise, turn, turn
    foot = np.array([0.0, 0.0, par.feet[0, 2]])
    q[:2] = np.cross(turn, -foot)[:2]
    q[6:9] = q[:3] + np.cross(turn, par.gap)
    return q


def largest_tilt(q: Floats) -> float:
    """Largest turn of cabinet or tub about any axis, rad."""
    return float(np.abs(q[[3, 4, 5, 9, 10, 11]]).max())


def static_equilibrium(par: MachineArrays) -> Floats:
    """Static equilibrium (18,), friction holding nothing up. Raises InputError without a rest."""
    feet = par.feet.copy()
    # at rest no foot slides
    feet[:, FOOT_FRICTION] = 1e6
    par = par._replace(feet=feet)
    q, left = newton(par, upright(par))
    # Newton's method can land on the far side of a contact; a fall cannot.
    if left > RESTS or largest_tilt(q) > MOST_TILT_RAD:
        q, left = newton(par, settled(par, upright(par)))
    if left > NEARLY_RESTS or largest_tilt(q) > MOST_TILT_RAD:
        raise InputError(
            f"the machine finds no rest: {left:.2g} m/s2 is left and it leans by "
            f"{largest_tilt(q):.2f} rad",
            field="machine",
            remedy="check the springs: stiffness, free length and where they are hung",
        )
    return q
