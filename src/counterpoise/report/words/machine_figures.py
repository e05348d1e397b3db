"""Plain words for the figures of the model in motion, and places along the drum."""

from __future__ import annotations

# by the name of the family value in dynamics/machines; the unit stands beside it there
VALUE_WORDS = {
    "oscillating_kg": "Everything that hangs on the springs",
    "upper_weight_kg": "Upper counterweight",
    "front_weight_kg": "Front counterweight",
    "drum_kg": "Drum",
    "pitch_inertia_kg_m2": "How hard the tub is to nod (inertia)",
    "roll_inertia_kg_m2": "How hard the tub is to roll (inertia)",
    "centre_y_m": "Centre of gravity behind the middle",
    "cabinet_kg": "Cabinet alone",
    "spring_n_m": "Stiffness of the springs",
    "spring_pairs": "Pairs of springs",
    "dampers": "Dampers",
    "damper_viscous_n_s_m": "Damper, part that grows with speed",
    "damper_friction_n": "Damper, dry friction",
    "damper_bushing_n_m": "Damper bushings",
    "damper_pin_n_m": "Damper pins, along the axis",
    "damper_pin_n_s_m": "Damper pins, damping",
    "bellows_n_m": "Door bellows",
    "bellows_n_s_m": "Door bellows, damping",
    # two models, two words for the same room: one for each kind of machine
    "stop_m": "Room of the tub before it strikes",
    "foot_n_m": "Stiffness of a foot",
    "foot_friction": "Friction of the feet on the floor",
    "drum_radius_m": "Radius of the drum",
    "unbalance_depth_m": "Place of the laundry's unbalance",
    "rods_n_m": "Stiffness of the rods' springs",
    "rod_friction_n": "Friction of a rod",
    "side_damping_n_s_m": "Damping sideways",
    "clearance_m": "Room of the tub before it strikes",
    "ring_radius_m": "Radius of the balance ring",
    "ring_height_m": "Height of the balance ring",
}
# of an unbalance: 0 at the hub to 1 at the opening
PLACES = ((0.0, "at the hub"), (0.5, "in the middle of the drum"), (1.0, "at the opening"))
