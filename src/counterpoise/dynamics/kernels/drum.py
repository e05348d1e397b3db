"""The turning drum: its weight and spin, what is out of balance on it, its support and bearing."""

from math import cos, sin, sqrt

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.layout import (
    ALPHA,
    BEARING_PLAY,
    GRAVITY,
    HEAVY_COS,
    HEAVY_DEPTH,
    HEAVY_MASS,
    HEAVY_RADIUS,
    HEAVY_SIN,
    HUB,
    HUB_DAMPING,
    HUB_STIFF,
    HUB_WEAK,
    HUB_WEAK_PLAY,
    IS_LAUNDRY,
    LEVER,
    LUMP_X,
    LUMP_Z,
    OMEGA,
    PHI,
    RUMBLE,
    SHARE,
    SPIN_INERTIA,
    TUB,
    TURNING_MASS,
)
from counterpoise.dynamics.kernels.rotation import add_force, to_room

SOURCE_DIGEST = "e6a955e604062323"


@jit
def add_spin(par, v, drive, work):
    """Add motor reaction, gyroscopic moment and weight of the drum, to tub and tilt of the hub."""
    # ``a`` is the drum's axis, ``first`` and ``second`` the two across it
    f, drum, a = work.body, par.drum, par.axes[2]
    r = work.rot[TUB]
    # gravity in the tub's own axes, in which its equations are solved
    g = (-GRAVITY * r[2, 0], -GRAVITY * r[2, 1], -GRAVITY * r[2, 2])
    first, second, pull = par.axes[0], par.axes[1], drum[TURNING_MASS] * drum[LEVER]
    # tilting on the hub turns the spin vector too
    wx = v[9] + v[HUB] * first[0] + v[HUB + 1] * second[0]
    wy = v[10] + v[HUB] * first[1] + v[HUB + 1] * second[1]
    wz = v[11] + v[HUB] * first[2] + v[HUB + 1] * second[2]
    spin, kick = drum[SPIN_INERTIA] * drive[OMEGA], drum[SPIN_INERTIA] * drive[ALPHA]
    # the moment that turns the spin vector, w x (I omega a), and the motor's, I alpha a
    mx = -spin * (wy * a[2] - wz * a[1]) - kick * a[0]
    my = -spin * (wz * a[0] - wx * a[2]) - kick * a[1]
    mz = -spin * (wx * a[1] - wy * a[0]) - kick * a[2]
    f[3] += mx
    f[4] += my
    f[5] += mz
    # The drum's weight bends its support; the tub has it already, in the mass of the group.
    mx += pull * (a[1] * g[2] - a[2] * g[1])
    my += pull * (a[2] * g[0] - a[0] * g[2])
    mz += pull * (a[0] * g[1] - a[1] * g[0])
    # the parts of the moment that tilt the drum on its hub
    f[6] += mx * first[0] + my * first[1] + mz * first[2]
    f[7] += mx * second[0] + my * second[1] + mz * second[2]


@jit
def add_unbalances(par, drive, work):
    """Add each unbalance: m r (omega^2 n - alpha t) at its place, and its weight about the axis."""
    f, drum, first, second, a = work.body, par.drum, par.axes[0], par.axes[1], par.axes[2]
    r = work.rot[TUB]
    g = (-GRAVITY * r[2, 0], -GRAVITY * r[2, 1], -GRAVITY * r[2, 2])
    sine, cosine = sin(drive[PHI]), cos(drive[PHI])
    for i in range(par.unbalances.shape[0]):
        u = par.unbalances[i]
        radius, depth = u[HEAVY_RADIUS], u[HEAVY_DEPTH]
        # laundry that does not cling yet does not turn with the drum
        moment = u[HEAVY_MASS] * radius * (drive[SHARE] if u[IS_LAUNDRY] > 0.0 else 1.0)
        c, s = (
            cosine * u[HEAVY_COS] - sine * u[HEAVY_SIN],
            sine * u[HEAVY_COS] + cosine * u[HEAVY_SIN],
        )
        # n outwards, t the way it turns, both in tub axes
        n = (
            c * first[0] + s * second[0],
            c * first[1] + s * second[1],
            c * first[2] + s * second[2],
        )
        t = (
            c * second[0] - s * first[0],
            c * second[1] - s * first[1],
            c * second[2] - s * first[2],
        )
        out, along = moment * drive[OMEGA] * drive[OMEGA], -moment * drive[ALPHA]
        fx, fy, fz = out * n[0] + along * t[0], out * n[1] + along * t[1], out * n[2] + along * t[2]
        hx, hy, hz = depth * a[0], depth * a[1], depth * a[2]
        px, py, pz = (
            drum[4] + hx + radius * n[0],
            drum[5] + hy + radius * n[1],
            drum[6] + hz + radius * n[2],
        )
        add_force(f, px, py, pz, fx, fy, fz)
        f[3] += moment * (n[1] * g[2] - n[2] * g[1])
        f[4] += moment * (n[2] * g[0] - n[0] * g[2])
        f[5] += moment * (n[0] * g[1] - n[1] * g[0])
        # about the hub only the arm along the axis counts: the other is in the tub's moment
        mx, my, mz = hy * fz - hz * fy, hz * fx - hx * fz, hx * fy - hy * fx
        f[6] += mx * first[0] + my * first[1] + mz * first[2]
        f[7] += mx * second[0] + my * second[1] + mz * second[2]


@jit
def add_tumbling_and_rumble(par, drive, work):
    """Add tumbling laundry at the drum's middle, and a worn bearing's rumble at the hub, in N."""
    if drive[LUMP_X] == 0.0 and drive[LUMP_Z] == 0.0 and drive[RUMBLE] == 0.0:
        return
    rot, drum, a = work.rot[TUB], par.drum, par.axes[2]
    # the lever is to the middle of all that turns, laundry with it
    lever = drum[LEVER]
    x, y, z = to_room(rot, drum[4] + lever * a[0], drum[5] + lever * a[1], drum[6] + lever * a[2])
    add_force(work.wrench[TUB], x, y, z, drive[LUMP_X], 0.0, drive[LUMP_Z])
    x, y, z = to_room(rot, drum[4], drum[5], drum[6])
    # half as much sideways as upright, where the weight loads the balls (estimate)
    add_force(work.wrench[TUB], x, y, z, 0.5 * drive[RUMBLE], 0.0, drive[RUMBLE])


@jit
def past_play(angle, play):
    """What is left of an angle (rad) once the play is used up, either way."""
    if angle > play:
        return angle - play
    if angle < -play:
        return angle + play
    return 0.0


@jit
def add_hub(par, q, v, drive, work):
    """Add the moment of the drum support: two stiffnesses that turn with the drum, with play."""
    hub = par.hub
    # a drum that sits tight does not tilt
    if hub[HUB_WEAK] <= 0.0:
        return
    sine, cosine = sin(drive[PHI]), cos(drive[PHI])
    # the tilt in axes that turn with the drum, in which its weak direction stands still
    b1 = q[HUB] * cosine + q[HUB + 1] * sine
    b2 = -q[HUB] * sine + q[HUB + 1] * cosine
    size = sqrt(b1 * b1 + b2 * b2)
    if hub[BEARING_PLAY] > 0.0:
        # a worn bearing leaves the same play all round
        shrink = past_play(size, hub[BEARING_PLAY]) / size if size > 0.0 else 0.0
        b1, b2 = b1 * shrink, b2 * shrink
    m1, m2 = -hub[HUB_WEAK] * past_play(b1, hub[HUB_WEAK_PLAY]), -hub[HUB_STIFF] * b2
    tilt1, tilt2 = m1 * cosine - m2 * sine, m1 * sine + m2 * cosine
    # within the play nothing touches, so nothing damps either
    if m1 != 0.0 or m2 != 0.0:
        tilt1 -= hub[HUB_DAMPING] * v[HUB]
        tilt2 -= hub[HUB_DAMPING] * v[HUB + 1]
    work.body[6] += tilt1
    work.body[7] += tilt2
