"""Forces on every body at one instant.

Generalised coordinates ``q`` (18): cabinet centre of gravity (0-2), its rotation vector (3-5), tub group centre of
gravity (6-8),
its rotation vector (9-11), tilt of the drum on its hub about the tub's two cross axes (12-13), a loose weight
(14-16), floor (17).
``v`` holds the rates: velocities in room axes, angular velocities in body axes. ``inner`` holds what friction
remembers: the force in
each damper's bushing (0-7), then for each foot where it sticks to the floor, x and y (8-15). SI units throughout.
"""

from math import cos, sin, sqrt, tanh
from typing import Any

from numba import njit

# Without the run-time for memory the compiler refuses any allocation and counts no references: four times as fast.
# "contract" lets a product and a sum be rounded once together (a tenth faster); nothing is reordered.
FASTER = {"contract"}
OPTIONS: dict[str, Any] = {
    "cache": True,
    "nogil": True,
    "fastmath": FASTER,
    "error_model": "numpy",
    "_nrt": False,
}
jit: Any = njit(**OPTIONS)

GRAVITY = 9.80665
CABINET, TUB = 0, 1
HUB, WEIGHT, FLOOR = 12, 14, 17
# columns of the row ``drive``: drum angle, speed, acceleration, share of the unbalance that turns with the drum,
# laundry force x, z, bearing force
PHI, OMEGA, ALPHA, SHARE, LUMP_X, LUMP_Z, RUMBLE = 0, 1, 2, 3, 4, 5, 6


@jit
def set_rotation(q, body, rot):
    """Rotation matrix of a rotation vector; the series is exact to 1e-9 below 0.3 rad."""
    x, y, z = q[6 * body + 3], q[6 * body + 4], q[6 * body + 5]
    s2 = x * x + y * y + z * z
    a = 1.0 - s2 / 6.0 * (1.0 - s2 / 20.0 * (1.0 - s2 / 42.0))
    b = 0.5 - s2 / 24.0 * (1.0 - s2 / 30.0 * (1.0 - s2 / 56.0))
    r = rot[body]
    r[0, 0], r[0, 1], r[0, 2] = 1.0 - b * (y * y + z * z), b * x * y - a * z, b * x * z + a * y
    r[1, 0], r[1, 1], r[1, 2] = b * x * y + a * z, 1.0 - b * (x * x + z * z), b * y * z - a * x
    r[2, 0], r[2, 1], r[2, 2] = b * x * z - a * y, b * y * z + a * x, 1.0 - b * (x * x + y * y)


@jit
def turned(r, x, y, z):
    """Body axes to room axes."""
    return (
        r[0, 0] * x + r[0, 1] * y + r[0, 2] * z,
        r[1, 0] * x + r[1, 1] * y + r[1, 2] * z,
        r[2, 0] * x + r[2, 1] * y + r[2, 2] * z,
    )


@jit
def turned_back(r, x, y, z):
    """Room axes to body axes."""
    return (
        r[0, 0] * x + r[1, 0] * y + r[2, 0] * z,
        r[0, 1] * x + r[1, 1] * y + r[2, 1] * z,
        r[0, 2] * x + r[1, 2] * y + r[2, 2] * z,
    )


@jit
def set_turning(v, body, work):
    """Angular velocity of a body in room axes, once for all its points."""
    o, w = 6 * body, work.turning
    w[body, 0], w[body, 1], w[body, 2] = turned(work.rot[body], v[o + 3], v[o + 4], v[o + 5])


@jit
def arm_and_rate(v, work, body, point):
    """Arm of a body's point in room axes and the point's velocity relative to the room."""
    o, w = 6 * body, work.turning
    x, y, z = turned(work.rot[body], point[0], point[1], point[2])
    wx, wy, wz = w[body, 0], w[body, 1], w[body, 2]
    return x, y, z, v[o] + wy * z - wz * y, v[o + 1] + wz * x - wx * z, v[o + 2] + wx * y - wy * x


@jit
def push(wrench, x, y, z, fx, fy, fz):
    """Add a force at an arm to a body's force and moment, both in room axes."""
    wrench[0] += fx
    wrench[1] += fy
    wrench[2] += fz
    wrench[3] += y * fz - z * fy
    wrench[4] += z * fx - x * fz
    wrench[5] += x * fy - y * fx


@jit
def add_struts(par, q, v, inner, rate, work):
    """Springs, rods and dampers: forces along the line between a cabinet node and a tub node."""
    wrench = work.wrench
    for i in range(par.struts.shape[0]):
        s = par.struts[i]
        cx, cy, cz, cvx, cvy, cvz = arm_and_rate(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_rate(v, work, TUB, s[3:6])
        ux = par.gap[0] + q[6] + tx - q[0] - cx
        uy = par.gap[1] + q[7] + ty - q[1] - cy
        uz = par.gap[2] + q[8] + tz - q[2] - cz
        length = sqrt(ux * ux + uy * uy + uz * uz)
        shrink = 1.0 / length
        ux, uy, uz = ux * shrink, uy * shrink, uz * shrink
        speed = ux * (tvx - cvx) + uy * (tvy - cvy) + uz * (tvz - cvz)
        pull = s[6] * (length - s[7]) + s[8] * speed
        if s[9] > 0.0:
            if s[11] > 0.0:  # the bushing gives first, then the lining slides (Dahl)
                f = inner[i]
                rate[i] = s[11] * (speed - abs(speed) * f / s[9])
                pull += f
            else:
                pull += s[9] * tanh(speed / s[10])
        if s[12] > 0.0 and pull < 0.0:
            pull = 0.0
        push(wrench[CABINET], cx, cy, cz, pull * ux, pull * uy, pull * uz)
        push(wrench[TUB], tx, ty, tz, -pull * ux, -pull * uy, -pull * uz)


@jit
def add_ties(par, q, v, work):
    """Door bellows and transit bolts: springs along the three axes between two points that coincide at rest."""
    wrench = work.wrench
    for i in range(par.ties.shape[0]):
        s = par.ties[i]
        cx, cy, cz, cvx, cvy, cvz = arm_and_rate(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_rate(v, work, TUB, s[3:6])
        fx = s[6] * (par.gap[0] + q[6] + tx - q[0] - cx - s[12]) + s[9] * (tvx - cvx)
        fy = s[7] * (par.gap[1] + q[7] + ty - q[1] - cy - s[13]) + s[10] * (tvy - cvy)
        fz = s[8] * (par.gap[2] + q[8] + tz - q[2] - cz - s[14]) + s[11] * (tvz - cvz)
        push(wrench[CABINET], cx, cy, cz, fx, fy, fz)
        push(wrench[TUB], tx, ty, tz, -fx, -fy, -fz)


@jit
def stop_force(depth, rate, stiffness, damping):
    """Rubber stop: k d^1.5 + c d', never pulling."""
    if depth <= 0.0:
        return 0.0
    return max(0.0, stiffness * depth * sqrt(depth) + damping * rate)


@jit
def add_stops(par, q, v, work):
    """Tub against cabinet, at both ends of the tub; returns the sum of the contact forces.

    The way between the two points is at most the shift of the bodies and their turns times the arms: while that is
    less than the least room there is nothing to reckon.
    """
    total = 0.0
    shift = sqrt((q[6] - q[0]) ** 2 + (q[7] - q[1]) ** 2 + (q[8] - q[2]) ** 2)
    cabinet = sqrt(q[3] * q[3] + q[4] * q[4] + q[5] * q[5])
    tub = sqrt(q[9] * q[9] + q[10] * q[10] + q[11] * q[11])
    for i in range(par.stops.shape[0]):
        s = par.stops[i]
        if shift + cabinet * s[14] + tub * s[15] < s[16]:
            continue
        cx, cy, cz, cvx, cvy, cvz = arm_and_rate(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_rate(v, work, TUB, s[3:6])
        gap = (
            par.gap[0] + q[6] + tx - q[0] - cx,
            par.gap[1] + q[7] + ty - q[1] - cy,
            par.gap[2] + q[8] + tz - q[2] - cz,
        )
        rate = (tvx - cvx, tvy - cvy, tvz - cvz)
        for axis in range(3):
            f = stop_force(s[6 + 2 * axis] * -1.0 - gap[axis], -rate[axis], s[12], s[13])
            f -= stop_force(gap[axis] - s[7 + 2 * axis], rate[axis], s[12], s[13])
            if f != 0.0:
                fx, fy, fz = f * (axis == 0), f * (axis == 1), f * (axis == 2)
                push(work.wrench[TUB], tx, ty, tz, fx, fy, fz)
                push(work.wrench[CABINET], cx, cy, cz, -fx, -fy, -fz)
                total += abs(f)
    return total


@jit
def add_feet(par, q, v, inner, work):
    """Feet that cannot pull and stick to the floor up to mu N; returns the force on the floor (down positive)."""
    floor = 0.0
    for i in range(4):
        s = par.feet[i]
        x, y, z, vx, vy, vz = arm_and_rate(v, work, CABINET, s[0:3])
        depth = q[FLOOR] - (q[2] + z - s[2]) + s[3]
        normal = s[4] * depth + s[5] * (v[FLOOR] - vz)
        if depth <= 0.0 or normal < 0.0:
            normal = 0.0
        fx = -s[6] * (q[0] + x - s[0] - inner[8 + 2 * i]) - s[7] * vx
        fy = -s[6] * (q[1] + y - s[1] - inner[9 + 2 * i]) - s[7] * vy
        size, most = sqrt(fx * fx + fy * fy), s[8] * normal
        work.foot[i, 3] = 0.0
        if size > most:
            fx, fy = fx * most / size, fy * most / size
            work.foot[i, 3] = 1.0
            work.foot[i, 4], work.foot[i, 5] = (
                q[0] + x - s[0] + fx / s[6],
                q[1] + y - s[1] + fy / s[6],
            )
        push(work.wrench[CABINET], x, y, z, fx, fy, normal)
        work.foot[i, 0], work.foot[i, 1], work.foot[i, 2] = fx, fy, normal
        floor += normal
    return floor


@jit
def move_anchors(inner, work):
    """Let a foot that slides take its sticking point along."""
    for i in range(4):
        if work.foot[i, 3] > 0.0:
            inner[8 + 2 * i], inner[9 + 2 * i] = work.foot[i, 4], work.foot[i, 5]


@jit
def add_loose_weight(par, q, v, acc, work):
    """A weight of the tub that lies loose in its seat: free within the gap, stopped by a stiff seat beyond."""
    w = par.weight
    if w[0] <= 0.0:
        return
    x, y, z, vx, vy, vz = arm_and_rate(v, work, TUB, w[4:7])
    at, rate = (x - w[4], y - w[5], z - w[6]), (vx, vy, vz)
    for axis in range(3):
        slip = q[WEIGHT + axis] - q[6 + axis] - at[axis]
        way = v[WEIGHT + axis] - rate[axis]
        f = 0.0
        if slip > w[1]:
            f = -w[2] * (slip - w[1]) - w[3] * way
        elif slip < -w[1]:
            f = -w[2] * (slip + w[1]) - w[3] * way
        acc[WEIGHT + axis] = f / w[0] - (GRAVITY if axis == 2 else 0.0)
        push(work.wrench[TUB], x, y, z, -f * (axis == 0), -f * (axis == 1), -f * (axis == 2))


@jit
def add_spin(par, v, drive, work):
    """Motor reaction, gyroscopic moment and weight of the drum, on the tub and on the drum's tilt."""
    f, drum, a = work.body, par.drum, par.axes[2]
    r = work.rot[TUB]
    g = (-GRAVITY * r[2, 0], -GRAVITY * r[2, 1], -GRAVITY * r[2, 2])
    one, two, pull = par.axes[0], par.axes[1], drum[1] * drum[3]
    wx = (
        v[9] + v[HUB] * one[0] + v[HUB + 1] * two[0]
    )  # tilting on the hub turns the spin vector too
    wy = v[10] + v[HUB] * one[1] + v[HUB + 1] * two[1]
    wz = v[11] + v[HUB] * one[2] + v[HUB + 1] * two[2]
    spin, kick = drum[0] * drive[OMEGA], drum[0] * drive[ALPHA]
    mx = -spin * (wy * a[2] - wz * a[1]) - kick * a[0]
    my = -spin * (wz * a[0] - wx * a[2]) - kick * a[1]
    mz = -spin * (wx * a[1] - wy * a[0]) - kick * a[2]
    f[3] += mx
    f[4] += my
    f[5] += mz
    mx += pull * (a[1] * g[2] - a[2] * g[1])
    my += pull * (a[2] * g[0] - a[0] * g[2])
    mz += pull * (a[0] * g[1] - a[1] * g[0])
    f[6] += mx * one[0] + my * one[1] + mz * one[2]
    f[7] += mx * two[0] + my * two[1] + mz * two[2]


@jit
def add_unbalances(par, drive, work):
    """Each unbalance: m r (omega^2 n - alpha t) at its place, and the moment of its weight about the axis."""
    f, drum, one, two, a = work.body, par.drum, par.axes[0], par.axes[1], par.axes[2]
    r = work.rot[TUB]
    g = (-GRAVITY * r[2, 0], -GRAVITY * r[2, 1], -GRAVITY * r[2, 2])
    sine, cosine = sin(drive[PHI]), cos(drive[PHI])
    for i in range(par.unbalances.shape[0]):
        u = par.unbalances[i]
        moment = u[0] * u[1] * (drive[SHARE] if u[5] > 0.0 else 1.0)
        c, s = cosine * u[3] - sine * u[4], sine * u[3] + cosine * u[4]
        n = (c * one[0] + s * two[0], c * one[1] + s * two[1], c * one[2] + s * two[2])
        t = (c * two[0] - s * one[0], c * two[1] - s * one[1], c * two[2] - s * one[2])
        out, along = moment * drive[OMEGA] * drive[OMEGA], -moment * drive[ALPHA]
        fx, fy, fz = out * n[0] + along * t[0], out * n[1] + along * t[1], out * n[2] + along * t[2]
        hx, hy, hz = u[2] * a[0], u[2] * a[1], u[2] * a[2]
        px, py, pz = (
            drum[4] + hx + u[1] * n[0],
            drum[5] + hy + u[1] * n[1],
            drum[6] + hz + u[1] * n[2],
        )
        push(f, px, py, pz, fx, fy, fz)
        f[3] += moment * (n[1] * g[2] - n[2] * g[1])
        f[4] += moment * (n[2] * g[0] - n[0] * g[2])
        f[5] += moment * (n[0] * g[1] - n[1] * g[0])
        mx, my, mz = hy * fz - hz * fy, hz * fx - hx * fz, hx * fy - hy * fx
        f[6] += mx * one[0] + my * one[1] + mz * one[2]
        f[7] += mx * two[0] + my * two[1] + mz * two[2]


@jit
def add_rough(par, drive, work):
    """Tumbling laundry at the middle of the drum, and the rumble of a worn bearing at the hub (radial, upright)."""
    if drive[LUMP_X] == 0.0 and drive[LUMP_Z] == 0.0 and drive[RUMBLE] == 0.0:
        return
    rot, drum, a = work.rot[TUB], par.drum, par.axes[2]
    x, y, z = turned(
        rot, drum[4] + drum[3] * a[0], drum[5] + drum[3] * a[1], drum[6] + drum[3] * a[2]
    )
    push(work.wrench[TUB], x, y, z, drive[LUMP_X], 0.0, drive[LUMP_Z])
    x, y, z = turned(rot, drum[4], drum[5], drum[6])
    push(work.wrench[TUB], x, y, z, 0.5 * drive[RUMBLE], 0.0, drive[RUMBLE])


@jit
def beyond(angle, play):
    """What is left of an angle once the play is used up."""
    if angle > play:
        return angle - play
    if angle < -play:
        return angle + play
    return 0.0


@jit
def add_hub(par, q, v, drive, work):
    """Restoring moment between drum and tub: two stiffnesses that turn with the drum, with play; damping beside it."""
    hub = par.hub
    if hub[0] <= 0.0:
        return
    sine, cosine = sin(drive[PHI]), cos(drive[PHI])
    b1 = q[HUB] * cosine + q[HUB + 1] * sine
    b2 = -q[HUB] * sine + q[HUB + 1] * cosine
    size = sqrt(b1 * b1 + b2 * b2)
    if hub[4] > 0.0:  # a worn bearing leaves the same play all round
        shrink = beyond(size, hub[4]) / size if size > 0.0 else 0.0
        b1, b2 = b1 * shrink, b2 * shrink
    m1, m2 = -hub[0] * beyond(b1, hub[2]), -hub[1] * b2
    tilt1, tilt2 = m1 * cosine - m2 * sine, m1 * sine + m2 * cosine
    if m1 != 0.0 or m2 != 0.0:
        tilt1 -= hub[3] * v[HUB]
        tilt2 -= hub[3] * v[HUB + 1]
    work.body[6] += tilt1
    work.body[7] += tilt2


@jit
def solve_bodies(par, drive, v, acc, work):
    """Wrenches to accelerations: cabinet by its own inertia, tub group together with the drum's tilt."""
    w, r = work.wrench[CABINET], work.rot[CABINET]
    for i in range(3):
        acc[i] = w[i] / par.cabinet[0]
    mx, my, mz = turned_back(r, w[3], w[4], w[5])
    p, s, t = v[3], v[4], v[5]
    jx, jy, jz = par.cabinet[1], par.cabinet[2], par.cabinet[3]
    acc[3] = (mx - (jz - jy) * s * t) / jx
    acc[4] = (my - (jx - jz) * t * p) / jy
    acc[5] = (mz - (jy - jx) * p * s) / jz
    w, r, f = work.wrench[TUB], work.rot[TUB], work.body
    fx, fy, fz = turned_back(r, w[0], w[1], w[2])
    mx, my, mz = turned_back(r, w[3], w[4], w[5])
    p, s, t, jj = v[9], v[10], v[11], par.inertia
    hx, hy, hz = turned(jj, p, s, t)
    f[0] += fx
    f[1] += fy
    f[2] += fz
    f[3] += mx - (s * hz - t * hy)
    f[4] += my - (t * hx - p * hz)
    f[5] += mz - (p * hy - s * hx)
    which = 1 if drive[OMEGA] > par.drum[2] else 0
    inverse = par.inverse[which]
    size = 8 if par.hub[0] > 0.0 else 6  # a drum that sits tight does not tilt
    for i in range(size):
        total = 0.0
        for j in range(size):
            total += inverse[i, j] * f[j]
        work.solved[i] = total
    acc[6], acc[7], acc[8] = turned(r, work.solved[0], work.solved[1], work.solved[2])
    for i in range(3, size):
        acc[6 + i] = work.solved[i]


@jit
def accelerations(par, q, v, inner, drive, work):
    """Fill ``work.acc`` and ``work.rate`` for one instant; returns the force in the stops."""
    acc, rate = work.acc, work.rate
    acc[:] = 0.0
    rate[:] = 0.0
    work.wrench[:] = 0.0
    work.body[:] = 0.0
    set_rotation(q, CABINET, work.rot)
    set_rotation(q, TUB, work.rot)
    set_turning(v, CABINET, work)
    set_turning(v, TUB, work)
    work.wrench[CABINET, 2] = -par.cabinet[0] * GRAVITY
    work.wrench[TUB, 2] = -par.drum[7] * GRAVITY
    add_struts(par, q, v, inner, rate, work)
    add_ties(par, q, v, work)
    hit = add_stops(par, q, v, work)
    on_floor = add_feet(par, q, v, inner, work)
    add_loose_weight(par, q, v, acc, work)
    add_spin(par, v, drive, work)
    add_unbalances(par, drive, work)
    add_rough(par, drive, work)
    add_hub(par, q, v, drive, work)
    solve_bodies(par, drive, v, acc, work)
    if par.floor[0] > 0.0:
        acc[FLOOR] = -(on_floor + par.floor[1] * q[FLOOR] + par.floor[2] * v[FLOOR]) / par.floor[0]
    return hit
