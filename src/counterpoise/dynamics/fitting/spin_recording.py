"""Fit a machine of a family to a recording of a spin: what a phone on the top panel read once a turn, at each speed.

Least squares on the logarithm of the levels and on the resonance speeds, within the family's ranges. What lay in the
drum is not known as a rule and is fitted along. Each free figure starts from its usual value with the doubt of its
range (the deviation of an even spread, range over the root of twelve), so that what a recording cannot tell stays as
usual and says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import OptimizeResult, least_squares

from counterpoise.dynamics.machines.families import build, family
from counterpoise.dynamics.machines.machine import Load, Machine
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.response import respond
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

LEVEL_ERROR = 0.20  # of the logarithm: panels that bend, laundry that shifts; estimate
SPEED_ERROR = 0.04  # of a resonance read off a climb; estimate
FAINT_M_S2 = 0.02  # below this a phone hears itself
TOLD = 0.6  # told by the recording: doubt at most this share of what it was before
SUREST = 0.08  # no figure is told more closely than this share of its range; estimate
FEWEST = 8
STEP = 0.02
SLOW_RPM, SLOW_ERROR = (
    250.0,
    0.40,
)  # on the way through the tub's own swings the shake lags behind the speed; estimate
# what lay in the drum, and where the phone lay: lowest, highest, usual, before it is fitted
DRUM = {"log_unbalance": (float(np.log(0.02)), float(np.log(3.0)), float(np.log(0.3))), "depth": (0.0, 1.0, 0.5),
        "load_kg": (0.0, 14.0, 4.0), "phone_x_m": (-0.25, 0.25, 0.0), "phone_y_m": (-0.25, 0.25, 0.0)}  # fmt: skip
USUAL_FREE = {
    "front_loader": (
        "spring_n_m", "damper_friction_n", "damper_viscous_n_s_m", "foot_n_m", "cabinet_kg", "oscillating_kg",
        "bellows_n_m",
    ),
    "top_loader": ("rods_n_m", "rod_friction_n", "foot_n_m", "cabinet_kg", "oscillating_kg"),
}  # fmt: skip


@dataclass(frozen=True)
class SpinLevels:
    """What was read: amplitude once a turn in m/s2 across (flat) and along (up) the upright, at n rising speeds.

    ``resonances``: ("flat" or "up", rpm). ``load_kg``, ``unbalance_kg`` and the place of the phone
    on the panel (x, y in m from its middle) where they are known.
    """

    rpm: Floats
    flat: Floats
    up: Floats
    resonances: tuple[tuple[str, float], ...] = ()
    load_kg: float | None = None
    unbalance_kg: float | None = None
    phone: tuple[float, float] | None = None


@dataclass(frozen=True)
class Found:
    """One fitted figure: value, standard error, usual value and range; ``told``: the recording decides it."""

    name: str
    value: float
    error: float
    usual: float
    low: float
    high: float
    told: bool
    at_limit: bool


@dataclass(frozen=True)
class SpinFit:
    """The machine as fitted; ``off`` and ``off_usual``: by what factor the levels differ (rms), fitted and as usual."""

    machine: Machine
    found: tuple[Found, ...]
    drum: tuple[Found, ...]
    off: float
    off_usual: float
    resonances: tuple[tuple[str, float, float], ...]
    rpm: Floats
    flat: Floats
    up: Floats


Tried = tuple[Machine, Phone]


@dataclass(frozen=True)
class Free:
    """A number to be found, on its own scale."""

    name: str
    low: float
    high: float
    usual: float

    @property
    def doubt(self) -> float:
        """Standard deviation before anything is measured."""
        return (self.high - self.low) / float(np.sqrt(12.0))


def check_levels(key: str, seen: SpinLevels, free: Sequence[str]) -> None:
    """Refuse what cannot be fitted."""
    known = family(key).values
    for name in free:
        if name not in known or known[name].whole:
            raise InputError(
                f"{name} cannot be fitted",
                field="free",
                remedy=f"one of {', '.join(fittable(key))}",
            )
    heard = (
        np.isfinite(seen.flat) & np.isfinite(seen.up) & (np.hypot(seen.flat, seen.up) > FAINT_M_S2)
    )
    if heard.sum() < FEWEST:
        raise InputError(
            f"the recording shows the shake once a turn at {int(heard.sum())} speeds; a fit takes {FEWEST}",
            field="recording",
            remedy="record a spin that climbs from standstill to its top speed, the phone flat on the top panel",
        )
    if any(b <= a for a, b in pairwise(seen.rpm)):
        raise InputError("the speeds do not rise", field="rpm", remedy="sort them")


def fittable(key: str) -> tuple[str, ...]:
    """The figures of a family that a recording could tell."""
    return tuple(
        name
        for name, value in family(key).values.items()
        if not value.whole and name != "unbalance_depth_m"
    )


def unknowns(key: str, seen: SpinLevels, free: Sequence[str]) -> list[Free]:
    """Everything to be found: figures of the machine, then what lay in the drum where it is not known."""
    known = family(key).values
    out = [Free(name, known[name].low, known[name].high, known[name].default) for name in free]
    given = {"log_unbalance": seen.unbalance_kg, "load_kg": seen.load_kg}
    given |= dict.fromkeys(("phone_x_m", "phone_y_m"), seen.phone and 0.0)
    return out + [Free(name, *span) for name, span in DRUM.items() if given.get(name) is None]


def machine_for(
    key: str, seen: SpinLevels, given: Mapping[str, float], numbers: Mapping[str, float]
) -> Machine:
    """The machine of these numbers with what lies in its drum."""
    values = {name: number for name, number in numbers.items() if name not in DRUM}
    kg = (
        seen.unbalance_kg
        if seen.unbalance_kg is not None
        else float(np.exp(numbers["log_unbalance"]))
    )
    machine = build(key, {**given, **values})
    load = seen.load_kg if seen.load_kg is not None else numbers["load_kg"]
    return replace(machine, load=Load(load)).with_unbalance(kg, numbers["depth"], laundry=False)


def curves(machine: Machine, rpm: Floats, phone: Phone) -> tuple[Floats, Floats]:
    """Amplitude at the phone across and along the upright, at each speed."""
    panel = np.abs(respond(machine, rpm, None, phone).panel_m_s2)
    return np.hypot(panel[:, 0], panel[:, 1]), np.asarray(panel[:, 2])


def summit(rpm: Floats, level: Floats, near: float) -> float:
    """Where the answer to a constant unbalance (level over speed squared) is largest around ``near``."""
    part = np.flatnonzero((rpm > 0.75 * near) & (rpm < 1.33 * near))
    answer = np.log(np.maximum(level[part], 1e-9) / rpm[part] ** 2)
    top = int(np.argmax(answer))
    if not 0 < top < part.size - 1:
        return float(rpm[part[top]])
    x, y = np.log(rpm[part[top - 1 : top + 2]]), answer[top - 1 : top + 2]
    bend = np.polyfit(x - x[1], y, 2)
    shift = -bend[1] / (2 * bend[0]) if bend[0] < 0 else 0.0
    return float(np.exp(x[1] + np.clip(shift, x[0] - x[1], x[2] - x[1])))


def phone_for(seen: SpinLevels, numbers: Mapping[str, float]) -> Phone:
    """Where the phone lay, as told or as tried."""
    return Phone(*(seen.phone or (numbers["phone_x_m"], numbers["phone_y_m"])))


def misfits(machine: Machine, seen: SpinLevels, phone: Phone) -> Floats:
    """Differences in standard errors: levels across, levels upright, resonance speeds."""
    flat, up = curves(machine, seen.rpm, phone)
    error = np.where(seen.rpm < SLOW_RPM, SLOW_ERROR, LEVEL_ERROR)
    out = [_logs(flat, seen.flat) / error, _logs(up, seen.up) / error]
    for axis, rpm in seen.resonances:
        out.append(
            np.array(
                [np.log(summit(seen.rpm, flat if axis == "flat" else up, rpm) / rpm) / SPEED_ERROR]
            )
        )
    return np.concatenate(out)


def _logs(found: Floats, measured: Floats) -> Floats:
    """Faint levels count less; what was not read counts nothing."""
    good = np.isfinite(measured)
    level = np.where(good, measured, 1.0)
    return np.where(good, np.log(np.hypot(found, FAINT_M_S2) / np.hypot(level, FAINT_M_S2)), 0.0)


def fit_spin(
    key: str, seen: SpinLevels, given: Mapping[str, float], free: Sequence[str] = ()
) -> SpinFit:
    """Find the free figures (the usual ones where none are named) that agree best with what was read.

    ``given`` are family values that are known and stay. Raises InputError where the recording cannot decide.
    """
    names = [name for name in (free or USUAL_FREE[key]) if name not in given]
    check_levels(key, seen, names)
    look = unknowns(key, seen, names)
    low, high = np.array([f.low for f in look]), np.array([f.high for f in look])
    usual, doubt = np.array([f.usual for f in look]), np.array([f.doubt for f in look])

    def tried(share: Floats) -> tuple[Machine, Phone]:
        numbers = low + (high - low) * np.clip(share, 0.0, 1.0)
        named = dict(zip((f.name for f in look), numbers.tolist(), strict=True))
        return machine_for(key, seen, given, named), phone_for(seen, named)

    def differences(share: Floats) -> Floats:
        held = (low + (high - low) * share - usual) / doubt
        machine, phone = tried(share)
        return np.concatenate([misfits(machine, seen, phone), held])

    start = (usual - low) / (high - low)
    end = least_squares(
        differences,
        np.clip(start, 0.02, 0.98),
        bounds=(0.0, 1.0),
        diff_step=[STEP] * len(look),
        loss="soft_l1",
        ftol=2e-3,
        xtol=2e-3,
        max_nfev=25,
    )
    return _told(key, _found(look, end, seen.rpm.size), seen, (tried(end.x), tried(start)))


def widening(lines: Floats) -> float:
    """By how much the variance of a fit grows: misfits larger than foreseen, and neighbours that go together.

    ``lines`` (k, n): misfits along k curves. With a correlation r from one speed to the next, n of them tell as much
    as n (1 - r) / (1 + r).
    """
    size = float(np.mean(lines**2))
    together = float(np.mean(lines[:, 1:] * lines[:, :-1])) / max(size, 1e-12)
    r = min(max(together, 0.0), 0.9)
    return max(1.0, size) * (1.0 + r) / (1.0 - r)


def _found(look: Sequence[Free], end: OptimizeResult, speeds: int) -> list[Found]:
    """Values with their errors: the curvature of the data at the end, widened, beside the doubt there was before."""
    share, data, before = end.x, end.jac[: -len(look)], end.jac[-len(look) :]
    spread = np.linalg.inv(
        data.T @ data / widening(end.fun[: 2 * speeds].reshape(2, speeds)) + before.T @ before
    )
    out = []
    for i, one in enumerate(look):
        reach = one.high - one.low
        error = min(max(reach * float(np.sqrt(spread[i, i])), SUREST * reach), one.doubt)
        value, edge = one.low + reach * float(share[i]), not 0.005 < share[i] < 0.995
        told = error <= TOLD * one.doubt and not edge
        out.append(Found(one.name, value, error, one.usual, one.low, one.high, told, edge))
    return [_in_kg(one) if one.name == "log_unbalance" else one for one in out]


def _in_kg(one: Found) -> Found:
    """The unbalance back from its logarithm."""
    kg = float(np.exp(one.value))
    usual, low, high = (float(np.exp(x)) for x in (one.usual, one.low, one.high))
    return replace(
        one, name="unbalance_kg", value=kg, error=kg * one.error, usual=usual, low=low, high=high
    )


def _told(key: str, found: list[Found], seen: SpinLevels, pair: tuple[Tried, Tried]) -> SpinFit:
    """The result, with the curves of the fitted machine."""
    (machine, phone), usual = pair
    flat, up = curves(machine, seen.rpm, phone)
    lines = {"flat": flat, "up": up}
    own = tuple(one for one in found if one.name in family(key).values)
    return SpinFit(
        machine, own, tuple(one for one in found if one not in own), _off((machine, phone), seen), _off(usual, seen),
        tuple((axis, rpm, summit(seen.rpm, lines[axis], rpm)) for axis, rpm in seen.resonances), seen.rpm, flat, up,
    )  # fmt: skip


def _off(tried: Tried, seen: SpinLevels) -> float:
    """Root mean square of the levels' ratio, as a factor, at the unbalance that suits the machine best."""
    flat, up = curves(tried[0], seen.rpm, tried[1])
    return float(np.exp(np.std(np.concatenate([_logs(flat, seen.flat), _logs(up, seen.up)]))))
