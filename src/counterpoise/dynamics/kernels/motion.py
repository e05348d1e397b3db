"""Time steps of the whole machine: drive, integration, sampling. The layout of the state stands in ``forces``.

The compiler's cache on disk watches only the file of the function that is called from outside, not the files it
draws on. ``SOURCE_DIGEST``
is the digest of ``forces.py``; a test keeps it true, so a change there changes this file too and no stale code is
ever run.
"""

from math import cos, sin

from counterpoise.dynamics.kernels.forces import (
    ALPHA,
    CABINET,
    GRAVITY,
    LUMP_X,
    LUMP_Z,
    OMEGA,
    PHI,
    RUMBLE,
    SHARE,
    TUB,
    accelerations,
    jit,
    move_anchors,
    turned,
    turned_back,
)

SOURCE_DIGEST = "263743434211f113"


@jit
def turn(q, o, x, y, z, dt):
    """Advance a rotation vector by the body-axes angular velocity held over a step."""
    a, b, c = q[o] + 0.5 * dt * x, q[o + 1] + 0.5 * dt * y, q[o + 2] + 0.5 * dt * z
    cx, cy, cz = b * z - c * y, c * x - a * z, a * y - b * x
    q[o] += dt * (x + 0.5 * cx + (b * cz - c * cy) / 12.0)
    q[o + 1] += dt * (y + 0.5 * cy + (c * cx - a * cz) / 12.0)
    q[o + 2] += dt * (z + 0.5 * cz + (a * cy - b * cx) / 12.0)


@jit
def slide(par, inner):
    """No lining holds more than its friction: where a step takes one beyond, it has slid.

    Worn to a few newtons behind a stiff bushing it slides within less than a step, and the steps would swing ever
    wider about the friction. A part in a thousand is left to rounding.
    """
    for i in range(min(par.struts.shape[0], 8)):
        most = par.struts[i, 9]
        if abs(inner[i]) > 1.001 * most:
            inner[i] = most if inner[i] > 0.0 else -most


@jit
def step(par, state, dt, work):
    """One step of second order with one evaluation: velocity Verlet, the velocity predicted for the damping.

    ``work.acc`` and ``work.rate`` hold the values at the start and are replaced by those at the end.
    """
    q, v, inner, ahead = state.q, state.v, state.inner, work.ahead
    for i in range(18):
        middle = v[i] + 0.5 * dt * work.acc[i]
        ahead[i] = v[i] + dt * work.acc[i]
        v[i] = middle
        if not (3 <= i < 6 or 9 <= i < 12):
            q[i] += dt * middle
    turn(q, 3, v[3], v[4], v[5], dt)
    turn(q, 9, v[9], v[10], v[11], dt)
    for i in range(8):
        work.before[i] = work.rate[i]
        inner[i] += dt * work.rate[i]
    slide(par, inner)
    hit = accelerations(par, q, ahead, inner, state.drive, work)
    for i in range(18):
        v[i] += 0.5 * dt * work.acc[i]
    for i in range(8):
        inner[i] += 0.5 * dt * (work.rate[i] - work.before[i])
    slide(par, inner)
    move_anchors(inner, work)
    return hit


@jit
def fall_into_place(par, state, dt, steps, work):
    """Time steps with the speed bled off and friction forgotten, until the machine lies still."""
    accelerations(par, state.q, state.v, state.inner, state.drive, work)
    for _ in range(steps):
        step(par, state, dt, work)
        for i in range(18):
            state.v[i] *= 0.99
        for i in range(16):
            state.inner[i] = 0.0


@jit
def slopes(par, state, small, work, out):
    """Change of acceleration with each coordinate (``out[0]``) and each rate (``out[1]``) by central differences."""
    for which in range(2):
        vector = state.q if which == 0 else state.v
        for j in range(18):
            kept = vector[j]
            vector[j] = kept + small
            accelerations(par, state.q, state.v, state.inner, state.drive, work)
            for i in range(18):
                out[which, i, j] = work.acc[i]
            vector[j] = kept - small
            accelerations(par, state.q, state.v, state.inner, state.drive, work)
            for i in range(18):
                out[which, i, j] = (out[which, i, j] - work.acc[i]) / (2.0 * small)
            vector[j] = kept


@jit
def lookup(table, t, row):
    """Row of a table (time first, rising) whose stretch holds ``t``, searched from ``row`` on."""
    while row < table.shape[0] - 2 and t >= table[row + 1, 0]:
        row += 1
    return row


@jit
def set_drive(run, par, state, t):
    """Drum angle, speed, acceleration, laundry and bearing at time ``t``; ``memory``.

    Rows, noise, give-up time and speed.
    """
    drive, memory = state.drive, state.memory
    before = drive[OMEGA]
    row = lookup(run.profile, t, int(memory[0]))
    memory[0] = row
    a, b = run.profile[row], run.profile[row + 1]
    slope = (b[1] - a[1]) / (b[0] - a[0])
    drive[OMEGA] = a[1] + slope * min(max(t - a[0], 0.0), b[0] - a[0])
    drive[ALPHA] = slope if a[0] <= t < b[0] else 0.0
    if memory[3] >= 0.0:  # the controller gave up: coast down
        drive[OMEGA] = max(0.0, memory[4] - run.limits[2] * (t - memory[3]))
        drive[ALPHA] = -run.limits[2] if drive[OMEGA] > 0.0 else 0.0
    drive[PHI] += 0.5 * (before + drive[OMEGA]) * run.dt
    speed = drive[OMEGA] * drive[OMEGA] / par.drum[8]
    drive[SHARE] = min(1.0, max(0.0, speed - 0.8) / 0.7)
    k = min(int(t * run.lump_rate), run.lumps.shape[0] - 1)
    drive[LUMP_X], drive[LUMP_Z] = (
        run.lumps[k, 0] * (1.0 - drive[SHARE]),
        run.lumps[k, 1] * (1.0 - drive[SHARE]),
    )
    rough = par.bearing
    if rough[0] > 0.0 or rough[1] > 0.0:
        memory[1] = (int(memory[1]) * 1664525 + 1013904223) & 0xFFFFFFFF
        memory[2] += run.limits[3] * ((memory[1] / 2147483648.0 - 1.0) - memory[2])
        share = drive[OMEGA] / 104.72
        tone = sin(rough[2] * drive[PHI]) * (1.0 + 0.5 * cos(drive[PHI]))
        drive[RUMBLE] = (
            share * share * rough[1] * tone + share * rough[0] * run.limits[4] * memory[2]
        )


@jit
def record(run, par, state, work, row, out):
    """Write one sample: phone, tub, feet, stops."""
    r, c = work.rot[CABINET], run.phone
    q, v = state.q, state.v
    p = c[0]
    ax, ay, az = work.acc[3], work.acc[4], work.acc[5]
    wx, wy, wz = v[3], v[4], v[5]
    cx, cy, cz = wy * p[2] - wz * p[1], wz * p[0] - wx * p[2], wx * p[1] - wy * p[0]
    bx = ay * p[2] - az * p[1] + wy * cz - wz * cy
    by = az * p[0] - ax * p[2] + wz * cx - wx * cz
    bz = ax * p[1] - ay * p[0] + wx * cy - wy * cx
    lx, ly, lz = turned_back(r, work.acc[0], work.acc[1], work.acc[2] + GRAVITY)
    for i in range(3):
        out.panel[row, i] = (
            c[1 + i, 0] * (lx + bx) + c[1 + i, 1] * (ly + by) + c[1 + i, 2] * (lz + bz)
        )
    for n in range(2):
        tx, ty, tz = turned(work.rot[TUB], run.watch[n, 0], run.watch[n, 1], run.watch[n, 2])
        cx, cy, cz = turned(r, run.watch[n, 3], run.watch[n, 4], run.watch[n, 5])
        out.tub[row, n, 0] = par.gap[0] + q[6] + tx - q[0] - cx
        out.tub[row, n, 1] = par.gap[1] + q[7] + ty - q[1] - cy
        out.tub[row, n, 2] = par.gap[2] + q[8] + tz - q[2] - cz
    for i in range(4):
        for j in range(3):
            out.foot[row, i, j] = work.foot[i, j]
        out.place[row, i, 0], out.place[row, i, 1] = state.inner[8 + 2 * i], state.inner[9 + 2 * i]
    for i in range(3):
        out.drum[row, i] = state.drive[i]
    if row < out.state.shape[0]:
        for i in range(18):
            out.state[row, i], out.state[row, 18 + i] = q[i], v[i]


@jit
def give_up(run, state, t):
    """The travel switch of the controller: notes when and at what speed it cut the spin."""
    drive, memory = state.drive, state.memory
    if run.limits[0] <= 0.0 or memory[3] >= 0.0 or drive[OMEGA] < run.limits[1]:
        return
    x, z = state.q[6] - state.q[0] - run.rest[0], state.q[8] - state.q[2] - run.rest[2]
    if x * x + z * z > run.limits[0] * run.limits[0]:
        memory[3], memory[4] = t, drive[OMEGA]


@jit
def integrate(par, run, state, out, work):
    """Run the machine from ``state``, with a sample every ``run.every`` steps.

    Returns how many samples hold: fewer than asked for when the machine tipped or the tub broke loose.
    """
    set_drive(run, par, state, 0.0)
    state.drive[PHI] = 0.0
    out.stop[0] = accelerations(par, state.q, state.v, state.inner, state.drive, work)
    record(run, par, state, work, 0, out)
    worst, row = out.stop[0], 1
    for n in range(1, run.every * (out.stop.shape[0] - 1) + 1):
        t = n * run.dt
        set_drive(run, par, state, t)
        worst = max(worst, step(par, state, run.dt, work))
        give_up(run, state, t)
        if n % run.every == 0:
            record(run, par, state, work, row, out)
            out.stop[row], worst = worst, 0.0
            row += 1
            for i in range(3):
                if not (abs(state.q[3 + i]) < 1.2 and abs(state.q[9 + i]) < 1.2):
                    return row
    return row
