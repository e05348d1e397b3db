"""What touches and lets go: feet on the floor, and a weight that lies loose in its seat."""

from math import sqrt

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.layout import (
    BUSHINGS,
    CABINET,
    FLOOR,
    FOOT_ANCHOR_X,
    FOOT_ANCHOR_Y,
    FOOT_DAMPING,
    FOOT_FRICTION,
    FOOT_LENGTH,
    FOOT_SIDE_DAMPING,
    FOOT_SIDE_STIFFNESS,
    FOOT_SLIDES,
    FOOT_STIFFNESS,
    GRAVITY,
    SEAT_DAMPING,
    SEAT_STIFFNESS,
    TUB,
    WEIGHT,
    WEIGHT_GAP,
    WEIGHT_MASS,
)
from counterpoise.dynamics.kernels.rotation import add_force, arm_and_velocity

SOURCE_DIGEST = "e6a955e604062323"


@jit
def add_feet(par, q, v, friction, work):
    """Add four feet that cannot pull and stick up to mu N; returns the force on the floor in N."""
    floor = 0.0
    for i in range(4):
        s = par.feet[i]
        x, y, z, vx, vy, vz = arm_and_velocity(v, work, CABINET, s[0:3])
        # how far the foot is pressed into the floor
        depth = q[FLOOR] - (q[2] + z - s[2]) + s[FOOT_LENGTH]
        normal = s[FOOT_STIFFNESS] * depth + s[FOOT_DAMPING] * (v[FLOOR] - vz)
        # it hangs free, or would be held down by its own damping
        if depth <= 0.0 or normal < 0.0:
            normal = 0.0
        # Sideways the foot is a spring from the place where it sticks to the floor.
        k, c = s[FOOT_SIDE_STIFFNESS], s[FOOT_SIDE_DAMPING]
        fx = -k * (q[0] + x - s[0] - friction[BUSHINGS + 2 * i]) - c * vx
        fy = -k * (q[1] + y - s[1] - friction[BUSHINGS + 1 + 2 * i]) - c * vy
        size, most = sqrt(fx * fx + fy * fy), s[FOOT_FRICTION] * normal
        work.foot[i, FOOT_SLIDES] = 0.0
        if size > most:
            # It slides: the force is what friction holds, and the sticking point comes along to
            # where the spring would give just that.
            fx, fy = fx * most / size, fy * most / size
            work.foot[i, FOOT_SLIDES] = 1.0
            work.foot[i, FOOT_ANCHOR_X], work.foot[i, FOOT_ANCHOR_Y] = (
                q[0] + x - s[0] + fx / k,
                q[1] + y - s[1] + fy / k,
            )
        add_force(work.wrench[CABINET], x, y, z, fx, fy, normal)
        work.foot[i, 0], work.foot[i, 1], work.foot[i, 2] = fx, fy, normal
        floor += normal
    return floor


@jit
def move_anchors(friction, work):
    """Let a foot that slides take its sticking point along, once a step has been accepted."""
    for i in range(4):
        if work.foot[i, FOOT_SLIDES] > 0.0:
            friction[BUSHINGS + 2 * i] = work.foot[i, FOOT_ANCHOR_X]
            friction[BUSHINGS + 1 + 2 * i] = work.foot[i, FOOT_ANCHOR_Y]


@jit
def add_loose_weight(par, q, v, acc, work):
    """Add a weight loose in its seat on the tub: free within the gap, a stiff seat beyond it."""
    w = par.weight
    if w[WEIGHT_MASS] <= 0.0:
        return
    x, y, z, vx, vy, vz = arm_and_velocity(v, work, TUB, w[4:7])
    at, rate = (x - w[4], y - w[5], z - w[6]), (vx, vy, vz)
    for axis in range(3):
        # how far the weight is from the middle of its seat, and how fast it moves there
        slip = q[WEIGHT + axis] - q[6 + axis] - at[axis]
        way = v[WEIGHT + axis] - rate[axis]
        f = 0.0
        if slip > w[WEIGHT_GAP]:
            f = -w[SEAT_STIFFNESS] * (slip - w[WEIGHT_GAP]) - w[SEAT_DAMPING] * way
        elif slip < -w[WEIGHT_GAP]:
            f = -w[SEAT_STIFFNESS] * (slip + w[WEIGHT_GAP]) - w[SEAT_DAMPING] * way
        acc[WEIGHT + axis] = f / w[WEIGHT_MASS] - (GRAVITY if axis == 2 else 0.0)
        add_force(work.wrench[TUB], x, y, z, -f * (axis == 0), -f * (axis == 1), -f * (axis == 2))
