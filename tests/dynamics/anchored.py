"""A front loader cut down to a tub that moves without turning, in a cabinet that stands like a
rock.
"""

from dataclasses import replace

import numpy as np

from counterpoise.dynamics import build
from counterpoise.dynamics.motion.pack import pack


def rock(par):
    """Cabinet of a million kilograms on feet to match; neither cabinet nor tub can turn."""
    feet = par.feet.copy()
    feet[:, 4:6] = 1e10, 1e6
    inverse = par.inverse.copy()
    inverse[:, 3:, :] = 0.0
    inverse[:, :, 3:] = 0.0
    return par._replace(cabinet=np.array([1e6, 1e9, 1e9, 1e9]), feet=feet, inverse=inverse)


def plain(mass_kg, unbalance, springs=None, dampers=None, bellows=()):
    """Machine and arrays of a tub of ``mass_kg`` in all, the unbalance included, that only
    shifts.
    """
    machine = build("front_loader")
    others = sum(w.mass_kg for w in machine.tub.weights) + unbalance.mass_kg
    drum = replace(machine.drum, mass_kg=1.0, radius_m=0.6)
    tub = replace(machine.tub, mass_kg=1.0, weights=())
    soft = tuple(replace(s, stiffness_n_m=1e-6) for s in machine.springs)
    stops = replace(machine.stops, side_m=1.0, along_m=1.0, down_m=1.0, up_m=1.0)
    del others
    tub = replace(tub, mass_kg=mass_kg - 1.0 - unbalance.mass_kg, centre_m=(0.0, 0.0, 0.46))
    machine = replace(
        machine,
        tub=tub,
        drum=drum,
        springs=springs or soft,
        dampers=dampers or (),
        stops=stops,
        bellows=bellows,
        load=replace(machine.load, unbalances=(unbalance,)),
    )
    return machine, rock(pack(machine))
