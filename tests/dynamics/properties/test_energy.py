"""Energy, reckoned here from the parts of the machine and not from the kernel's forces."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from counterpoise.dynamics import Run, build
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.pack import pack, tub_group
from counterpoise.dynamics.motion.run import hold
from counterpoise.dynamics.motion.simulate import simulate_arrays

RATE = 4000.0


class Book:
    """Positions and velocities of every part over a run (n samples), from the stored state."""

    def __init__(self, machine: Machine, state):
        self.machine, self.group = machine, tub_group(machine)
        self.q, self.v = state[:, :18], state[:, 18:]
        self.centre = {"cabinet": np.array(machine.cabinet.centre_m), "tub": self.group.centre_m}
        self.turn = {
            "cabinet": Rotation.from_rotvec(self.q[:, 3:6]),
            "tub": Rotation.from_rotvec(self.q[:, 9:12]),
        }

    def point(self, owner, place):
        o = 0 if owner == "cabinet" else 6
        arm = self.turn[owner].apply(np.array(place) - self.centre[owner])
        spin = self.turn[owner].apply(self.v[:, o + 3 : o + 6])
        return self.centre[owner] + self.q[:, o : o + 3] + arm, self.v[:, o : o + 3] + np.cross(
            spin, arm
        )

    def stretch(self, part):
        a, va = self.point("cabinet", part.cabinet_m)
        b, vb = self.point("tub", part.tub_m)
        length = np.linalg.norm(b - a, axis=1)
        return length, ((vb - va) * (b - a)).sum(axis=1) / length

    def ties(self):
        for b in self.machine.bellows:
            yield b.place_m, np.array(b.stiffness_n_m), np.array(b.damping_n_s_m)
        for d in self.machine.dampers:
            yield d.tub_m, np.array([0.0, d.pin_n_m, 0.0]), np.array([0.0, d.pin_n_s_m, 0.0])

    def stored(self):
        m, g = self.machine, 9.80665
        out = (
            0.5 * m.cabinet.mass_kg * (self.v[:, 0:3] ** 2).sum(axis=1)
            + m.cabinet.mass_kg * g * self.q[:, 2]
        )
        out += 0.5 * (self.v[:, 3:6] ** 2 * m.cabinet.inertia_kg_m2).sum(axis=1)
        out += (
            0.5 * self.group.mass_kg * (self.v[:, 6:9] ** 2).sum(axis=1)
            + self.group.mass_kg * g * self.q[:, 8]
        )
        out += 0.5 * np.einsum(
            "ni,ij,nj->n", self.v[:, 9:12], self.group.inertia_kg_m2, self.v[:, 9:12]
        )
        for s in m.springs:
            out += 0.5 * s.stiffness_n_m * (self.stretch(s)[0] - s.free_length_m) ** 2
        for place, k, _ in self.ties():
            out += 0.5 * (
                (self.point("tub", place)[0] - self.point("cabinet", place)[0]) ** 2 * k
            ).sum(axis=1)
        for f in m.feet:
            way = self.point("cabinet", f.place_m)[0] - np.array(f.place_m)
            out += (
                0.5
                * f.stiffness_n_m
                * (way[:, 2] ** 2 + f.side_share * (way[:, :2] ** 2).sum(axis=1))
            )
        return out

    def lost(self):
        """Power that goes to heat."""
        out = sum(d.viscous_n_s_m * self.stretch(d)[1] ** 2 for d in self.machine.dampers)
        for place, _, c in self.ties():
            out = out + (
                (self.point("tub", place)[1] - self.point("cabinet", place)[1]) ** 2 * c
            ).sum(axis=1)
        for f in self.machine.feet:
            out = out + f.damping_n_s_m * (self.point("cabinet", f.place_m)[1] ** 2).sum(axis=1)
        return out

    def fed(self, angle, omega):
        """Power that the turning unbalance feeds in at constant speed, the moment of its weight
        included.
        """
        u, drum = self.machine.load.unbalances[0], self.machine.drum
        n = np.column_stack([np.cos(angle), np.zeros_like(angle), np.sin(angle)])
        seat = np.array(drum.hub_m) + u.depth_m * np.array(drum.axis) - self.group.centre_m
        force = u.mass_kg * u.radius_m * omega**2 * n
        weight = self.turn["tub"].inv().apply(np.array([0.0, 0.0, -u.mass_kg * 9.80665]))
        moment = np.cross(seat + u.radius_m * n, force) + np.cross(u.radius_m * n, weight)
        through = (self.turn["tub"].apply(force) * self.v[:, 6:9]).sum(axis=1)
        return through + (moment * self.v[:, 9:12]).sum(axis=1)


def quiet_machine(viscous):
    """No dry friction, no bushings; feet that neither lift nor slide."""
    machine = build("front_loader")
    dampers = tuple(
        replace(d, viscous_n_s_m=viscous, friction_n=0.0, bushing_n_m=0.0) for d in machine.dampers
    )
    return replace(machine, dampers=dampers)


def test_what_goes_in_is_stored_or_lost():
    machine = quiet_machine(80.0).with_unbalance(0.2, 0.7, laundry=False)
    rpm, seconds = 200.0, 6.0
    run = simulate_arrays(pack(machine), machine, Run(hold(rpm, seconds)), RATE, keep_state=True)
    book = Book(machine, run.state)
    omega = rpm * np.pi / 30
    fed = np.trapezoid(book.fed(run.drum_rad, omega), run.t_s)
    lost = np.trapezoid(book.lost(), run.t_s)
    stored = book.stored()[-1] - book.stored()[0]
    assert lost > 1.0
    assert fed == pytest.approx(lost + stored, rel=0.002)


def test_without_damping_nothing_is_lost():
    machine = quiet_machine(0.0).with_unbalance(0.2, 0.7, laundry=False)
    dampers = tuple(replace(d, pin_n_s_m=0.0) for d in machine.dampers)
    bellows = tuple(replace(b, damping_n_s_m=(0.0, 0.0, 0.0)) for b in machine.bellows)
    feet = tuple(replace(f, damping_n_s_m=0.0) for f in machine.feet)
    machine = replace(machine, dampers=dampers, bellows=bellows, feet=feet)
    run = simulate_arrays(pack(machine), machine, Run(hold(100.0, 5.0)), RATE, keep_state=True)
    book = Book(machine, run.state)
    fed = np.concatenate([[0.0], np.cumsum(book.fed(run.drum_rad, 100 * np.pi / 30))]) / RATE
    drift = book.stored() - book.stored()[0] - fed[:-1]
    assert np.abs(drift).max() < 0.01 * np.ptp(book.stored())
