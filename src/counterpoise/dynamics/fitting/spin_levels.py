"""What a recording of a spin shows once a turn, and what can be fitted to it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from counterpoise.dynamics.machines.families import family
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.errors import InputError

# Below this a phone hears itself, m/s2.
FAINT_M_S2 = 0.02
# Fewest speeds at which the shake must show.
FEWEST = 8
# What lay in the drum, and where the phone lay: lowest, highest, usual, before it is fitted. The
# unbalance on a logarithmic scale, as half and double are equally far from the usual.
DRUM = {
    "log_unbalance": (float(np.log(0.02)), float(np.log(3.0)), float(np.log(0.3))),
    "depth": (0.0, 1.0, 0.5),
    "load_kg": (0.0, 14.0, 4.0),
    "phone_x_m": (-0.25, 0.25, 0.0),
    "phone_y_m": (-0.25, 0.25, 0.0),
}
# What a spin can tell something of, where nothing else was asked for.
USUAL_FREE = {
    "front_loader": (
        "spring_n_m", "damper_friction_n", "damper_viscous_n_s_m", "foot_n_m", "cabinet_kg",
        "oscillating_kg", "bellows_n_m",
    ),
    "top_loader": ("rods_n_m", "rod_friction_n", "foot_n_m", "cabinet_kg", "oscillating_kg"),
}  # fmt: skip


@dataclass(frozen=True)
class SpinLevels:
    """What was read: amplitude once a turn in m/s2 at n rising speeds in rpm.

    ``flat`` (n,) across the upright and ``up`` (n,) along it. ``resonances``: ("flat" or "up",
    rpm). ``load_kg``, ``unbalance_kg`` and the place of the phone on the panel (x, y in m from its
    middle) where they are known, else None.
    """

    rpm: Floats
    flat: Floats
    up: Floats
    resonances: tuple[tuple[str, float], ...] = ()
    load_kg: float | None = None
    unbalance_kg: float | None = None
    phone: tuple[float, float] | None = None


@dataclass(frozen=True)
class FreeFigure:
    """A number to be fitted, on its own scale."""

    name: str
    low: float
    high: float
    # where it starts, and where it stays if the recording says nothing
    usual: float

    @property
    def doubt(self) -> float:
        """Standard deviation before anything is measured."""
        return (self.high - self.low) / float(np.sqrt(12.0))


def check_levels(key: str, levels: SpinLevels, free: Sequence[str]) -> None:
    """Raises InputError for figures that cannot be fitted and levels that cannot decide."""
    known = family(key).values
    for name in free:
        if name not in known or known[name].whole:
            raise InputError(
                f"{name} cannot be fitted",
                field="free",
                remedy=f"one of {', '.join(fittable(key))}",
            )
    # a speed counts only where both axes were read and one of them is above the phone's own noise
    heard = (
        np.isfinite(levels.flat)
        & np.isfinite(levels.up)
        & (np.hypot(levels.flat, levels.up) > FAINT_M_S2)
    )
    if heard.sum() < FEWEST:
        raise InputError(
            f"the recording shows the shake once a turn at {int(heard.sum())} speeds; "
            f"a fit takes {FEWEST}",
            field="recording",
            remedy="record a spin that climbs from standstill to its top speed, the phone flat on "
            "the top panel",
        )
    if any(b <= a for a, b in pairwise(levels.rpm)):
        raise InputError("the speeds do not rise", field="rpm", remedy="sort them")


def fittable(key: str) -> tuple[str, ...]:
    """The figures of a family that a recording could determine."""
    return tuple(
        name
        for name, value in family(key).values.items()
        if not value.whole and name != "unbalance_depth_m"
    )


def unknowns(key: str, levels: SpinLevels, free: Sequence[str]) -> list[FreeFigure]:
    """Everything to be fitted: the machine's figures, then what lay in the drum if not known."""
    known = family(key).values
    out = [
        FreeFigure(name, known[name].low, known[name].high, known[name].default) for name in free
    ]
    given = {"log_unbalance": levels.unbalance_kg, "load_kg": levels.load_kg}
    # any number will do: only whether the place is known matters here
    given |= dict.fromkeys(("phone_x_m", "phone_y_m"), levels.phone and 0.0)
    return out + [FreeFigure(name, *span) for name, span in DRUM.items() if given.get(name) is None]
