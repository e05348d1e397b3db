"""Rotation vectors, axes of body and room, and forces that work at an arm."""

from counterpoise.dynamics.kernels.compiler import jit

SOURCE_DIGEST = "c20bdf8f23984c44"


@jit
def set_rotation(q, body, rot):
    """Fill ``rot[body]`` (3, 3) from the body's rotation vector in ``q``, rad."""
    x, y, z = q[6 * body + 3], q[6 * body + 4], q[6 * body + 5]
    s2 = x * x + y * y + z * z
    # Rodrigues: sin(s) / s and (1 - cos(s)) / s^2 as series, which need no root and no case for
    # standing upright; exact to 1e-9 below 0.3 rad.
    a = 1.0 - s2 / 6.0 * (1.0 - s2 / 20.0 * (1.0 - s2 / 42.0))
    b = 0.5 - s2 / 24.0 * (1.0 - s2 / 30.0 * (1.0 - s2 / 56.0))
    r = rot[body]
    r[0, 0], r[0, 1], r[0, 2] = 1.0 - b * (y * y + z * z), b * x * y - a * z, b * x * z + a * y
    r[1, 0], r[1, 1], r[1, 2] = b * x * y + a * z, 1.0 - b * (x * x + z * z), b * y * z - a * x
    r[2, 0], r[2, 1], r[2, 2] = b * x * z - a * y, b * y * z + a * x, 1.0 - b * (x * x + y * y)


@jit
def to_room(r, x, y, z):
    """A vector in body axes, given in room axes by the rotation matrix ``r`` (3, 3)."""
    return (
        r[0, 0] * x + r[0, 1] * y + r[0, 2] * z,
        r[1, 0] * x + r[1, 1] * y + r[1, 2] * z,
        r[2, 0] * x + r[2, 1] * y + r[2, 2] * z,
    )


@jit
def to_body(r, x, y, z):
    """A vector in room axes, given in body axes: the transposed matrix turns it back."""
    return (
        r[0, 0] * x + r[1, 0] * y + r[2, 0] * z,
        r[0, 1] * x + r[1, 1] * y + r[2, 1] * z,
        r[0, 2] * x + r[1, 2] * y + r[2, 2] * z,
    )


@jit
def set_angular_velocity(v, body, work):
    """Fill ``work.angular[body]`` (3) in room axes, rad/s: once for all points of the body."""
    o, w = 6 * body, work.angular
    w[body, 0], w[body, 1], w[body, 2] = to_room(work.rot[body], v[o + 3], v[o + 4], v[o + 5])


@jit
def arm_and_velocity(v, work, body, point):
    """Arm of a body's point in room axes (m) and the point's velocity in the room (m/s), six."""
    o, w = 6 * body, work.angular
    x, y, z = to_room(work.rot[body], point[0], point[1], point[2])
    wx, wy, wz = w[body, 0], w[body, 1], w[body, 2]
    return x, y, z, v[o] + wy * z - wz * y, v[o + 1] + wz * x - wx * z, v[o + 2] + wx * y - wy * x


@jit
def add_force(wrench, x, y, z, fx, fy, fz):
    """Add a force (N) at an arm (m) to a body's ``wrench`` (6): force, then moment, room axes."""
    wrench[0] += fx
    wrench[1] += fy
    wrench[2] += fz
    wrench[3] += y * fz - z * fy
    wrench[4] += z * fx - x * fz
    wrench[5] += x * fy - y * fx


@jit
def advance_rotation(q, o, x, y, z, dt):
    """Advance the rotation vector at ``q[o]`` by an angular velocity in body axes over ``dt`` s."""
    # The rate of a rotation vector is not the angular velocity: w + r x w / 2 + r x (r x w) / 12
    # (Bortz 1971, from memory), taken at the middle of the step.
    a, b, c = q[o] + 0.5 * dt * x, q[o + 1] + 0.5 * dt * y, q[o + 2] + 0.5 * dt * z
    cx, cy, cz = b * z - c * y, c * x - a * z, a * y - b * x
    q[o] += dt * (x + 0.5 * cx + (b * cz - c * cy) / 12.0)
    q[o + 1] += dt * (y + 0.5 * cy + (c * cx - a * cz) / 12.0)
    q[o + 2] += dt * (z + 0.5 * cz + (a * cy - b * cx) / 12.0)
