"""A small family for the tests of the workshop: enough of everything to be wrong about."""

from counterpoise.catalog.family import (
    CheckEntry,
    Complaint,
    Family,
    FaultEntry,
    Feature,
    Grade,
    Reading,
    RepairEntry,
)
from counterpoise.workshop.jobs.entries import Intake

_INVENTED = "invented"

FAULTS = {
    "damper_worn": FaultEntry(
        "damper_worn", "Dampers worn", "The tub swings too far", "dampers", 0.4, _INVENTED,
        grades=(Grade("early", "getting weak", 0.6), Grade("gone", "no grip left", 0.4)),
    ),
    "support_cracked": FaultEntry("support_cracked", "Drum support cracked", "The drum hangs", "drum", 0.1, _INVENTED),
}  # fmt: skip
CHECKS = {
    "drum_by_hand": CheckEntry(
        "drum_by_hand", "Move the drum by hand", "feel", 1, ("Grip the rim.",), "What happened?",
        {"with_tub": "It moves with the tub", "on_its_own": "It moves on its own"},
        {"support_cracked": {"on_its_own": 0.8}}, {"on_its_own": 0.01}, _INVENTED,
    ),
    "play": CheckEntry(
        "play", "Measure the play at the rim", "measure", 3, ("Set the gauge.",), "How much?",
        {"none": "None to speak of", "some": "Some", "much": "Much"},
        {"support_cracked": {"some": 0.4, "much": 0.5}}, {"some": 0.1, "much": 0.01}, _INVENTED,
        reading=Reading("free play at the rim", "mm", (0.5, 1.5), 0, 20, 0.3),
    ),
    "push": CheckEntry(
        "push", "Pull the damper", "measure", 3, ("Pull with the balance.",), "How hard?",
        {"firm": "Firm", "weak": "Weak"}, {"damper_worn": {"weak": 0.8}}, {"weak": 0.05}, _INVENTED,
        reading=Reading("pulling force", "N", (40.0,), 0, 200, 5, falling=True), needs={"drive": "belt"},
    ),
}  # fmt: skip
FAMILY = Family(
    id="small", title="A small family", currency="EUR", typical_mass_kg=70, proof_minutes=12, proof_misses=0.06,
    proof_steps=("Run a spin.",), proof_cautions=(), sources={}, cautions={},
    complaints={
        "shakes": Complaint("shakes", "Shakes hard in the spin", 0.03, _INVENTED),
        "walks": Complaint("walks", "Walks across the floor", 0.01, _INVENTED),
    },
    features={
        "drive": Feature(
            "drive", "What turns the drum?", {"direct": "Motor on the shaft", "belt": "Belt and pulley"},
            {"direct": 0.4, "belt": 0.6}, _INVENTED,
        )
    },
    faults=FAULTS, access={}, checks=CHECKS,
    repairs={
        "replace_dampers": RepairEntry(
            "replace_dampers", "Replace the set of dampers", 35, ("Swap them.",), {"damper_worn": 0.97}, _INVENTED
        )
    },
    parts={}, assemblies={},
)  # fmt: skip
INTAKE = Intake(
    "small",
    "customer",
    "Quarrow 714, two doors down",
    ("shakes", "walks"),
    6.0,
    {"drive": "direct"},
)
