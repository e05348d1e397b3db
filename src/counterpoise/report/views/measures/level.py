"""The level of the machine and its feet, and the check after the feet were turned."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.bench import cautions, feet, level, level_check, slopes
from counterpoise.bench import readings as spans
from counterpoise.bench.quantity import Quantity
from counterpoise.errors import ReadingError
from counterpoise.report.figures.level_sketch import WORDS, level_sketch
from counterpoise.report.views.measures.fields import (
    MeasurementForm,
    ReadingField,
    Sketch,
    TypedReadings,
    caution_texts,
    word_choices,
)

# before the name of a box: the reading taken before the feet were turned
WAS = "was_"
# how the tool reads and what the feet are: the same before and after the turning
KEPT_BOXES = ("unit.", "thread.", "out.")
# what a level can be marked in; each reading is turned into degrees with its error
_SLOPE = {
    "degrees": (spans.SLOPE_DEG, slopes.from_degrees),
    "mm/m": (spans.SLOPE_MM_PER_M, slopes.from_mm_per_m),
    "divisions": (spans.BUBBLE, slopes.from_bubble),
}

# the words beside the two boxes of a place: which is which, and where the marked end points
_ACROSS = ("as it shows, mark to the right", "turned end for end, mark to the left")
_ALONG = ("as it shows, mark to the rear", "turned end for end, mark to the front")


def _slope(typed: TypedReadings, key: str, unit: str) -> tuple[Quantity | None, Quantity | None]:
    """(slope, the tool's own error) at a place, each None where it was not read or not twice."""
    span, convert = _SLOPE[unit]
    slope_readings = [convert(value) for value in typed.given_numbers(key, span)]
    if len(slope_readings) < 2:
        return (slope_readings[0] if slope_readings else None), None
    first, turned = slope_readings
    # turned end for end, the slope changes its sign and the tool's own error does not
    pair = slopes.reversal(first.value, turned.value, first.sd)
    return pair.slope, pair.own_error


def _level(typed: TypedReadings) -> level.Level:
    return level.level(*_stand(typed))


def _stand(typed: TypedReadings) -> tuple[level.LevelReadings, feet.Feet]:
    unit = typed.choice("unit", tuple(_SLOPE), "degrees")
    # a corner nobody pressed is not known to stand firm: the two are told apart
    foot = typed.choice("floating", ("not pressed", level.NO_FOOT, *feet.FEET), "not pressed")
    places = ("front", "rear", "left", "right")
    pairs = {place: _slope(typed, place, unit) for place in places}
    front, rear, left, right = (pairs[place][0] for place in places)
    own_errors = {place: error for place, (_, error) in pairs.items() if error is not None}
    gap = typed.number_or("gap", spans.FLOAT_MM, 0.0)
    thread = feet.PITCH_MM[typed.choice("thread", feet.PITCH_MM, "M8")]
    # a foot of which nothing shows cannot go in any further
    out = tuple(0.0 if value is None else value for value in typed.numbers("out", spans.FOOT_MM, 4))
    stand = feet.Feet(pitch_mm=thread, extension_mm=(out[0], out[1], out[2], out[3]))
    return level.LevelReadings(
        front,
        rear,
        left,
        right,
        "" if foot == "not pressed" else foot,
        gap,
        own_errors=own_errors,
    ), stand


def _level_again(typed: TypedReadings) -> level_check.LevelCheck:
    """The check after the feet were turned; boxes named ``WAS...`` hold the first readings."""
    was = {
        name.removeprefix(WAS): text for name, text in typed.texts.items() if name.startswith(WAS)
    }
    kept = {name: text for name, text in typed.texts.items() if name.startswith(KEPT_BOXES)}
    if not was:
        raise ReadingError(
            "the first readings are missing",
            field=f"{WAS}front.0",
            remedy="measure the level first",
        )
    try:
        before = _level(TypedReadings(kept | was))
    except ReadingError as error:
        # the page marks the box at fault: that of the first time
        error.field = f"{WAS}{error.field}"
        raise
    readings, stand = _stand(typed)
    return level_check.confirm(level_check.LevelForecast.of(before), readings, stand)


LEVEL = MeasurementForm(
    "level",
    "Level and feet",
    (
        "Mark one end of the level. Lay it across at the front or rear and along at the left or"
        " right, each time once with the mark to the right or to the rear, and once turned end for"
        " end at the same spot: its own error goes away. Write what the tool shows, plus where the"
        " marked end is high. Then press each corner."
    ),
    (
        # one slope across and one along fix the plane that the feet stand on
        ReadingField("front", "Across at the front", count=2, boxes=_ACROSS, signed=True),
        ReadingField("left", "Along at the left", count=2, boxes=_ALONG, signed=True),
        ReadingField("unit", "Read in", choices=word_choices(*_SLOPE), default="degrees"),
        ReadingField(
            "floating",
            "Which corner goes down when pressed",
            choices=word_choices("not pressed", "none", *feet.FEET),
        ),
        ReadingField("gap", "Gap under that foot", "mm"),
        ReadingField(
            # the same slope at the other end shows whether the cabinet itself is twisted
            "rear",
            "Across at the rear",
            count=2,
            boxes=_ACROSS,
            signed=True,
            aside=True,
        ),
        ReadingField("right", "Along at the right", count=2, boxes=_ALONG, signed=True, aside=True),
        ReadingField(
            # one turn of a foot moves it by the pitch of its thread
            "thread",
            "Thread of the feet",
            choices=word_choices(*feet.PITCH_MM),
            default="M8",
            aside=True,
        ),
        ReadingField(
            "out",
            "How far each foot stands out",
            "mm",
            4,
            boxes=feet.FEET,
            aside=True,
            hint="Left empty, no foot is asked to go in.",
        ),
    ),
    _level,
    # both come of one visit: the level and the gap under the foot that floats
    ("measure_level", "measure_foot_gap"),
    caution_texts(cautions.HEAVY, cautions.TIPPED),
    sketch=Sketch(level_sketch, WORDS),
)


LEVEL_AGAIN = MeasurementForm(
    "level_again",
    "Level again, after turning the feet",
    (
        "Read the same places as the first time, then press each corner again. What was read the"
        " first time is kept below."
    ),
    (
        *LEVEL.fields,
        # what the tool shows in and what the feet are is asked once, of both times
        *(
            replace(
                field, id=f"{WAS}{field.id}", label=f"The first time: {field.label}", aside=True
            )
            for field in LEVEL.fields
            if f"{field.id}." not in KEPT_BOXES
        ),
    ),
    _level_again,
    LEVEL.checks,
    LEVEL.cautions,
    LEVEL.sketch,
)
