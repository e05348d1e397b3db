"""Lifting and tipping the machine, and what a step that tips it takes."""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.bench import cautions, lifting
from counterpoise.bench import readings as spans
from counterpoise.catalog.family import Family
from counterpoise.report.views.measures.fields import (
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
    word_choices,
)
from counterpoise.workshop.diagnosis.assessment import Step
from counterpoise.workshop.jobs.machine_figures import KnownFigure

# kg; what one person may lift where all is at its best is less (NIOSH 94-110), so above it the
# push and the angle at which it falls are said
LIGHT_KG = lifting.LOAD_CONSTANT_KG
# the figure of a family that is the weight of the whole machine
MACHINE_MASS = "machine_kg"


def _lift(typed: TypedReadings) -> lifting.LiftAdvice:
    # cm, degrees: as the usual lifting equation asks them
    way = lifting.Lift(
        typed.number_or("reach", spans.LENGTH_CM, 30.0),
        typed.number_or("height", spans.LENGTH_CM, 0.0),
        typed.number_or("up", spans.LENGTH_CM, 20.0),
        typed.number_or("twist", spans.ANGLE_DEG, 0.0),
        typed.choice("grip", ("good", "fair", "poor"), "fair"),
    )
    return lifting.lifting(_mass(typed), way)


def _mass(typed: TypedReadings) -> float:
    # of a machine nobody weighed: what the bench takes as usual
    return typed.number_or("mass", spans.MACHINE_KG, lifting.MACHINE[0])


# water in the sump moves while the machine is tipped, and makes it heavier
_HEAVY = caution_texts(cautions.UNPLUGGED, cautions.DRAIN, cautions.HEAVY)
LIFT = MeasurementForm(
    "lift",
    "Lifting the machine",
    "How many people, or a trolley.",
    (
        ReadingField("mass", "Mass", "kg"),
        ReadingField("up", "Way up", "cm", default="20"),
        ReadingField("height", "Hands above the floor at the start", "cm", default="0"),
        ReadingField("reach", "Hands in front of the ankles", "cm", default="30", aside=True),
        ReadingField("twist", "Twist of the body", "degrees", default="0", aside=True),
        ReadingField(
            "grip", "Grip", choices=word_choices("good", "fair", "poor"), default="fair", aside=True
        ),
    ),
    _lift,
    cautions=_HEAVY,
)


def _tip(typed: TypedReadings) -> lifting.Tipping:
    return lifting.tipping(
        lifting.TippedMachine(
            mass_kg=_mass(typed),
            # m; estimates, those of the bench room for a machine nobody measured
            centre_height_m=typed.number_or("centre_height", spans.METRE, 0.40),
            centre_from_edge_m=typed.number_or("centre", spans.METRE, 0.275),
            hands_m=typed.number_or("hands", spans.METRE, 0.80),
        )
    )


TIP = MeasurementForm(
    "tip",
    "Tipping the machine",
    "The push that starts it, where it falls by itself, what raising it takes.",
    (
        ReadingField("mass", "Mass", "kg"),
        ReadingField("hands", "Hands above the floor", "m", default="0.8"),
        ReadingField(
            "centre_height", "Centre of mass above the floor", "m", default="0.4", aside=True
        ),
        ReadingField(
            "centre", "Centre of mass to the edge it tips about", "m", default="0.275", aside=True
        ),
    ),
    _tip,
    # whoever is under it when it falls back is hurt worse than the machine
    cautions=(*_HEAVY, *caution_texts(cautions.TIPPED)),
)


def tips(family: Family, access: str) -> bool:
    """Whether the machine is leaned or laid down to get there."""
    entry = family.access.get(access)
    return entry is not None and entry.tips


def lifting_lines(
    step: Step | None, family: Family, figures: Mapping[str, KnownFigure] | None = None
) -> tuple[str, ...]:
    """What tipping this machine takes; empty where the step neither tips it nor lays it down.

    ``figures`` are the machine's own, if any is known: then its weight is its own too.
    """
    if step is None or not any(tips(family, opening.access) for opening in step.openings):
        return ()
    own = (figures or {}).get(MACHINE_MASS)
    # where nobody put down what this machine weighs, what its kind weighs is said instead
    mass_kg = own.value if own else family.typical_mass_kg
    if mass_kg < LIGHT_KG:
        # a light one is lifted down rather than tipped about its edge
        return (f"This machine weighs about {mass_kg:g} kg. {lifting.lifting(mass_kg).sentence}",)
    tipping = lifting.tipping(lifting.TippedMachine(mass_kg=mass_kg))
    return (f"This machine weighs about {mass_kg:g} kg. {tipping.sentence}",)
