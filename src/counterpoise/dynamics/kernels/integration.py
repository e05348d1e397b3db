"""Time steps of the whole machine: integration, settling, differences, sampling.

The compiler's cache on disk watches only the file of the function that is called from outside, not
the files it draws on. ``SOURCE_DIGEST`` in each kernel file is the digest of those it imports, so
that a change there changes this file too and no stale code is ever run; a test keeps it true.
"""

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.contact import move_anchors
from counterpoise.dynamics.kernels.drive import set_drive, travel_switch
from counterpoise.dynamics.kernels.forces import accelerations
from counterpoise.dynamics.kernels.layout import (
    BUSHINGS,
    CABINET,
    COORDINATES,
    DRY_FRICTION,
    GRAVITY,
    PHI,
    TUB,
)
from counterpoise.dynamics.kernels.rotation import advance_rotation, to_body, to_room

SOURCE_DIGEST = "105b1082d462326f"


@jit
def limit_to_friction(par, friction):
    """Cut each bushing's force (N) to its lining's friction: where a step overshot, it has slid.

    Worn to a few newtons behind a stiff bushing it slides within less than a step, and the steps
    would swing ever wider about the friction. A part in a thousand is left to rounding.
    """
    for i in range(min(par.struts.shape[0], BUSHINGS)):
        most = par.struts[i, DRY_FRICTION]
        if abs(friction[i]) > 1.001 * most:
            friction[i] = most if friction[i] > 0.0 else -most


@jit
def step(par, state, dt, work):
    """One step of second order (s): velocity Verlet, the velocity predicted for the damping.

    ``work.acc`` and ``work.rate`` hold the values at the start and are replaced by those at the
    end, so that a step takes one evaluation of the forces. Returns the force in the stops, N.
    """
    q, v, friction, predicted = state.q, state.v, state.friction, work.predicted
    for i in range(COORDINATES):
        middle = v[i] + 0.5 * dt * work.acc[i]
        # forces that depend on the velocity are taken at the end of the step
        predicted[i] = v[i] + dt * work.acc[i]
        v[i] = middle
        if not (3 <= i < 6 or 9 <= i < 12):
            q[i] += dt * middle
    advance_rotation(q, 3, v[3], v[4], v[5], dt)
    advance_rotation(q, 9, v[9], v[10], v[11], dt)
    for i in range(BUSHINGS):
        work.last_rate[i] = work.rate[i]
        friction[i] += dt * work.rate[i]
    limit_to_friction(par, friction)
    hit = accelerations(par, q, predicted, friction, state.drive, work)
    for i in range(COORDINATES):
        v[i] += 0.5 * dt * work.acc[i]
    # Heun's rule for the bushings: the mean of the rates at both ends
    for i in range(BUSHINGS):
        friction[i] += 0.5 * dt * (work.rate[i] - work.last_rate[i])
    limit_to_friction(par, friction)
    move_anchors(friction, work)
    return hit


@jit
def settle(par, state, dt, steps, work):
    """Steps with the speed bled off and friction forgotten, until the machine lies still."""
    accelerations(par, state.q, state.v, state.friction, state.drive, work)
    for _ in range(steps):
        step(par, state, dt, work)
        for i in range(COORDINATES):
            state.v[i] *= 0.99
        # Held by its dampers the tub would rest in any of many places; without them in one.
        for i in range(state.friction.shape[0]):
            state.friction[i] = 0.0


@jit
def difference_quotients(par, state, small, work, out):
    """Fill ``out`` (2, 18, 18): change of acceleration with each coordinate and each rate.

    Central differences of width ``2 small``.
    """
    for which in range(2):
        vector = state.q if which == 0 else state.v
        for j in range(COORDINATES):
            kept = vector[j]
            vector[j] = kept + small
            accelerations(par, state.q, state.v, state.friction, state.drive, work)
            for i in range(COORDINATES):
                out[which, i, j] = work.acc[i]
            vector[j] = kept - small
            accelerations(par, state.q, state.v, state.friction, state.drive, work)
            for i in range(COORDINATES):
                out[which, i, j] = (out[which, i, j] - work.acc[i]) / (2.0 * small)
            vector[j] = kept


@jit
def record(run, par, state, work, row, out):
    """Write one sample into row ``row`` of ``out``: phone, tub, feet, drum."""
    r, c = work.rot[CABINET], run.phone
    q, v = state.q, state.v
    p = c[0]
    # a' x p + w x (w x p): what the phone feels beyond the cabinet's centre, in body axes
    ax, ay, az = work.acc[3], work.acc[4], work.acc[5]
    wx, wy, wz = v[3], v[4], v[5]
    cx, cy, cz = wy * p[2] - wz * p[1], wz * p[0] - wx * p[2], wx * p[1] - wy * p[0]
    bx = ay * p[2] - az * p[1] + wy * cz - wz * cy
    by = az * p[0] - ax * p[2] + wz * cx - wx * cz
    bz = ax * p[1] - ay * p[0] + wx * cy - wy * cx
    # an accelerometer at rest reads the floor's push, so gravity counts upwards
    lx, ly, lz = to_body(r, work.acc[0], work.acc[1], work.acc[2] + GRAVITY)
    for i in range(3):
        out.panel[row, i] = (
            c[1 + i, 0] * (lx + bx) + c[1 + i, 1] * (ly + by) + c[1 + i, 2] * (lz + bz)
        )
    for n in range(2):
        tx, ty, tz = to_room(work.rot[TUB], run.watch[n, 0], run.watch[n, 1], run.watch[n, 2])
        cx, cy, cz = to_room(r, run.watch[n, 3], run.watch[n, 4], run.watch[n, 5])
        out.tub[row, n, 0] = par.gap[0] + q[6] + tx - q[0] - cx
        out.tub[row, n, 1] = par.gap[1] + q[7] + ty - q[1] - cy
        out.tub[row, n, 2] = par.gap[2] + q[8] + tz - q[2] - cz
    for i in range(4):
        for j in range(3):
            out.foot[row, i, j] = work.foot[i, j]
        out.place[row, i, 0] = state.friction[BUSHINGS + 2 * i]
        out.place[row, i, 1] = state.friction[BUSHINGS + 1 + 2 * i]
    for i in range(3):
        out.drum[row, i] = state.drive[i]
    # the state is kept only where it was asked for: it is as much again as all the rest
    if row < out.state.shape[0]:
        for i in range(COORDINATES):
            out.state[row, i], out.state[row, COORDINATES + i] = q[i], v[i]


@jit
def integrate(par, run, state, out, work):
    """Run the machine from ``state``, with a sample every ``run.every`` steps.

    Returns how many samples hold: fewer than asked for when the machine tipped or the tub broke
    loose.
    """
    set_drive(run, par, state, 0.0)
    state.drive[PHI] = 0.0
    out.stop[0] = accelerations(par, state.q, state.v, state.friction, state.drive, work)
    record(run, par, state, work, 0, out)
    worst, row = out.stop[0], 1
    for n in range(1, run.every * (out.stop.shape[0] - 1) + 1):
        # from the count and not by adding up, so that rounding does not build up over a run
        t = n * run.dt
        set_drive(run, par, state, t)
        worst = max(worst, step(par, state, run.dt, work))
        travel_switch(run, state, t)
        if n % run.every == 0:
            record(run, par, state, work, row, out)
            out.stop[row], worst = worst, 0.0
            row += 1
            # beyond 1.2 rad the series of ``set_rotation`` and the linear feet mean nothing
            for i in range(3):
                if not (abs(state.q[3 + i]) < 1.2 and abs(state.q[9 + i]) < 1.2):
                    return row
    return row
