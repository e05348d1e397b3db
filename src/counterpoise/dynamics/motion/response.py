"""What the unbalance does at each speed: tub, feet, floor, top panel. Small motions.

The time integration is the judge.
"""

from dataclasses import dataclass

import numpy as np

from counterpoise.dynamics.kernels.forces import GRAVITY, accelerations
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.equilibrium import new_work
from counterpoise.dynamics.motion.linear import Complexes, Linear, linearise, respond_at
from counterpoise.dynamics.motion.pack import RPM, Floats
from counterpoise.dynamics.motion.run import Phone
from counterpoise.dynamics.motion.simulate import phone_rows, watch_points


@dataclass(frozen=True)
class Response:
    """Steady motion at n speeds, complex amplitudes of exp(i angle of the drum).

    ``tub_m`` (n, 3): watched tub point relative to the cabinet; ``panel_m_s2`` (n, 3): specific force at the phone,
    in its axes;
    ``foot_n`` (n, 4, 3): change of the floor's force on each foot; ``standing_n`` (4, 3): the same force at rest;
    ``motion`` (n, 18): all coordinates.
    """

    rpm: Floats
    tub_m: Complexes
    panel_m_s2: Complexes
    foot_n: Complexes
    standing_n: Floats
    motion: Complexes

    @property
    def tub_rms_m(self) -> Floats:
        """Root mean square of the tub's motion along each axis (n, 3)."""
        return np.asarray(np.abs(self.tub_m) / np.sqrt(2.0))

    @property
    def floor_n(self) -> Floats:
        """Amplitude of the whole upright force on the floor (n)."""
        return np.asarray(np.abs(self.foot_n[:, :, 2].sum(axis=1)))


def moved(motion: Complexes, body: int, arm: Floats) -> Complexes:
    """Motion (n, 3) of a point at an arm of the cabinet (0) or tub (1)."""
    o = 6 * body
    return np.asarray(motion[:, o : o + 3] + np.cross(motion[:, o + 3 : o + 6], arm))


def foot_forces(lin: Linear, motion: Complexes, omega: Floats) -> Complexes:
    """Change of each foot's force on the cabinet (n, 4, 3)."""
    out = np.empty((omega.size, 4, 3), dtype=np.complex128)
    for i, row in enumerate(lin.par.feet):
        way = moved(motion, 0, row[0:3])
        way[:, 2] -= motion[:, 17]
        stiff = np.array([row[6], row[6], row[4]])
        loss = np.array([row[7], row[7], row[5]])
        out[:, i] = -(stiff + 1j * omega[:, None] * loss) * way
    return out


def standing(lin: Linear) -> Floats:
    """Force of the floor on each foot at rest (4, 3)."""
    work = new_work()
    accelerations(lin.par, lin.rest, np.zeros(18), np.zeros(16), np.zeros(7), work)
    return np.asarray(work.foot[:, :3])


def respond(
    machine: Machine, rpm: Floats, watch_m: Vector | None = None, phone: Phone | None = None
) -> Response:
    """Steady response of a machine at each of the speeds, from slow to fast."""
    speeds = np.asarray(rpm, dtype=np.float64)
    plain = linearise(machine)
    ringed = linearise(machine, ring=True) if machine.ring.added_kg > 0.0 else plain
    motion = np.empty((speeds.size, 18), dtype=np.complex128)
    for k, speed in enumerate(speeds):
        lin = ringed if speed > machine.ring.engages_rpm else plain
        motion[k] = respond_at(lin, float(speed) * RPM)
    points, omega = watch_points(machine, watch_m), speeds * RPM
    rows = phone_rows(machine, phone or Phone())
    turn = motion[:, 3:6]
    felt = -(omega[:, None] ** 2) * moved(motion, 0, rows[0]) - np.cross(
        turn, np.array([0.0, 0.0, GRAVITY])
    )
    tub = moved(motion, 1, points[0, 0:3]) - moved(motion, 0, points[0, 3:6])
    return Response(
        speeds, tub, felt @ rows[1:].T, foot_forces(plain, motion, omega), standing(plain), motion
    )
