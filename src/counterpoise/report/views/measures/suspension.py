"""What the tub hangs on and is weighted with: dampers, springs, counterweights."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.bench import bounce, cautions, dampers, suspension
from counterpoise.bench import readings as spans
from counterpoise.errors import ReadingError
from counterpoise.report.views.measures.fields import (
    TWICE,
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
    word_choices,
)

# two or three are usual; a fourth is on large machines
DAMPERS_NAMED = ("left", "right", "third", "fourth")


def _stroke(typed: TypedReadings, name: str, unit: str) -> dampers.DamperForces | None:
    span = spans.SCALE_KG if unit == "kg" else spans.FORCE_N
    # the first two boxes are pushes, the last two pulls: a worn damper may do one alone
    rows = [typed.numbers(name, span, 4)[start : start + 2] for start in (0, 2)]
    pushes, pulls = (
        tuple(
            # a scale shows the mass that would weigh as much
            dampers.scale_newton(value) if unit == "kg" else value
            for value in row
            if value is not None
        )
        for row in rows
    )
    return dampers.DamperForces(name, pushes, pulls) if pushes or pulls else None


def _dampers(typed: TypedReadings) -> dampers.DamperSet:
    unit = typed.choice("unit", ("kg", "N"), "kg")
    strokes = [stroke for name in DAMPERS_NAMED if (stroke := _stroke(typed, name, unit))]
    return dampers.damper_set(
        strokes, typed.number_or("new", replace(spans.FORCE_N, low=1.0), 80.0)
    )


DAMPERS = MeasurementForm(
    "dampers",
    "Dampers by a scale",
    (
        "Push each damper slowly in over a kitchen scale, pull it out on a luggage scale. One way"
        " is enough."
    ),
    (
        *(
            ReadingField(
                name,
                f"{name.capitalize()} damper",
                count=4,
                boxes=("in", "in again", "out", "out again"),
                # most machines have a left and a right one; the others are there to be found
                aside=name not in DAMPERS_NAMED[:2],
            )
            for name in DAMPERS_NAMED
        ),
        ReadingField("unit", "The scale shows", choices=word_choices("kg", "N"), default="kg"),
        # another machine has other dampers: what a sound one needs can be set
        ReadingField("new", "Force of a sound one", "N", default="80", aside=True),
    ),
    _dampers,
    ("measure_damper_push",),
    caution_texts(cautions.UNPLUGGED, cautions.BLOCK_TUB, cautions.SHARP),
)


def _bounce(typed: TypedReadings) -> bounce.Bounce:
    push = typed.number_or("push", spans.AMPLITUDE_MM, 40.0)
    # a count of whole bounces is what everybody can do; two swings measured are surer
    count = typed.whole("count", spans.BOUNCES)
    if count is not None:
        return bounce.bounce(push, count)
    last, after = (
        typed.number("last", spans.AMPLITUDE_MM),
        typed.number("after", replace(spans.BOUNCES, low=1.0)),
    )
    # no bounce at all is an answer, a box left empty is none
    if last is None or after is None:
        raise ReadingError(
            "Nothing was counted", field="count.0", remedy="count the bounces until the tub stands"
        )
    return bounce.bounce_decay(push, last, after)


BOUNCE = MeasurementForm(
    "bounce",
    "Dampers by bounces",
    "Push the tub straight down, let go, count whole bounces until it stands.",
    (
        ReadingField("push", "Pushed down by", "mm", default="40"),
        ReadingField("count", "Bounces until it stands"),
        # the fall from one swing to another gives the damping without counting to the end
        ReadingField("last", "Instead: a later swing", "mm", aside=True),
        ReadingField("after", "after this many bounces", aside=True),
    ),
    _bounce,
    ("push_tub_bounces",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL, cautions.SHARP),
)


def _springs(typed: TypedReadings) -> suspension.Springs:
    left, right = (
        typed.given_numbers("left", spans.LENGTH_MM),
        typed.given_numbers("right", spans.LENGTH_MM),
    )
    # a hook half through does not show in the length, and breaks first
    hooks = tuple(
        typed.choice(f"hook_{side}", suspension.HOOKS, "sound") for side in ("left", "right")
    )
    # off the machine, a tired spring is longer than a new one
    free, new = typed.number("free", spans.LENGTH_MM), typed.number("new_free", spans.LENGTH_MM)
    sag = typed.given_numbers("sag", spans.SAG_MM)
    return suspension.springs(
        suspension.SpringPair(
            left, right, hooks=(hooks[0], hooks[1]), free_mm=free, new_free_mm=new, sag_mm=sag
        )
    )


SPRINGS = MeasurementForm(
    "springs",
    "Springs",
    "Measure both while they hang, from hook to hook. Look at the hooks.",
    (
        ReadingField("left", "Left spring", "mm", 2, boxes=TWICE),
        ReadingField("right", "Right spring", "mm", 2, boxes=TWICE),
        ReadingField(
            "hook_left", "Left hook", choices=word_choices(*suspension.HOOKS), default="sound"
        ),
        ReadingField(
            "hook_right", "Right hook", choices=word_choices(*suspension.HOOKS), default="sound"
        ),
        ReadingField(
            # both springs tired alike hang even: then only the sag tells
            "sag",
            "Middle of the empty drum below that of the door ring",
            "mm",
            signed=True,
            aside=True,
        ),
        ReadingField("free", "Length of one that is off", "mm", aside=True),
        ReadingField("new_free", "Length of a new one", "mm", aside=True),
    ),
    _springs,
    ("measure_spring_length",),
    caution_texts(cautions.UNPLUGGED, cautions.BLOCK_TUB, cautions.SHARP),
)


def _counterweight(typed: TypedReadings) -> suspension.Counterweight:
    # a count like that of bounces, but no weight has more than a dozen bolts
    bolts = replace(spans.BOUNCES, what="a count of bolts", high=12.0, unit="bolts")
    loose, all_bolts = typed.whole("loose", bolts) or 0, typed.whole("bolts", bolts)
    return suspension.counterweight(
        suspension.WeightReading(
            typed.number("mass", spans.WEIGHT_KG),
            typed.number("nominal", spans.WEIGHT_KG),
            loose_bolts=loose,
            # most weights hang on two; a weight on none has fallen off already
            bolts=2 if all_bolts is None else all_bolts,
            dust=typed.choice("dust", suspension.DUST_SEEN, "none"),
        )
    )


COUNTERWEIGHT = MeasurementForm(
    "counterweight",
    "Counterweights",
    (
        "One weight at a time: try its bolts, look for dust below it. Weigh it only if it is off"
        " already."
    ),
    (
        ReadingField("loose", "Loose bolts", default="0"),
        ReadingField("bolts", "of all its bolts", default="2"),
        ReadingField(
            "dust",
            "Dust or crumbs below it",
            choices=word_choices(*suspension.DUST_SEEN),
            default="none",
        ),
        # a cracked weight loses crumbs, and with them mass: but nobody takes one off for it
        ReadingField("mass", "Mass on the scale", "kg", aside=True),
        ReadingField("nominal", "Mass stamped on it", "kg", aside=True),
    ),
    _counterweight,
    cautions=caution_texts(cautions.UNPLUGGED, cautions.HEAVY, cautions.SHARP, cautions.DUST),
)
