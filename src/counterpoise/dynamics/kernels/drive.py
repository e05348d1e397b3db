"""What drives the drum at one instant: speed, tumbling laundry, rumble, and the travel switch."""

from math import cos, sin

from counterpoise.dynamics.kernels.compiler import jit
from counterpoise.dynamics.kernels.layout import (
    ALPHA,
    BRAKE,
    CLINGING_SPEED_SQUARED,
    CUT_SPEED,
    CUT_TIME,
    LUMP_X,
    LUMP_Z,
    NOISE,
    NOISE_GAIN,
    NOISE_SEED,
    NOISE_SHARE,
    OMEGA,
    PHI,
    PROFILE_ROW,
    ROUGHNESS,
    RUMBLE,
    SHARE,
    TONE,
    TONE_ORDER,
    TRAVEL,
    TRAVEL_FROM,
)

SOURCE_DIGEST = "564c478c4bbbe517"


@jit
def profile_row(table, t, row):
    """Index of the row of a table (n, 2) of rising times whose stretch holds ``t``."""
    while row < table.shape[0] - 2 and t >= table[row + 1, 0]:
        row += 1
    return row


@jit
def set_drive(run, par, state, t):
    """Fill ``state.drive`` (7) for time ``t`` in s; ``state.memory`` carries what must be kept."""
    drive, memory = state.drive, state.memory
    before = drive[OMEGA]
    row = profile_row(run.profile, t, int(memory[PROFILE_ROW]))
    memory[PROFILE_ROW] = row
    a, b = run.profile[row], run.profile[row + 1]
    slope = (b[1] - a[1]) / (b[0] - a[0])
    drive[OMEGA] = a[1] + slope * min(max(t - a[0], 0.0), b[0] - a[0])
    drive[ALPHA] = slope if a[0] <= t < b[0] else 0.0
    # the controller gave up: coast down
    if memory[CUT_TIME] >= 0.0:
        drive[OMEGA] = max(0.0, memory[CUT_SPEED] - run.limits[BRAKE] * (t - memory[CUT_TIME]))
        drive[ALPHA] = -run.limits[BRAKE] if drive[OMEGA] > 0.0 else 0.0
    drive[PHI] += 0.5 * (before + drive[OMEGA]) * run.dt
    # Laundry clings bit by bit, from 0.8 to 1.5 of the centripetal acceleration that gravity
    # asks for (estimate); until then it tumbles.
    speed = drive[OMEGA] * drive[OMEGA] / par.drum[CLINGING_SPEED_SQUARED]
    drive[SHARE] = min(1.0, max(0.0, speed - 0.8) / 0.7)
    k = min(int(t * run.lump_rate), run.lumps.shape[0] - 1)
    drive[LUMP_X], drive[LUMP_Z] = (
        run.lumps[k, 0] * (1.0 - drive[SHARE]),
        run.lumps[k, 1] * (1.0 - drive[SHARE]),
    )
    rough = par.bearing
    if rough[ROUGHNESS] > 0.0 or rough[TONE] > 0.0:
        # A linear congruential generator (Numerical Recipes), so that a seed gives the same noise
        # in every thread; then a low-pass, as a rumble has no sharp edges.
        memory[NOISE_SEED] = (int(memory[NOISE_SEED]) * 1664525 + 1013904223) & 0xFFFFFFFF
        fresh = memory[NOISE_SEED] / 2147483648.0 - 1.0
        memory[NOISE] += run.limits[NOISE_SHARE] * (fresh - memory[NOISE])
        # 104.72 rad/s are 1000 rpm, at which roughness and tone are given.
        share = drive[OMEGA] / 104.72
        tone = sin(rough[TONE_ORDER] * drive[PHI]) * (1.0 + 0.5 * cos(drive[PHI]))
        drive[RUMBLE] = (
            share * share * rough[TONE] * tone
            + share * rough[ROUGHNESS] * run.limits[NOISE_GAIN] * memory[NOISE]
        )


@jit
def travel_switch(run, state, t):
    """Note when and at what speed (rad/s) the controller cuts the spin: the tub left its circle."""
    drive, memory = state.drive, state.memory
    if (
        run.limits[TRAVEL] <= 0.0
        or memory[CUT_TIME] >= 0.0
        or drive[OMEGA] < run.limits[TRAVEL_FROM]
    ):
        return
    x, z = state.q[6] - state.q[0] - run.rest[0], state.q[8] - state.q[2] - run.rest[2]
    if x * x + z * z > run.limits[TRAVEL] * run.limits[TRAVEL]:
        memory[CUT_TIME], memory[CUT_SPEED] = t, drive[OMEGA]
