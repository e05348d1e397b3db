"""What the unbalance does at each speed: tub, feet, floor, top panel. Small motions.

Where it and the time integration disagree, the time integration is right.
"""

from dataclasses import dataclass

import numpy as np

from counterpoise.dynamics.kernels.forces import accelerations
from counterpoise.dynamics.kernels.layout import (
    COORDINATES,
    FLOOR,
    FOOT_DAMPING,
    FOOT_SIDE_DAMPING,
    FOOT_SIDE_STIFFNESS,
    FOOT_STIFFNESS,
    GRAVITY,
)
from counterpoise.dynamics.machines.machine import Machine, Vector
from counterpoise.dynamics.motion.equilibrium import FRICTIONS, new_workspace
from counterpoise.dynamics.motion.linear import Complexes, LinearModel, linearise, respond_at
from counterpoise.dynamics.motion.pack import RPM, Floats
from counterpoise.dynamics.motion.run import Phone
from counterpoise.dynamics.motion.simulate import phone_rows, watch_points


@dataclass(frozen=True)
class Response:
    """Steady motion at n speeds, complex amplitudes of exp(i angle of the drum).

    ``tub_m`` (n, 3): watched tub point relative to the cabinet; ``panel_m_s2`` (n, 3): specific
    force at the phone, in its axes; ``foot_n`` (n, 4, 3): change of the floor's force on each foot;
    ``standing_n`` (4, 3): the same force at rest; ``motion`` (n, 18): all coordinates.
    """

    rpm: Floats
    tub_m: Complexes
    panel_m_s2: Complexes
    foot_n: Complexes
    standing_n: Floats
    motion: Complexes

    @property
    def tub_rms_m(self) -> Floats:
        """Root mean square of the tub's motion along each axis (n, 3), m."""
        return np.asarray(np.abs(self.tub_m) / np.sqrt(2.0))

    @property
    def floor_n(self) -> Floats:
        """Amplitude (n,) of the whole upright force on the floor, N."""
        return np.asarray(np.abs(self.foot_n[:, :, 2].sum(axis=1)))


def point_motion(motion: Complexes, body: int, arm: Floats) -> Complexes:
    """Motion (n, 3) in m of a point at an arm of the cabinet (0) or tub (1), small turns."""
    o = 6 * body
    return np.asarray(motion[:, o : o + 3] + np.cross(motion[:, o + 3 : o + 6], arm))


def foot_forces(lin: LinearModel, motion: Complexes, omega: Floats) -> Complexes:
    """Change of each foot's force on the cabinet (n, 4, 3) in N, at speeds omega (n,) in rad/s."""
    out = np.empty((omega.size, 4, 3), dtype=np.complex128)
    for i, row in enumerate(lin.par.feet):
        way = point_motion(motion, 0, row[0:3])
        # the floor may give under the foot
        way[:, 2] -= motion[:, FLOOR]
        stiff = row[[FOOT_SIDE_STIFFNESS, FOOT_SIDE_STIFFNESS, FOOT_STIFFNESS]]
        loss = row[[FOOT_SIDE_DAMPING, FOOT_SIDE_DAMPING, FOOT_DAMPING]]
        out[:, i] = -(stiff + 1j * omega[:, None] * loss) * way
    return out


def standing_forces(lin: LinearModel) -> Floats:
    """Force of the floor on each foot at rest (4, 3), N."""
    work = new_workspace()
    accelerations(lin.par, lin.rest, np.zeros(COORDINATES), np.zeros(FRICTIONS), np.zeros(7), work)
    return np.asarray(work.foot[:, :3])


def respond(
    machine: Machine, rpm: Floats, watch_m: Vector | None = None, phone: Phone | None = None
) -> Response:
    """Steady response of a machine at each of the speeds (n,) in rpm, from slow to fast."""
    speeds = np.asarray(rpm, dtype=np.float64)
    # The balance ring changes the machine at one speed, so there are two linear models of it.
    # once for all speeds: linearising takes longer than a response
    plain = linearise(machine)
    ringed = linearise(machine, ring=True) if machine.ring.added_kg > 0.0 else plain
    motion = np.empty((speeds.size, COORDINATES), dtype=np.complex128)
    for k, speed in enumerate(speeds):
        lin = ringed if speed > machine.ring.engages_rpm else plain
        motion[k] = respond_at(lin, float(speed) * RPM)
    points, omega = watch_points(machine, watch_m), speeds * RPM
    rows = phone_rows(machine, phone or Phone())
    turn = motion[:, 3:6]
    # A phone that tilts feels gravity from another side: that is most of it at low speed.
    felt = -(omega[:, None] ** 2) * point_motion(motion, 0, rows[0]) - np.cross(
        turn, np.array([0.0, 0.0, GRAVITY])
    )
    tub = point_motion(motion, 1, points[0, 0:3]) - point_motion(motion, 0, points[0, 3:6])
    return Response(
        rpm=speeds,
        tub_m=tub,
        panel_m_s2=felt @ rows[1:].T,
        foot_n=foot_forces(plain, motion, omega),
        standing_n=standing_forces(plain),
        motion=motion,
    )
