"""Where everything stands in the arrays that the kernels read and write. SI units throughout.

Coordinates ``q`` (18): each body's centre of gravity and then its rotation vector (cabinet 0-5,
tub group 6-11), tilt of the drum on its hub about the tub's two cross axes (12-13), a loose weight
(14-16), the floor (17). ``v`` (18) holds the rates: velocities in room axes, angular velocities in
body axes. ``friction`` (16) is what dry friction remembers: the force in each damper's bushing
(0-7), then for each foot where it sticks to the floor, x and y (8-15).
"""

# Standard gravity, exact by convention (3rd CGPM, 1901).
GRAVITY = 9.80665

# Bodies of six coordinates; body b starts at coordinate 6 b.
CABINET, TUB = 0, 1
HUB, WEIGHT, FLOOR = 12, 14, 17
COORDINATES = 18
# Most dampers with a bushing, and the first place of the feet in ``friction``.
BUSHINGS = 8

# Row of a strut (spring, rod or damper): cabinet node 0-2 and tub node 3-5, each from the centre
# of gravity of its body, then
STRUT_STIFFNESS, FREE_LENGTH, STRUT_VISCOUS, DRY_FRICTION = 6, 7, 8, 9
SETTLING_SPEED, BUSHING_STIFFNESS, PULLS_ONLY = 10, 11, 12

# Row of a tie (bellows, transit bolt, damper pin): both points, then three of each
TIE_STIFFNESS, TIE_DAMPING, TIE_OFFSET = 6, 9, 12

# Row of a stop: both points, then the way to it in six directions (left, right, front, rear,
# down, up)
STOP_WAYS, STOP_STIFFNESS, STOP_DAMPING = 6, 12, 13
# and what tells without reckoning that nothing touches: length of both arms, shortest way.
STOP_CABINET_ARM, STOP_TUB_ARM, STOP_LEAST_WAY = 14, 15, 16

# Row of a foot: place 0-2 from the cabinet's centre of gravity, then
FOOT_LENGTH, FOOT_STIFFNESS, FOOT_DAMPING = 3, 4, 5
FOOT_SIDE_STIFFNESS, FOOT_SIDE_DAMPING, FOOT_FRICTION = 6, 7, 8
# Row of ``work.foot``: force of the floor 0-2, whether it slides, and where it then sticks.
FOOT_SLIDES, FOOT_ANCHOR_X, FOOT_ANCHOR_Y = 3, 4, 5

# Loose weight; its place 4-6 from the tub group's centre of gravity.
WEIGHT_MASS, WEIGHT_GAP, SEAT_STIFFNESS, SEAT_DAMPING = 0, 1, 2, 3

# Drum support: two stiffnesses that turn with the drum.
HUB_WEAK, HUB_STIFF, HUB_WEAK_PLAY, HUB_DAMPING, BEARING_PLAY = 0, 1, 2, 3, 4

# Worn bearing: noise and tone in N at 1000 rpm, and how often a turn the tone beats.
ROUGHNESS, TONE, TONE_ORDER = 0, 1, 2

FLOOR_MASS, FLOOR_STIFFNESS, FLOOR_DAMPING = 0, 1, 2

# Drum; the hub's place 4-6 from the tub group's centre of gravity.
SPIN_INERTIA, TURNING_MASS, RING_ENGAGES, LEVER = 0, 1, 2, 3
GROUP_MASS, CLINGING_SPEED_SQUARED = 7, 8

# Row of an unbalance.
HEAVY_MASS, HEAVY_RADIUS, HEAVY_DEPTH, HEAVY_COS, HEAVY_SIN, IS_LAUNDRY = 0, 1, 2, 3, 4, 5

# ``drive``: drum angle, speed and acceleration, share of the laundry's unbalance that turns with
# the drum, force of tumbling laundry along x and z, force of a worn bearing.
PHI, OMEGA, ALPHA, SHARE, LUMP_X, LUMP_Z, RUMBLE = 0, 1, 2, 3, 4, 5, 6

# ``memory``: row of the profile, two registers of the noise, when (below zero: not) and at what
# speed the controller cut the spin.
PROFILE_ROW, NOISE_SEED, NOISE, CUT_TIME, CUT_SPEED = 0, 1, 2, 3, 4

# ``limits`` of a run: travel switch (m), the speed it works from (rad/s), brake (rad/s2), share
# of a new draw in the filtered noise and the gain that keeps its size.
TRAVEL, TRAVEL_FROM, BRAKE, NOISE_SHARE, NOISE_GAIN = 0, 1, 2, 3, 4
