"""The measurements that have a page: what each asks, and how what was typed becomes the bench's readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from counterpoise.bench import (
    bearing,
    bounce,
    cautions,
    dampers,
    feet,
    level,
    level_check,
    play,
    runout,
    slopes,
)
from counterpoise.bench import readings as spans
from counterpoise.bench import suspension as hung
from counterpoise.bench.quantity import Quantity
from counterpoise.catalog.family import Family
from counterpoise.errors import NotFoundError, ReadingError
from counterpoise.report.views.measures.assemblies import LIFT, SAFETY, TIP, WINDINGS
from counterpoise.report.views.measures.readings import (
    MeasurementForm,
    ReadingField,
    TypedReadings,
    asks_for_number,
    caution_texts,
    word_choices,
)

TWICE = ("first", "again")
WAS = "was_"  # before the name of a box: the reading taken before the feet were turned
_SLOPE = {
    "degrees": (spans.SLOPE_DEG, slopes.from_degrees),
    "mm/m": (spans.SLOPE_MM_PER_M, slopes.from_mm_per_m),
    "divisions": (spans.BUBBLE, slopes.from_bubble),
}


def _slope(typed: TypedReadings, key: str, unit: str) -> Quantity | None:
    """One reading, or two with the tool turned end for end."""
    span, convert = _SLOPE[unit]
    found = [convert(value) for value in typed.row(key, span)]
    if len(found) < 2:
        return found[0] if found else None
    return slopes.reversal(found[0].value, found[1].value, found[0].sd).slope


def _level(typed: TypedReadings) -> level.Level:
    return level.level(*_stand(typed))


def _stand(typed: TypedReadings) -> tuple[level.LevelReadings, feet.Feet]:
    unit = typed.pick("unit", tuple(_SLOPE), "degrees")
    foot = typed.pick("floating", ("not pressed", level.NO_FOOT, *feet.FEET), "not pressed")
    front, rear, left, right = (
        _slope(typed, key, unit) for key in ("front", "rear", "left", "right")
    )
    gap = typed.or_else("gap", spans.FLOAT_MM, 0.0)
    thread = feet.PITCH_MM[typed.pick("thread", feet.PITCH_MM, "M8")]
    out = tuple(0.0 if value is None else value for value in typed.rim("out", spans.FOOT_MM, 4))
    stand = feet.Feet(pitch_mm=thread, extension_mm=(out[0], out[1], out[2], out[3]))
    return level.LevelReadings(
        front, rear, left, right, "" if foot == "not pressed" else foot, gap
    ), stand


def _level_again(typed: TypedReadings) -> level_check.LevelCheck:
    """The check after the feet were turned: boxes that begin with ``WAS`` hold what was read before."""
    was = {
        name.removeprefix(WAS): text for name, text in typed.given.items() if name.startswith(WAS)
    }
    kept = {
        name: text
        for name, text in typed.given.items()
        if name.startswith(("unit.", "thread.", "out."))
    }
    if not was:
        raise ReadingError(
            "the first readings are missing",
            field=f"{WAS}front.0",
            remedy="measure the level first",
        )
    try:
        before = _level(TypedReadings(kept | was))
    except ReadingError as error:
        error.field = f"{WAS}{error.field}"
        raise
    readings, stand = _stand(typed)
    return level_check.confirm(level_check.LevelForecast.of(before), readings, stand)


LEVEL = MeasurementForm(
    "level",
    "Level and feet",
    "Lay the level across at the front or rear and along at the left or right. Then press each corner. "
    "Read twice, the second time with the tool turned end for end: its own error goes away.",
    (
        ReadingField("front", "Front, right side high is plus", count=2, boxes=TWICE, signed=True),
        ReadingField("left", "Left, rear high is plus", count=2, boxes=TWICE, signed=True),
        ReadingField("unit", "Read in", choices=word_choices(*_SLOPE), default="degrees"),
        ReadingField("floating", "Which corner goes down when pressed", choices=word_choices("not pressed", "none", *feet.FEET)),
        ReadingField("gap", "Gap under that foot", "mm"),
        ReadingField("rear", "Rear, right side high is plus", count=2, boxes=TWICE, signed=True, aside=True),
        ReadingField("right", "Right, rear high is plus", count=2, boxes=TWICE, signed=True, aside=True),
        ReadingField("thread", "Thread of the feet", choices=word_choices(*feet.PITCH_MM), default="M8", aside=True),
        ReadingField(
            "out", "How far each foot stands out", "mm", 4, boxes=feet.FEET, aside=True,
            hint="Left empty, no foot is asked to go in.",
        ),
    ),
    _level,
    ("measure_level", "measure_foot_gap"),
    caution_texts(cautions.HEAVY, cautions.TIPPED),
)  # fmt: skip


LEVEL_AGAIN = MeasurementForm(
    "level_again",
    "Level again, after turning the feet",
    "Read the same places as the first time, then press each corner again. What was read the first time is kept below.",
    (
        *LEVEL.blanks,
        *(
            replace(b, id=f"{WAS}{b.id}", label=f"The first time: {b.label}", aside=True)
            for b in LEVEL.blanks[:2]
        ),
        *(
            replace(b, id=f"{WAS}{b.id}", label=f"The first time: {b.label}", aside=True)
            for b in LEVEL.blanks[3:7]
        ),
    ),
    _level_again,
    LEVEL.checks,
    LEVEL.cautions,
)


def _runout(typed: TypedReadings) -> runout.Runout:
    way = typed.pick("way", runout.WAYS, "turned")
    rim = runout.Rim(typed.rim("gaps", spans.GAP_MM, 8))
    inner = typed.rim("inner", spans.GAP_MM, 8)
    back = runout.Rim(inner) if any(value is not None for value in inner) else None
    apart = typed.or_else(
        "apart", replace(spans.GAP_MM, what="a distance", low=10.0, high=600.0), 200.0
    )
    return runout.runout(rim, back, depth_mm=apart, way=way)


CLOCK = ("12", "1:30", "3", "4:30", "6", "7:30", "9", "10:30")
RUNOUT = MeasurementForm(
    "runout",
    "Runout of the drum",
    "Measure the gap between drum and tub at eight places. Four do: fill every second box. Leave a box empty where "
    "you cannot read.",
    (
        ReadingField("gaps", "Gaps, by the clock", "mm", 8, boxes=CLOCK),
        ReadingField(
            "way", "How", default="turned",
            choices=(
                ("turned", "turn the drum"), ("walked", "go round, drum still"),
            ),
        ),
        ReadingField("inner", "Gaps further in, for the tilt", "mm", 8, boxes=CLOCK, aside=True),
        ReadingField("apart", "From the front row to the inner row", "mm", default="200", aside=True),
    ),
    _runout,
    ("measure_rim_runout",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL, cautions.SHARP),
)  # fmt: skip


def _play(typed: TypedReadings) -> play.Play:
    radial, axial, rocking = (
        typed.row(key, spans.PLAY_MM) for key in ("radial", "axial", "rocking")
    )
    return play.play(
        play.PlayReadings(radial, axial, rocking, typed.row("round", spans.PLAY_MM, 4))
    )


def _strike(typed: TypedReadings) -> runout.Strike:
    walked, turned = (typed.rim(key, spans.GAP_MM, 8) for key in ("walked", "turned"))
    own = runout.runout(runout.Rim(turned)) if any(value is not None for value in turned) else None
    return runout.strike(
        runout.runout(runout.Rim(walked), way="walked"),
        turned=own,
        play_mm=(typed.or_else("play", spans.PLAY_MM, 0.0), 0.2),
    )


STRIKE = MeasurementForm(
    "strike",
    "Will the drum touch the tub?",
    "Measure the gap between drum and tub going round with the drum still; then at one place with the drum turned on.",
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
    "PlayReadings the rim against the tub. Read the movement from end to end.",
    (
        ReadingField("radial", "Rim up and down", "mm", 2, boxes=TWICE),
        ReadingField("axial", "Drum in and out", "mm", 2, boxes=TWICE),
        ReadingField("rocking", "Top of the rim in and out", "mm", 2, boxes=TWICE),
        ReadingField(
            "round", "Up and down again, drum turned on a quarter each time", "mm", 4, aside=True
        ),
    ),
    _play,
    ("drum_by_hand",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL),
)

DAMPERS_NAMED = ("left", "right", "third", "fourth")


def _stroke(typed: TypedReadings, name: str, unit: str) -> dampers.DamperForces | None:
    span = spans.SCALE_KG if unit == "kg" else spans.FORCE_N
    rows = [typed.rim(name, span, 4)[start : start + 2] for start in (0, 2)]
    pushes, pulls = (
        tuple(
            dampers.scale_newton(value) if unit == "kg" else value
            for value in row
            if value is not None
        )
        for row in rows
    )
    return dampers.DamperForces(name, pushes, pulls) if pushes or pulls else None


def _dampers(typed: TypedReadings) -> dampers.DamperSet:
    unit = typed.pick("unit", ("kg", "N"), "kg")
    strokes = [stroke for name in DAMPERS_NAMED if (stroke := _stroke(typed, name, unit))]
    return dampers.damper_set(strokes, typed.or_else("new", replace(spans.FORCE_N, low=1.0), 80.0))


DAMPERS = MeasurementForm(
    "dampers",
    "Dampers by a scale",
    "Push each damper slowly in over a kitchen scale, pull it out on a luggage scale. One way is enough.",
    (
        *(
            ReadingField(
                name, f"{name.capitalize()} damper", count=4, boxes=("in", "in again", "out", "out again"),
                aside=name not in DAMPERS_NAMED[:2],
            )
            for name in DAMPERS_NAMED
        ),
        ReadingField("unit", "The scale shows", choices=word_choices("kg", "N"), default="kg"),
        ReadingField("new", "Force of a sound one", "N", default="80", aside=True),
    ),
    _dampers,
    ("measure_damper_push",),
    caution_texts(cautions.UNPLUGGED, cautions.BLOCK_TUB, cautions.SHARP),
)  # fmt: skip


def _bounce(typed: TypedReadings) -> bounce.Bounce:
    push = typed.or_else("push", spans.AMPLITUDE_MM, 40.0)
    count = typed.whole("count", spans.BOUNCES)
    if count is not None:
        return bounce.bounce(push, count)
    last, after = (
        typed.one("last", spans.AMPLITUDE_MM),
        typed.one("after", replace(spans.BOUNCES, low=1.0)),
    )
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
        ReadingField("last", "Instead: a later swing", "mm", aside=True),
        ReadingField("after", "after this many bounces", aside=True),
    ),
    _bounce,
    ("push_tub_bounces",),
    caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL, cautions.SHARP),
)


def _springs(typed: TypedReadings) -> hung.Springs:
    left, right = typed.row("left", spans.LENGTH_MM), typed.row("right", spans.LENGTH_MM)
    hooks = tuple(typed.pick(f"hook_{side}", hung.HOOKS, "sound") for side in ("left", "right"))
    free, new = typed.one("free", spans.LENGTH_MM), typed.one("new_free", spans.LENGTH_MM)
    sag = typed.row("sag", spans.SAG_MM)
    return hung.springs(
        hung.SpringPair(
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
        ReadingField("hook_left", "Left hook", choices=word_choices(*hung.HOOKS), default="sound"),
        ReadingField(
            "hook_right", "Right hook", choices=word_choices(*hung.HOOKS), default="sound"
        ),
        ReadingField(
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


def _counterweight(typed: TypedReadings) -> hung.Counterweight:
    bolts = replace(spans.BOUNCES, what="a count of bolts", high=12.0, unit="bolts")
    loose, all_bolts = typed.whole("loose", bolts) or 0, typed.whole("bolts", bolts)
    return hung.counterweight(
        hung.WeightReading(
            typed.one("mass", spans.WEIGHT_KG),
            typed.one("nominal", spans.WEIGHT_KG),
            loose_bolts=loose,
            bolts=2 if all_bolts is None else all_bolts,
            dust=typed.pick("dust", hung.DUST_SEEN, "none"),
        )
    )


COUNTERWEIGHT = MeasurementForm(
    "counterweight",
    "Counterweights",
    "One weight at a time: try its bolts, look for dust below it. Weigh it only if it is off already.",
    (
        ReadingField("loose", "Loose bolts", default="0"),
        ReadingField("bolts", "of all its bolts", default="2"),
        ReadingField(
            "dust", "Dust or crumbs below it", choices=word_choices(*hung.DUST_SEEN), default="none"
        ),
        ReadingField("mass", "Mass on the scale", "kg", aside=True),
        ReadingField("nominal", "Mass stamped on it", "kg", aside=True),
    ),
    _counterweight,
    cautions=caution_texts(cautions.UNPLUGGED, cautions.HEAVY, cautions.SHARP, cautions.DUST),
)


def _bearing(typed: TypedReadings) -> bearing.BearingCheck:
    feel = typed.pick("feel", bearing.TURNS, "free")
    sound, mark = (
        typed.pick("sound", bearing.SOUNDS, "quiet"),
        typed.pick("mark", bearing.MARKS, "dry"),
    )
    return bearing.turn_and_listen(
        bearing.TurningReadings(feel, sound, mark, typed.row("pull", spans.FORCE_N))
    )


BEARING = MeasurementForm(
    "bearing",
    "Bearing",
    "Turn the drum slowly by hand, belt off where there is one, and listen. Look below the seal at the rear.",
    (
        ReadingField("feel", "It turns", choices=word_choices(*bearing.TURNS), default="free"),
        ReadingField("sound", "It sounds", choices=word_choices(*bearing.SOUNDS), default="quiet"),
        ReadingField("mark", "Below the seal", choices=word_choices(*bearing.MARKS), default="dry"),
        ReadingField(
            "pull", "Pull at the rim that keeps it turning", "N", 2, boxes=TWICE, aside=True
        ),
    ),
    _bearing,
    cautions=caution_texts(cautions.UNPLUGGED, cautions.DRUM_STILL),
)


def _tones(typed: TypedReadings) -> bearing.DefectFrequencies:
    size = bearing.SIZES[typed.pick("size", bearing.SIZES, next(iter(bearing.SIZES)))]
    return bearing.defect_frequencies(size, typed.or_else("speed", spans.TURNING_RPM, 1000.0))


BEARING_TONES = MeasurementForm(
    "bearing_tones",
    "Where a damaged bearing is heard",
    "The size stands on the ring or the seal of the bearing. These are the tones to look for in a sound recording.",
    (
        ReadingField("size", "Size of the bearing", choices=word_choices(*bearing.SIZES)),
        ReadingField("speed", "Speed of the drum", "rpm", default="1000"),
    ),
    _tones,
    cautions=caution_texts(cautions.UNPLUGGED),
)


FORMS = {
    sheet.kind: sheet
    for sheet in (
        LEVEL, LEVEL_AGAIN, RUNOUT, STRIKE, PLAY, DAMPERS, BOUNCE, SPRINGS, COUNTERWEIGHT, BEARING, BEARING_TONES,
        WINDINGS, SAFETY, LIFT, TIP,
    )
}  # fmt: skip


def form_for(
    kind: str, family: Family, features: Mapping[str, str] | None = None
) -> MeasurementForm:
    """A measurement, with those of its checks that fit a machine of these features; raises NotFoundError."""
    if kind not in FORMS:
        raise NotFoundError(f"There is no measurement called {kind[:60]}")
    sheet = FORMS[kind]
    usual = f"{family.typical_mass_kg:g}"
    blanks = tuple(
        replace(blank, default=usual) if blank.id == "mass" else blank for blank in sheet.blanks
    )
    checks = tuple(
        check for check in sheet.checks if asks_for_number(family, check, features or {})
    )
    return replace(sheet, checks=checks, blanks=blanks if kind in {"lift", "tip"} else sheet.blanks)


def values_to_confirm(sheet: MeasurementForm, typed: Mapping[str, str]) -> dict[str, str]:
    """What to type in to check a level after its feet were turned, the first readings kept; empty for other sheets."""
    if sheet.kind != LEVEL.kind:
        return {}
    stays = ("unit.", "thread.", "out.")
    return {
        name if name.startswith(stays) else f"{WAS}{name}": text for name, text in typed.items()
    }


def kind_for_check(check: str, family: Family) -> str:
    """The measurement that answers a check of this family; nothing where none does."""
    return next(
        (
            kind
            for kind, sheet in FORMS.items()
            if check in sheet.checks and asks_for_number(family, check, {})
        ),
        "",
    )
