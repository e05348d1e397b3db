"""Small motions about the static equilibrium: modes, and the response to the unbalance.

Everything is taken from the compiled forces by differences, so it cannot drift from them. Feet are
taken to hold; dry friction enters as its first harmonic at the amplitude it meets.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.layout import (
    BUSHING_STIFFNESS,
    COORDINATES,
    DRY_FRICTION,
    FLOOR,
    FLOOR_MASS,
    FOOT_FRICTION,
    GROUP_MASS,
    HUB,
    OMEGA,
    PHI,
    SHARE,
    WEIGHT,
    WEIGHT_MASS,
)
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.check import check
from counterpoise.dynamics.motion.equilibrium import (
    FRICTIONS,
    accelerations_at,
    active_coordinates,
    jacobian,
    static_equilibrium,
)
from counterpoise.dynamics.motion.friction import damper_stiffness
from counterpoise.dynamics.motion.pack import Floats, MachineArrays, pack

Complexes = NDArray[np.complex128]
# Rounds after which friction and amplitude are taken as they are, though they do not agree.
MOST_ROUNDS = 200


@dataclass(frozen=True)
class LinearModel:
    """A machine linearised at rest: q'' = stiffness q + damping q' + ... over n active coordinates.

    ``grips`` (n, d): acceleration worked by a unit force in each damper; ``strokes`` (d, n): stroke
    of each damper with each coordinate; ``dry`` (d, 13): the dampers with their dry friction, which
    ``par`` leaves out.
    """

    machine: Machine
    par: MachineArrays
    rest: Floats
    active: NDArray[np.intp]
    stiffness: Floats
    grips: Floats
    strokes: Floats
    dry: Floats


@dataclass(frozen=True)
class Mode:
    """One natural motion: frequency, damping ratio without dry friction, shape (18,)."""

    frequency_hz: float
    damping: float
    shape: Floats
    words: str

    @property
    def rpm(self) -> float:
        """Drum speed in rpm at which the unbalance meets it."""
        return 60.0 * self.frequency_hz


def feet_held(par: MachineArrays) -> MachineArrays:
    """The same machine on feet that do not slide: a sliding foot has no linear response."""
    feet = par.feet.copy()
    feet[:, FOOT_FRICTION] = 1e6
    return par._replace(feet=feet)


def grips_and_strokes(par: MachineArrays, q: Floats, dampers: int) -> tuple[Floats, Floats]:
    """Acceleration (18, d) of a unit force in each bushing, and its stroke's gradient (d, 18)."""
    struts = par.struts.copy()
    # any friction and bushing above zero will do: the force is put in by hand
    struts[:dampers, DRY_FRICTION], struts[:dampers, BUSHING_STIFFNESS] = 1.0, 1.0
    probe, still = par._replace(struts=struts), np.zeros(COORDINATES)
    base, grips = accelerations_at(probe, q, still), np.zeros((COORDINATES, dampers))
    for i in range(dampers):
        force = np.zeros(FRICTIONS)
        force[i] = 1.0
        grips[:, i] = accelerations_at(probe, q, still, friction=force) - base
    arms = [strut_gradient(par, q, i) for i in range(dampers)]
    return grips, np.array(arms).reshape(dampers, COORDINATES)


def strut_gradient(par: MachineArrays, q: Floats, i: int) -> Floats:
    """Change of a strut's length with each coordinate (18,), small turns."""
    cab, tub = par.struts[i, 0:3], par.struts[i, 3:6]
    way = par.gap + q[6:9] + tub + np.cross(q[9:12], tub) - q[0:3] - cab - np.cross(q[3:6], cab)
    u = way / np.linalg.norm(way)
    out = np.zeros(COORDINATES)
    # both ends, along the line: shift, then turn times arm
    out[0:3], out[3:6], out[6:9], out[9:12] = -u, -np.cross(cab, u), u, np.cross(tub, u)
    return out


def linearise(machine: Machine, *, ring: bool = False) -> LinearModel:
    """Linearise a machine about its rest, with its balance ring engaged or not.

    Raises InputError for a machine that cannot be or finds no rest.
    """
    check(machine)
    par = feet_held(pack(machine))
    # both halves alike, whichever speed is asked for
    par = par._replace(inverse=np.repeat(par.inverse[int(ring)][None], 2, axis=0))
    q = static_equilibrium(par)
    # coordinates that the machine does not have would make the matrices singular
    active = active_coordinates(par)
    grips, strokes = grips_and_strokes(par, q, len(machine.dampers))
    smooth = par._replace(struts=without_friction(par.struts))
    stiffness = jacobian(smooth, q)[0][np.ix_(active, active)]
    return LinearModel(
        machine=machine,
        par=smooth,
        rest=q,
        active=active,
        stiffness=stiffness,
        grips=grips[active],
        strokes=strokes[:, active],
        dry=par.struts[: len(machine.dampers)],
    )


def without_friction(struts: Floats) -> Floats:
    """Struts (s, 13) with their dry friction taken out: it has no slope at rest."""
    out = struts.copy()
    out[:, DRY_FRICTION] = 0.0
    return out


def damping(lin: LinearModel, omega: float) -> Floats:
    """Change of acceleration with each rate (n, n) at omega in rad/s, gyroscopic part in it."""
    rates: Floats = jacobian(lin.par, lin.rest, omega)[1]
    return rates[np.ix_(lin.active, lin.active)]


WORDS = (
    "cabinet sideways", "cabinet to and fro", "cabinet up and down",
    "cabinet rocks front to rear", "cabinet rocks sideways", "cabinet twists",
    "tub sideways", "tub along its axis", "tub up and down", "tub nods", "tub rolls", "tub yaws",
    "drum tilts on its hub", "drum tilts on its hub",
    "loose weight", "loose weight", "loose weight", "floor",
)  # fmt: skip


def mode_words(shape: Floats, par: MachineArrays) -> str:
    """Name a mode (18,) by the coordinate that carries most of its energy, mass-weighted."""
    weight = np.ones(COORDINATES)
    weight[0:3], weight[3:6] = par.cabinet[0], par.cabinet[1:4]
    weight[6:9], weight[9:12] = par.drum[GROUP_MASS], np.diag(par.inertia)
    # the drum's own inertia about a cross axis, roughly: it only has to win where the hub swings
    weight[HUB:WEIGHT] = 0.5
    weight[WEIGHT:FLOOR], weight[FLOOR] = par.weight[WEIGHT_MASS], par.floor[FLOOR_MASS]
    return WORDS[int(np.argmax(weight * np.abs(shape) ** 2))]


def modes(machine: Machine, lin: LinearModel | None = None) -> list[Mode]:
    """Natural motions sorted by frequency, drum standing, dry friction left out."""
    lin = lin or linearise(machine)
    n = lin.active.size
    # first order form: d/dt (q, v) = state (q, v)
    state = np.zeros((2 * n, 2 * n))
    state[:n, n:], state[n:, :n], state[n:, n:] = np.eye(n), lin.stiffness, damping(lin, 0.0)
    values, vectors = np.linalg.eig(state)
    out = []
    for k in np.argsort(np.abs(values)):
        # one of each conjugate pair; what does not swing is no mode
        if values[k].imag <= 1e-6:
            continue
        shape = np.zeros(COORDINATES)
        part = vectors[:n, k] / vectors[np.argmax(np.abs(vectors[:n, k])), k]
        shape[lin.active] = part.real
        size = float(np.abs(values[k]))
        ratio = float(-values[k].real / size)
        out.append(Mode(size / (2 * np.pi), ratio, shape, mode_words(shape, lin.par)))
    return out


def excitation(lin: LinearModel, omega: float) -> Complexes:
    """Acceleration (n,) worked by the turning unbalance at omega in rad/s: complex amplitude."""
    still = np.zeros(COORDINATES)
    base = lin.par._replace(unbalances=np.zeros((0, 6)))
    quarter = []
    # Two angles a quarter turn apart give real and imaginary part.
    for angle in (0.0, 0.5 * np.pi):
        drive = np.zeros(7)
        drive[PHI], drive[OMEGA], drive[SHARE] = angle, omega, 1.0
        quarter.append(
            accelerations_at(lin.par, lin.rest, still, drive)
            - accelerations_at(base, lin.rest, still, drive)
        )
    return np.asarray((quarter[0] - 1j * quarter[1])[lin.active])


def respond_at(lin: LinearModel, omega: float, start: Complexes | None = None) -> Complexes:
    """Complex amplitude (18,) of every coordinate at one drum speed omega in rad/s.

    Friction depends on the amplitude it meets: both are repeated until they agree (harmonic
    balance).
    """
    # (-omega^2 - K - i omega C) x = force, friction to be added to it
    core = -(omega**2) * np.eye(lin.active.size) - lin.stiffness - 1j * omega * damping(lin, omega)
    force = excitation(lin, omega)
    x = np.linalg.solve(core, force) if start is None else start[lin.active]
    strokes = np.abs(lin.strokes @ x)
    for _ in range(MOST_ROUNDS):
        z = [damper_stiffness(lin.dry[i], omega, s) for i, s in enumerate(strokes)]
        x = np.linalg.solve(core - (lin.grips * np.array(z)) @ lin.strokes, force)
        new = np.abs(lin.strokes @ x)
        # a stroke of a ten-thousandth of a millimetre is none
        if np.all(np.abs(new - strokes) < 1e-5 * (new + 1e-7)):
            break
        # The geometric mean damps the swing between sticking and sliding.
        strokes = np.sqrt(strokes * new) if np.all(strokes > 0.0) else 0.5 * (strokes + new)
    out = np.zeros(COORDINATES, dtype=np.complex128)
    out[lin.active] = x
    return out
