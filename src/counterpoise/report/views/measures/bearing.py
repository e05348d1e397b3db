"""The bearing: turned by hand and listened to, and the tones a damaged one makes."""

from __future__ import annotations

from counterpoise.bench import bearing, cautions
from counterpoise.bench import readings as spans
from counterpoise.report.views.measures.fields import (
    TWICE,
    MeasurementForm,
    ReadingField,
    TypedReadings,
    caution_texts,
    word_choices,
)


def _bearing(typed: TypedReadings) -> bearing.BearingCheck:
    # how it turns, sounds and leaks are three independent signs of the same wear
    feel = typed.choice("feel", bearing.TURNS, "free")
    sound, mark = (
        typed.choice("sound", bearing.SOUNDS, "quiet"),
        typed.choice("mark", bearing.MARKS, "dry"),
    )
    return bearing.turn_and_listen(
        bearing.TurningReadings(feel, sound, mark, typed.given_numbers("pull", spans.FORCE_N))
    )


BEARING = MeasurementForm(
    "bearing",
    "Bearing",
    (
        "Turn the drum slowly by hand, belt off where there is one, and listen. Look below the seal"
        " at the rear."
    ),
    (
        ReadingField("feel", "It turns", choices=word_choices(*bearing.TURNS), default="free"),
        ReadingField("sound", "It sounds", choices=word_choices(*bearing.SOUNDS), default="quiet"),
        ReadingField("mark", "Below the seal", choices=word_choices(*bearing.MARKS), default="dry"),
        ReadingField(
            # N at the rim, by a spring balance: for who wants to compare before and after
            "pull",
            "Pull at the rim that keeps it turning",
            "N",
            2,
            boxes=TWICE,
            aside=True,
        ),
    ),
    _bearing,
    cautions=caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL),
)


def _tones(typed: TypedReadings) -> bearing.DefectFrequencies:
    # the tones follow from the geometry, which the size fixes; makers do not matter
    size = bearing.SIZES[typed.choice("size", bearing.SIZES, next(iter(bearing.SIZES)))]
    return bearing.defect_frequencies(size, typed.number_or("speed", spans.TURNING_RPM, 1000.0))


BEARING_TONES = MeasurementForm(
    "bearing_tones",
    "Where a damaged bearing is heard",
    (
        "The size stands on the ring or the seal of the bearing. These are the tones to look for in"
        " a sound recording."
    ),
    (
        ReadingField("size", "Size of the bearing", choices=word_choices(*bearing.SIZES)),
        # every tone is a multiple of the speed: it is shown at the one of the recording
        ReadingField("speed", "Speed of the drum", "rpm", default="1000"),
    ),
    _tones,
    cautions=caution_texts(cautions.UNPLUGGED),
)
