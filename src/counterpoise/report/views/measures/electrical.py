"""The motor's windings, and the electrical safety after a repair."""

from __future__ import annotations

import math
from dataclasses import replace

from counterpoise.bench import cautions, safety, windings
from counterpoise.bench import readings as spans
from counterpoise.report.views.measures.fields import (
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
    word_choices,
)

# a winding that reads open has no number to type: it is picked by its place
OPENED = ("none", "1", "2", "3")


def _windings(typed: TypedReadings) -> windings.Windings:
    rows = typed.numbers("ohm", spans.OHM, 3)
    opened = typed.choice("open", OPENED, "none")
    # an open winding counts as endless ohms, whatever was typed beside it
    ohm = tuple(
        math.inf if str(place) == opened else value
        for place, value in enumerate(rows, 1)
        if value is not None or str(place) == opened
    )
    seen = windings.PhaseReadings(
        tuple(value for value in ohm if value is not None),
        # °C: copper has a tenth more resistance at 45 than at 20
        typed.number_or("at", spans.CELSIUS, 20.0),
        # ohm of the meter's own leads: a good part of what a low winding reads
        leads_ohm=typed.number_or("leads", replace(spans.OHM, high=10.0), 0.0),
        expected_ohm=typed.number("expected", replace(spans.OHM, low=0.01)),
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
        typed.number("earth", spans.EARTH_OHM),
        typed.number("insulation", spans.MEGOHM),
        typed.number("conductor", spans.MILLIAMPERE),
        typed.number("touch", spans.MILLIAMPERE),
    )
    # the limits depend on how the user is protected: by earth, or by a second insulation
    kind = int(typed.choice("class", ("1", "2"), "1"))
    # kW: a heater may leak more, by the standard's rule per kilowatt
    heater = typed.number_or("heater", spans.Span("a heater", 0.0, 10.0, "kW"), 2.0)
    return safety.safety(
        seen, safety.Appliance(kind, heater, typed.number_or("cord", _CORD_M, 1.5))
    )


# m: a longer cord has more resistance in its earth wire
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
    # of the four tests one is a check of the catalog; the others judge the repair
    ("measure_insulation",),
    caution_texts(
        # first of all: in many places only the licensed may do this
        cautions.LICENSED,
        cautions.UNPLUGGED,
        cautions.DRAIN,
        cautions.DISCHARGE,
        cautions.NO_POWER,
    ),
)
