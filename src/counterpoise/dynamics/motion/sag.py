"""Where the tub hangs at rest, against where it is drawn."""

import numpy as np

from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.equilibrium import static_equilibrium
from counterpoise.dynamics.motion.pack import Floats, pack
from counterpoise.dynamics.motion.simulate import watch_points


def resting_way(machine: Machine) -> Floats:
    """Way of the tub's middle from its drawn place when at rest (3,), in m; z up.

    Raises InputError for a machine that finds no rest.
    """
    q = static_equilibrium(pack(machine))
    middle = watch_points(machine, None)[0]
    return np.asarray(
        q[6:9] - q[0:3] + np.cross(q[9:12], middle[0:3]) - np.cross(q[3:6], middle[3:6])
    )


def static_sag(machine: Machine) -> tuple[float, float]:
    """How far the tub's middle hangs to the right and below its drawn place when at rest, in m."""
    way = resting_way(machine)
    return float(way[0]), float(-way[2])
