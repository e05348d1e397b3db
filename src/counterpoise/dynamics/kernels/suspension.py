"""What holds the tub: springs, rods and dampers, bellows and bolts, and the stops beyond them."""

from math import sqrt, tanh

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.layout import (
    BUSHING_STIFFNESS,
    CABINET,
    DRY_FRICTION,
    FREE_LENGTH,
    PULLS_ONLY,
    SETTLING_SPEED,
    STOP_CABINET_ARM,
    STOP_DAMPING,
    STOP_LEAST_WAY,
    STOP_STIFFNESS,
    STOP_TUB_ARM,
    STOP_WAYS,
    STRUT_STIFFNESS,
    STRUT_VISCOUS,
    TIE_DAMPING,
    TIE_OFFSET,
    TIE_STIFFNESS,
    TUB,
)
from counterpoise.dynamics.kernels.rotation import add_force, arm_and_velocity

SOURCE_DIGEST = "e6a955e604062323"


@jit
def add_struts(par, q, v, friction, rate, work):
    """Add springs, rods and dampers: forces along the line between two nodes.

    ``rate`` (8) is filled with the change of force in each bushing, N/s.
    """
    wrench = work.wrench
    for i in range(par.struts.shape[0]):
        s = par.struts[i]
        cx, cy, cz, cvx, cvy, cvz = arm_and_velocity(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_velocity(v, work, TUB, s[3:6])
        # ``par.gap`` is the way between the two centres as drawn
        ux = par.gap[0] + q[6] + tx - q[0] - cx
        uy = par.gap[1] + q[7] + ty - q[1] - cy
        uz = par.gap[2] + q[8] + tz - q[2] - cz
        length = sqrt(ux * ux + uy * uy + uz * uz)
        # one division instead of three
        shrink = 1.0 / length
        ux, uy, uz = ux * shrink, uy * shrink, uz * shrink
        speed = ux * (tvx - cvx) + uy * (tvy - cvy) + uz * (tvz - cvz)
        pull = s[STRUT_STIFFNESS] * (length - s[FREE_LENGTH]) + s[STRUT_VISCOUS] * speed
        if s[DRY_FRICTION] > 0.0:
            if s[BUSHING_STIFFNESS] > 0.0:
                # the bushing gives first, then the lining slides (Dahl's law)
                f = friction[i]
                rate[i] = s[BUSHING_STIFFNESS] * (speed - abs(speed) * f / s[DRY_FRICTION])
                pull += f
            else:
                # rigid bushings: a steep but smooth turn through zero, so that steps can follow it
                pull += s[DRY_FRICTION] * tanh(speed / s[SETTLING_SPEED])
        # a hanging rod goes slack
        if s[PULLS_ONLY] > 0.0 and pull < 0.0:
            pull = 0.0
        add_force(wrench[CABINET], cx, cy, cz, pull * ux, pull * uy, pull * uz)
        add_force(wrench[TUB], tx, ty, tz, -pull * ux, -pull * uy, -pull * uz)


@jit
def add_ties(par, q, v, work):
    """Add bellows and transit bolts: springs along x, y, z between points that coincide at rest."""
    wrench = work.wrench
    for i in range(par.ties.shape[0]):
        s = par.ties[i]
        k, c, at = s[TIE_STIFFNESS:TIE_DAMPING], s[TIE_DAMPING:TIE_OFFSET], s[TIE_OFFSET:]
        cx, cy, cz, cvx, cvy, cvz = arm_and_velocity(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_velocity(v, work, TUB, s[3:6])
        fx = k[0] * (par.gap[0] + q[6] + tx - q[0] - cx - at[0]) + c[0] * (tvx - cvx)
        fy = k[1] * (par.gap[1] + q[7] + ty - q[1] - cy - at[1]) + c[1] * (tvy - cvy)
        fz = k[2] * (par.gap[2] + q[8] + tz - q[2] - cz - at[2]) + c[2] * (tvz - cvz)
        add_force(wrench[CABINET], cx, cy, cz, fx, fy, fz)
        add_force(wrench[TUB], tx, ty, tz, -fx, -fy, -fz)


@jit
def stop_force(depth, rate, stiffness, damping):
    """Force of a rubber stop in N, k d^1.5 + c d', never pulling; 0 where nothing touches."""
    if depth <= 0.0:
        return 0.0
    # d sqrt(d) instead of a power: several times as fast
    return max(0.0, stiffness * depth * sqrt(depth) + damping * rate)


@jit
def add_stops(par, q, v, work):
    """Add the blows of tub against cabinet at both ends of the tub; returns their sum in N."""
    total = 0.0
    # The way between the two points is at most the shift of the bodies and their turns times the
    # arms: while that is less than the least room there is nothing to reckon.
    shift = sqrt((q[6] - q[0]) ** 2 + (q[7] - q[1]) ** 2 + (q[8] - q[2]) ** 2)
    cabinet = sqrt(q[3] * q[3] + q[4] * q[4] + q[5] * q[5])
    tub = sqrt(q[9] * q[9] + q[10] * q[10] + q[11] * q[11])
    for i in range(par.stops.shape[0]):
        s = par.stops[i]
        if shift + cabinet * s[STOP_CABINET_ARM] + tub * s[STOP_TUB_ARM] < s[STOP_LEAST_WAY]:
            continue
        cx, cy, cz, cvx, cvy, cvz = arm_and_velocity(v, work, CABINET, s[0:3])
        tx, ty, tz, tvx, tvy, tvz = arm_and_velocity(v, work, TUB, s[3:6])
        gap = (
            par.gap[0] + q[6] + tx - q[0] - cx,
            par.gap[1] + q[7] + ty - q[1] - cy,
            par.gap[2] + q[8] + tz - q[2] - cz,
        )
        rate = (tvx - cvx, tvy - cvy, tvz - cvz)
        for axis in range(3):
            # positive when the tub has gone past the stop of that side
            low, high = s[STOP_WAYS + 2 * axis], s[STOP_WAYS + 1 + 2 * axis]
            f = stop_force(low * -1.0 - gap[axis], -rate[axis], s[STOP_STIFFNESS], s[STOP_DAMPING])
            f -= stop_force(gap[axis] - high, rate[axis], s[STOP_STIFFNESS], s[STOP_DAMPING])
            if f != 0.0:
                fx, fy, fz = f * (axis == 0), f * (axis == 1), f * (axis == 2)
                add_force(work.wrench[TUB], tx, ty, tz, fx, fy, fz)
                add_force(work.wrench[CABINET], cx, cy, cz, -fx, -fy, -fz)
                total += abs(f)
    return total
