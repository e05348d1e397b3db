"""More measurements that have a page: windings, electrical safety, lifting, tipping."""

from __future__ import annotations

import math
from dataclasses import replace

from counterpoise.bench import cautions, lifting, safety, windings
from counterpoise.bench import readings as spans
from counterpoise.report.views.measures.readings import (
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
    word_choices,
)

OPENED = ("none", "1", "2", "3")


def _windings(typed: TypedReadings) -> windings.Windings:
    rows = typed.rim("ohm", spans.OHM, 3)
    opened = typed.pick("open", OPENED, "none")
    ohm = tuple(
        math.inf if str(place) == opened else value
        for place, value in enumerate(rows, 1)
        if value is not None or str(place) == opened
    )
    seen = windings.PhaseReadings(
        tuple(value for value in ohm if value is not None),
        typed.or_else("at", spans.CELSIUS, 20.0),
        leads_ohm=typed.or_else("leads", replace(spans.OHM, high=10.0), 0.0),
        expected_ohm=typed.one("expected", replace(spans.OHM, low=0.01)),
    )
    return windings.windings(seen)


WINDINGS = MeasurementForm(
    "windings",
    "Windings of the motor",
    "Plug of the motor off. Measure each pair of pins of windings that should be alike.",
    (
        ReadingField("ohm", "Windings", "ohm", 3, boxes=("1", "2", "3")),
        ReadingField(
            "open", "A winding that reads open", choices=word_choices(*OPENED), default="none"
        ),
        ReadingField("leads", "Tips of the meter held together", "ohm", default="0"),
        ReadingField("at", "Motor's temperature", "°C", default="20", signed=True, aside=True),
        ReadingField("expected", "One winding by its data sheet, at 20 °C", "ohm", aside=True),
    ),
    _windings,
    ("measure_stator_balance",),
    caution_texts(cautions.UNPLUGGED, cautions.DISCHARGE, cautions.ROTOR),
)


def _safety(typed: TypedReadings) -> safety.Safety:
    seen = safety.SafetyReadings(
        typed.one("earth", spans.EARTH_OHM),
        typed.one("insulation", spans.MEGOHM),
        typed.one("conductor", spans.MILLIAMPERE),
        typed.one("touch", spans.MILLIAMPERE),
    )
    kind = int(typed.pick("class", ("1", "2"), "1"))
    heater = typed.or_else("heater", spans.Span("a heater", 0.0, 10.0, "kW"), 2.0)
    return safety.safety(seen, safety.Appliance(kind, heater, typed.or_else("cord", _CORD_M, 1.5)))


_CORD_M = spans.Span("a cord", 0.3, 50.0, "m")
SAFETY = MeasurementForm(
    "safety",
    "Electrical safety after a repair",
    "In this order. A test that was not made stays empty; it is then not passed.",
    (
        ReadingField("earth", "Protective earth", "ohm"),
        ReadingField("insulation", "Insulation", "Mohm"),
        ReadingField("conductor", "Protective conductor current", "mA"),
        ReadingField("touch", "Touch current", "mA"),
        ReadingField(
            "class",
            "Class",
            choices=(("1", "1, earthed"), ("2", "2, double insulated")),
            default="1",
            aside=True,
        ),
        ReadingField("heater", "Heater", "kW", default="2", aside=True),
        ReadingField("cord", "Cord", "m", default="1.5", aside=True),
    ),
    _safety,
    ("measure_insulation",),
    caution_texts(
        cautions.LICENSED, cautions.UNPLUGGED, cautions.DRAIN, cautions.DISCHARGE, cautions.NO_POWER
    ),
)


def _lift(typed: TypedReadings) -> lifting.LiftAdvice:
    way = lifting.Lift(
        typed.or_else("reach", spans.LENGTH_CM, 30.0),
        typed.or_else("height", spans.LENGTH_CM, 0.0),
        typed.or_else("up", spans.LENGTH_CM, 20.0),
        typed.or_else("twist", spans.ANGLE_DEG, 0.0),
        typed.pick("grip", ("good", "fair", "poor"), "fair"),
    )
    return lifting.lifting(_mass(typed), way)


def _mass(typed: TypedReadings) -> float:
    return typed.or_else("mass", spans.MACHINE_KG, lifting.MACHINE[0])


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
            centre_height_m=typed.or_else("centre_height", spans.METRE, 0.40),
            centre_from_edge_m=typed.or_else("centre", spans.METRE, 0.275),
            hands_m=typed.or_else("hands", spans.METRE, 0.80),
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
    cautions=(*_HEAVY, *caution_texts(cautions.TIPPED)),
)
