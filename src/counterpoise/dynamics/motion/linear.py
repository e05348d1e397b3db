"""Small motions about the static equilibrium: modes, and the response to the unbalance at one speed after another.

Everything is taken from the compiled forces by differences, so it cannot drift from them. Feet are taken to hold;
dry friction enters as its first harmonic at the amplitude it meets.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.check import check
from counterpoise.dynamics.motion.equilibrium import (
    accelerations_at,
    active_coordinates,
    jacobian,
    rest,
)
from counterpoise.dynamics.motion.friction import damper_stiffness
from counterpoise.dynamics.motion.pack import Floats, Par, pack

Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class Linear:
    """A machine linearised at rest; ``q'' = stiffness q + damping q' + ...`` over the active coordinates.

    ``grips`` (n, d): acceleration worked by a unit force in each damper; ``strokes`` (d, n): stroke of each damper
    with each coordinate; ``dry`` (d, 12): the dampers with their dry friction, which ``par`` leaves out.
    """

    machine: Machine
    par: Par
    rest: Floats
    active: NDArray[np.intp]
    stiffness: Floats
    grips: Floats
    strokes: Floats
    dry: Floats


@dataclass(frozen=True)
class Mode:
    """One natural motion.

    Frequency, the drum speed that excites it, damping ratio without dry friction, shape over 18 coordinates.
    """

    frequency_hz: float
    damping: float
    shape: Floats
    words: str

    @property
    def rpm(self) -> float:
        """Drum speed at which the unbalance meets it."""
        return 60.0 * self.frequency_hz


def held(par: Par) -> Par:
    """Feet that do not slide."""
    feet = par.feet.copy()
    feet[:, 8] = 1e6
    return par._replace(feet=feet)


def grips_and_strokes(par: Par, q: Floats, dampers: int) -> tuple[Floats, Floats]:
    """Acceleration (18, d) worked by a unit force in each damper's bushing, and its stroke's gradient (d, 18)."""
    struts = par.struts.copy()
    struts[:dampers, 9], struts[:dampers, 11] = 1.0, 1.0
    probe, still = par._replace(struts=struts), np.zeros(18)
    base, grips = accelerations_at(probe, q, still), np.zeros((18, dampers))
    for i in range(dampers):
        inner = np.zeros(16)
        inner[i] = 1.0
        grips[:, i] = accelerations_at(probe, q, still, inner=inner) - base
    arms = [strut_gradient(par, q, i) for i in range(dampers)]
    return grips, np.array(arms).reshape(dampers, 18)


def strut_gradient(par: Par, q: Floats, i: int) -> Floats:
    """Change of a strut's length with each coordinate, small turns."""
    cab, tub = par.struts[i, 0:3], par.struts[i, 3:6]
    way = par.gap + q[6:9] + tub + np.cross(q[9:12], tub) - q[0:3] - cab - np.cross(q[3:6], cab)
    u = way / np.linalg.norm(way)
    out = np.zeros(18)
    out[0:3], out[3:6], out[6:9], out[9:12] = -u, -np.cross(cab, u), u, np.cross(tub, u)
    return out


def linearise(machine: Machine, *, ring: bool = False) -> Linear:
    """Linearise a machine about its rest, with its balance ring engaged or not."""
    check(machine)
    par = held(pack(machine))
    par = par._replace(inverse=np.repeat(par.inverse[int(ring)][None], 2, axis=0))
    q = rest(par)
    active = active_coordinates(par)
    grips, strokes = grips_and_strokes(par, q, len(machine.dampers))
    free = par._replace(struts=without_friction(par.struts))
    springy = jacobian(free, q)[0][np.ix_(active, active)]
    return Linear(
        machine,
        free,
        q,
        active,
        springy,
        grips[active],
        strokes[:, active],
        par.struts[: len(machine.dampers)],
    )


def without_friction(struts: Floats) -> Floats:
    """Struts with their dry friction taken out."""
    out = struts.copy()
    out[:, 9] = 0.0
    return out


def damping(lin: Linear, omega: float) -> Floats:
    """Change of acceleration with each rate at a drum speed in rad/s, gyroscopic part included."""
    rates: Floats = jacobian(lin.par, lin.rest, omega)[1]
    return rates[np.ix_(lin.active, lin.active)]


WORDS = (
    "cabinet sideways", "cabinet to and fro", "cabinet up and down",
    "cabinet rocks front to rear", "cabinet rocks sideways", "cabinet twists",
    "tub sideways", "tub along its axis", "tub up and down", "tub nods", "tub rolls", "tub yaws",
    "drum tilts on its hub", "drum tilts on its hub", "loose weight", "loose weight", "loose weight", "floor",
)  # fmt: skip


def words_for(shape: Floats, par: Par) -> str:
    """Name a mode by the coordinate that carries most of its energy (mass-weighted)."""
    weight = np.ones(18)
    weight[0:3], weight[3:6] = par.cabinet[0], par.cabinet[1:4]
    weight[6:9], weight[9:12] = par.drum[7], np.diag(par.inertia)
    weight[12:14], weight[14:17], weight[17] = 0.5, par.weight[0], par.floor[0]
    return WORDS[int(np.argmax(weight * np.abs(shape) ** 2))]


def modes(machine: Machine, lin: Linear | None = None) -> list[Mode]:
    """Natural motions from the slowest to the fastest, drum standing, dry friction left out."""
    lin = lin or linearise(machine)
    n = lin.active.size
    state = np.zeros((2 * n, 2 * n))
    state[:n, n:], state[n:, :n], state[n:, n:] = np.eye(n), lin.stiffness, damping(lin, 0.0)
    values, vectors = np.linalg.eig(state)
    out = []
    for k in np.argsort(np.abs(values)):
        if values[k].imag <= 1e-6:
            continue
        shape = np.zeros(18)
        part = vectors[:n, k] / vectors[np.argmax(np.abs(vectors[:n, k])), k]
        shape[lin.active] = part.real
        size = float(np.abs(values[k]))
        out.append(
            Mode(
                size / (2 * np.pi), float(-values[k].real / size), shape, words_for(shape, lin.par)
            )
        )
    return out


def excitation(lin: Linear, omega: float) -> Complexes:
    """Acceleration (n) worked by the turning unbalance, as the complex amplitude of exp(i omega t)."""
    still, base = np.zeros(18), lin.par._replace(unbalances=np.zeros((0, 6)))
    quarter = []
    for angle in (0.0, 0.5 * np.pi):
        drive = np.array([angle, omega, 0.0, 1.0, 0.0, 0.0, 0.0])
        quarter.append(
            accelerations_at(lin.par, lin.rest, still, drive)
            - accelerations_at(base, lin.rest, still, drive)
        )
    return np.asarray((quarter[0] - 1j * quarter[1])[lin.active])


def respond_at(lin: Linear, omega: float, start: Complexes | None = None) -> Complexes:
    """Complex amplitude (18) of every coordinate at one drum speed in rad/s.

    Friction found by repeating until it agrees.
    """
    core = -(omega**2) * np.eye(lin.active.size) - lin.stiffness - 1j * omega * damping(lin, omega)
    force = excitation(lin, omega)
    x = np.linalg.solve(core, force) if start is None else start[lin.active]
    strokes = np.abs(lin.strokes @ x)
    for _ in range(200):
        z = [damper_stiffness(lin.dry[i], omega, s) for i, s in enumerate(strokes)]
        x = np.linalg.solve(core - (lin.grips * np.array(z)) @ lin.strokes, force)
        new = np.abs(lin.strokes @ x)
        if np.all(np.abs(new - strokes) < 1e-5 * (new + 1e-7)):
            break
        strokes = np.sqrt(strokes * new) if np.all(strokes > 0.0) else 0.5 * (strokes + new)
    out = np.zeros(18, dtype=np.complex128)
    out[lin.active] = x
    return out
