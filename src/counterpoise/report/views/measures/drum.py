"""The drum: its runout, its play, and whether it will touch the tub."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.bench import cautions, play, runout
from counterpoise.bench import readings as spans
from counterpoise.report.views.measures.fields import (
    TWICE,
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
)


def _runout(typed: TypedReadings) -> runout.Runout:
    # turned, the drum's own error shows; walked round, that of drum and tub together
    way = typed.choice("way", runout.WAYS, "turned")
    rim = runout.Rim(typed.numbers("gaps", spans.GAP_MM, 8))
    inner = typed.numbers("inner", spans.GAP_MM, 8)
    # a second row further in tells a tilted drum from one off centre
    back = runout.Rim(inner) if any(value is not None for value in inner) else None
    # mm; further in than a hand reaches, no gap can be read
    apart = typed.number_or(
        "apart", replace(spans.GAP_MM, what="a distance", low=10.0, high=600.0), 200.0
    )
    return runout.runout(rim, back, depth_mm=apart, way=way)


# eight places as on a clock: nobody has to think of degrees with the head in a drum
CLOCK = ("12", "1:30", "3", "4:30", "6", "7:30", "9", "10:30")
RUNOUT = MeasurementForm(
    "runout",
    "Runout of the drum",
    (
        "Measure the gap between drum and tub at eight places. Four do: fill every second box."
        " Leave a box empty where you cannot read."
    ),
    (
        ReadingField("gaps", "Gaps, by the clock", "mm", 8, boxes=CLOCK),
        ReadingField(
            "way",
            "How",
            default="turned",
            choices=(
                ("turned", "turn the drum"),
                ("walked", "go round, drum still"),
            ),
        ),
        ReadingField("inner", "Gaps further in, for the tilt", "mm", 8, boxes=CLOCK, aside=True),
        ReadingField(
            "apart", "From the front row to the inner row", "mm", default="200", aside=True
        ),
    ),
    _runout,
    ("measure_rim_runout",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL, cautions.SHARP),
)


def _play(typed: TypedReadings) -> play.Play:
    # up and down, in and out, and top against bottom are different wear of the bearings
    radial, axial, rocking = (
        typed.given_numbers(key, spans.PLAY_MM) for key in ("radial", "axial", "rocking")
    )
    return play.play(
        play.PlayReadings(radial, axial, rocking, typed.given_numbers("round", spans.PLAY_MM, 4))
    )


def _strike(typed: TypedReadings) -> runout.Strike:
    walked, turned = (typed.numbers(key, spans.GAP_MM, 8) for key in ("walked", "turned"))
    # without the drum turned on, all of the gap's change is laid to the tub
    own = runout.runout(runout.Rim(turned)) if any(value is not None for value in turned) else None
    return runout.strike(
        runout.runout(runout.Rim(walked), way="walked"),
        turned=own,
        # mm with its standard error; what a rim can be moved, it will move by itself
        play_mm=(typed.number_or("play", spans.PLAY_MM, 0.0), 0.2),
    )


STRIKE = MeasurementForm(
    "strike",
    "Will the drum touch the tub?",
    (
        "Measure the gap between drum and tub going round with the drum still; then at one place"
        " with the drum turned on."
    ),
    (
        ReadingField("walked", "Gaps going round, drum still, by the clock", "mm", 8, boxes=CLOCK),
        ReadingField(
            "turned",
            "Gaps at twelve o'clock, drum turned on an eighth each time",
            "mm",
            8,
            aside=True,
        ),
        ReadingField("play", "Play of the rim, if measured", "mm"),
    ),
    _strike,
    (),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL, cautions.SHARP),
)


PLAY = MeasurementForm(
    "play",
    "Play of the drum",
    "Wiggle the rim against the tub. Read the movement from end to end.",
    (
        ReadingField("radial", "Rim up and down", "mm", 2, boxes=TWICE),
        ReadingField("axial", "Drum in and out", "mm", 2, boxes=TWICE),
        ReadingField("rocking", "Top of the rim in and out", "mm", 2, boxes=TWICE),
        ReadingField(
            # play that changes with the drum's place is a worn race rather than a loose shaft
            "round",
            "Up and down again, drum turned on a quarter each time",
            "mm",
            4,
            aside=True,
        ),
    ),
    _play,
    ("drum_by_hand",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL),
)
