"""Accelerations of every body at one instant, from all forces on the machine.

``par`` is ``motion.pack.MachineArrays``, ``work`` is ``motion.equilibrium.Workspace``; what stands
where in their arrays is in ``kernels.layout``.
"""

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.contact import add_feet, add_loose_weight
from counterpoise.dynamics.kernels.drum import (
    add_hub,
    add_spin,
    add_tumbling_and_rumble,
    add_unbalances,
)
from counterpoise.dynamics.kernels.layout import (
    CABINET,
    FLOOR,
    FLOOR_DAMPING,
    FLOOR_MASS,
    FLOOR_STIFFNESS,
    GRAVITY,
    GROUP_MASS,
    HUB_WEAK,
    OMEGA,
    RING_ENGAGES,
    TUB,
)
from counterpoise.dynamics.kernels.rotation import (
    set_angular_velocity,
    set_rotation,
    to_body,
    to_room,
)
from counterpoise.dynamics.kernels.suspension import add_stops, add_struts, add_ties

SOURCE_DIGEST = "639bf0f240c3e438"


@jit
def solve_bodies(par, drive, v, acc, work):
    """Fill ``acc`` (18) from the wrenches: cabinet alone, tub group with the tilt of the drum."""
    w, r = work.wrench[CABINET], work.rot[CABINET]
    for i in range(3):
        acc[i] = w[i] / par.cabinet[0]
    mx, my, mz = to_body(r, w[3], w[4], w[5])
    p, s, t = v[3], v[4], v[5]
    # Euler's equations in the cabinet's principal axes
    jx, jy, jz = par.cabinet[1], par.cabinet[2], par.cabinet[3]
    acc[3] = (mx - (jz - jy) * s * t) / jx
    acc[4] = (my - (jx - jz) * t * p) / jy
    acc[5] = (mz - (jy - jx) * p * s) / jz
    w, r, f = work.wrench[TUB], work.rot[TUB], work.body
    fx, fy, fz = to_body(r, w[0], w[1], w[2])
    mx, my, mz = to_body(r, w[3], w[4], w[5])
    p, s, t, jj = v[9], v[10], v[11], par.inertia
    # The tub group's inertia is a full matrix: weights and drum do not lie on its axes.
    hx, hy, hz = to_room(jj, p, s, t)
    f[0] += fx
    f[1] += fy
    f[2] += fz
    f[3] += mx - (s * hz - t * hy)
    f[4] += my - (t * hx - p * hz)
    f[5] += mz - (p * hy - s * hx)
    # Above its speed of engagement the liquid of the balance ring adds to the mass.
    which = 1 if drive[OMEGA] > par.drum[RING_ENGAGES] else 0
    inverse = par.inverse[which]
    # a drum that sits tight does not tilt
    size = 8 if par.hub[HUB_WEAK] > 0.0 else 6
    # A product with the inverse, kept from the start: solving anew would cost more than all else.
    for i in range(size):
        total = 0.0
        for j in range(size):
            total += inverse[i, j] * f[j]
        work.solved[i] = total
    acc[6], acc[7], acc[8] = to_room(r, work.solved[0], work.solved[1], work.solved[2])
    for i in range(3, size):
        acc[6 + i] = work.solved[i]


@jit
def accelerations(par, q, v, friction, drive, work):
    """Fill ``work.acc`` (18) and ``work.rate`` (8) for one instant; returns force in stops, N."""
    acc, rate = work.acc, work.rate
    acc[:] = 0.0
    rate[:] = 0.0
    work.wrench[:] = 0.0
    work.body[:] = 0.0
    set_rotation(q, CABINET, work.rot)
    set_rotation(q, TUB, work.rot)
    set_angular_velocity(v, CABINET, work)
    set_angular_velocity(v, TUB, work)
    # weights act at the centres, so they turn nothing
    work.wrench[CABINET, 2] = -par.cabinet[0] * GRAVITY
    work.wrench[TUB, 2] = -par.drum[GROUP_MASS] * GRAVITY
    add_struts(par, q, v, friction, rate, work)
    add_ties(par, q, v, work)
    hit = add_stops(par, q, v, work)
    on_floor = add_feet(par, q, v, friction, work)
    add_loose_weight(par, q, v, acc, work)
    add_spin(par, v, drive, work)
    add_unbalances(par, drive, work)
    add_tumbling_and_rumble(par, drive, work)
    add_hub(par, q, v, drive, work)
    solve_bodies(par, drive, v, acc, work)
    # no mass: the floor is rigid and stays where it is
    if par.floor[FLOOR_MASS] > 0.0:
        k, c = par.floor[FLOOR_STIFFNESS], par.floor[FLOOR_DAMPING]
        acc[FLOOR] = -(on_floor + k * q[FLOOR] + c * v[FLOOR]) / par.floor[FLOOR_MASS]
    return hit
