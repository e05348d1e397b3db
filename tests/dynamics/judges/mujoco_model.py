"""The same machine written for an independent rigid-body simulator (MuJoCo).

Springs, dampers, bellows and feet as tendons.

A spring along one axis is a tendon to a point 50 m away. Feet hold both ways unless ``contact``
asks for spheres on a plane.
"""

import mujoco
import numpy as np

FAR = 50.0


def row(values):
    return " ".join(f"{float(v):.12g}" for v in values)


def body(name, place, mass, inertia, inside="", joint=""):
    return (
        f'<body name="{name}" pos="{row(place)}">{joint}'
        f'<inertial pos="0 0 0" mass="{mass:.12g}" diaginertia="{row(inertia)}"/>{inside}</body>'
    )


def turning(machine, *, locked):
    """Drum, wet load as a shell and unbalances; the body's origin is the hub, its axis that of the
    drum.
    """
    drum, load = machine.drum, machine.load
    a = np.array(drum.axis)
    middle = 0.5 * drum.depth_m * a
    along = np.abs(a)
    inertia = drum.cross_inertia_kg_m2 * (1 - along) + drum.spin_inertia_kg_m2 * along
    parts = body("shell_of_drum", middle, drum.mass_kg, inertia)
    if load.mass_kg > 0.0:
        spin = load.mass_kg * (0.85 * drum.radius_m) ** 2
        parts += body(
            "laundry",
            middle,
            load.mass_kg,
            (0.5 * spin + load.mass_kg * drum.depth_m**2 / 12) * (1 - along) + spin * along,
        )
    for i, u in enumerate(load.unbalances):
        parts += body(
            f"unbalance{i}", u.depth_m * a + np.array([u.radius_m, 0.0, 0.0]), u.mass_kg, [1e-9] * 3
        )
    joint = "" if locked else f'<joint name="spin" type="hinge" axis="{row(a)}"/>'
    seat = row(np.subtract(drum.hub_m, machine.tub.centre_m))
    speck = '<inertial pos="0 0 0" mass="1e-6" diaginertia="1e-9 1e-9 1e-9"/>'
    return f'<body name="drum" pos="{seat}">{joint}{speck}{parts}</body>'


class Builder:
    def __init__(self, machine):
        self.machine, self.sites, self.tendons = (
            machine,
            {"cabinet": "", "tub": "", "world": ""},
            "",
        )
        self.origin = {
            "cabinet": np.array(machine.cabinet.centre_m),
            "tub": np.array(machine.tub.centre_m),
            "world": np.zeros(3),
        }
        self.count = 0

    def site(self, owner, place):
        self.count += 1
        self.sites[owner] += (
            f'<site name="s{self.count}" pos="{row(np.array(place) - self.origin[owner])}" '
            'size=".001"/>'
        )
        return f"s{self.count}"

    def tendon(self, a, b, stiffness, damping, length, friction=0.0):
        self.tendons += (
            f'<spatial stiffness="{stiffness:.12g}" damping="{damping:.12g}" '
            f'springlength="{length:.12g}" '
            f'frictionloss="{friction:.12g}"><site site="{a}"/><site site="{b}"/></spatial>'
        )

    def axis_spring(self, owner, other, place, axis, stiffness, damping):
        away = np.array(place, dtype=float)
        away[axis] += FAR
        self.tendon(self.site(owner, place), self.site(other, away), stiffness, damping, FAR)


def mjcf(machine, step_s, *, locked=False, contact=False, integrator="RK4"):
    b = Builder(machine)
    for s in machine.springs:
        b.tendon(
            b.site("cabinet", s.cabinet_m),
            b.site("tub", s.tub_m),
            s.stiffness_n_m,
            s.damping_n_s_m,
            s.free_length_m,
        )
    for d in machine.dampers:
        b.tendon(
            b.site("cabinet", d.cabinet_m),
            b.site("tub", d.tub_m),
            0.0,
            d.viscous_n_s_m,
            0.0,
            d.friction_n,
        )
        b.axis_spring("tub", "cabinet", d.tub_m, 1, d.pin_n_m, d.pin_n_s_m)
    for tie in machine.bellows:
        for axis in range(3):
            b.axis_spring(
                "tub",
                "cabinet",
                tie.place_m,
                axis,
                tie.stiffness_n_m[axis],
                tie.damping_n_s_m[axis],
            )
    balls = ""
    for f in machine.feet:
        if contact:
            at = np.array(f.place_m) - b.origin["cabinet"] + np.array([0.0, 0.0, 0.01])
            balls += (
                f'<geom type="sphere" size="0.01" pos="{row(at)}" '
                f'friction="{f.friction} 0.005 0.0001" mass="0"/>'
            )
            continue
        side = f.side_share * f.stiffness_n_m
        for axis, k in enumerate((side, side, f.stiffness_n_m)):
            b.axis_spring("cabinet", "world", f.place_m, axis, k, f.damping_n_s_m)
    weights = "".join(
        body(
            f"weight_{w.name}", np.subtract(w.place_m, machine.tub.centre_m), w.mass_kg, [1e-9] * 3
        )
        for w in machine.tub.weights
    )
    c, t = machine.cabinet, machine.tub
    motor = "" if locked else '<actuator><velocity joint="spin" kv="400"/></actuator>'
    floor = '<geom type="plane" size="2 2 .1" solref="0.004 1"/>' if contact else ""
    return (
        '<mujoco><compiler balanceinertia="true" boundmass="1e-9" boundinertia="1e-9"/>'
        f'<option timestep="{step_s}" integrator="{integrator}" gravity="0 0 -9.80665"/>'
        f"<worldbody>{floor}{b.sites['world']}"
        + body(
            "cabinet",
            c.centre_m,
            c.mass_kg,
            c.inertia_kg_m2,
            balls + b.sites["cabinet"],
            "<freejoint/>",
        )
        + body(
            "tub",
            t.centre_m,
            t.mass_kg,
            t.inertia_kg_m2,
            b.sites["tub"] + weights + turning(machine, locked=locked),
            "<freejoint/>",
        )
        + f"</worldbody><tendon>{b.tendons}</tendon>{motor}</mujoco>"
    )


def load(machine, step_s=5e-4, **how):
    model = mujoco.MjModel.from_xml_string(mjcf(machine, step_s, **how))
    return model, mujoco.MjData(model)


def settle(model, data, seconds=6.0):
    """Let it come to rest with the speed bled off."""
    for _ in range(int(seconds / model.opt.timestep)):
        mujoco.mj_step(model, data)
        data.qvel[:] *= 0.99
    data.qvel[:] = 0.0
    data.time = 0.0
