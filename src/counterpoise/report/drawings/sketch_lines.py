"""The small drawings, as lines of shapes: ``kind numbers look``, parted by ``;``.

Each is 120 by 84 units. Kinds and looks are those of a family's drawing; besides these
``text x y words``, ``sign x y name`` (a hand or tool), and the looks ``accent`` and ``arrow`` (a
line that ends in a head).
"""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.report.drawings.care_lines import CARE_LINES, Lines

HAND_LINES: Mapping[str, Lines] = {
    "level_turned": Lines(
        "Read it, turn it, read again",
        "A spirit level on the top of the machine, and the same level turned end for end.",
        "rect 10 44 100 6; rect 18 50 84 30; rect 34 30 52 11; circle 60 35.5 3;"
        "line 54 30 54 41 thin; line 66 30 66 41 thin; circle 40 35.5 2.5 solid;"
        "curve 34 20 48 8 72 8 86 20 arrow",
    ),
    "feet_above": Lines(
        "The feet from above",
        "The machine seen from above, its feet at the corners, front edge below.",
        "rect 34 18 52 50; circle 43 27 6 heavy; circle 77 27 6 heavy; circle 43 59 6 heavy;"
        "circle 77 59 6 heavy; text 60 13 rear; text 60 82 front; text 16 47 left;"
        "text 103 47 right; line 52 68 68 68 accent",
    ),
    "feeler_gauge": Lines(
        "Gauge under the foot",
        "A foot over the floor; a blade of the feeler gauge goes into the gap.",
        "line 4 72 116 72 ground; rect 52 12 12 34; rect 46 24 24 7 heavy;"
        "area 40 46 76 46 74 62 42 62 solid; line 72 67 112 56 accent;"
        "line 72 67 114 63 bare; line 44 67 72 67 accent; line 20 52 20 65 arrow;"
        "line 20 82 20 74 bare",
    ),
    "runout_clock": Lines(
        "Turn by the clock",
        "A rim as a clock face: the rule stands still at three, the rim is turned.",
        "circle 54 44 34; circle 54 44 27 thin; text 54 25 12; text 75 48 3; text 54 69 6;"
        "text 33 48 9; rect 92 40 26 8 heavy; line 89 44 92 44 accent;"
        "curve 24 16 40 6 62 6 74 12 arrow",
    ),
    "strike_gap": Lines(
        "The smallest gap",
        "The gap between the tub and the cabinet, marked between two arrows.",
        "line 100 6 100 78 bare; line 104 6 104 78 bare;"
        "curve 10 10 50 12 74 30 78 44 74 60 50 74 10 78 shade; line 56 44 76 44 arrow;"
        "line 116 44 102 44 arrow; line 79 36 79 52 accent; line 99 36 99 52 accent",
    ),
    "back_and_forth": Lines(
        "Lift the rim, let it down",
        "A hand at the top of the rim moves it up and down against the tub.",
        "circle 48 46 34 shade; circle 48 46 26; circle 48 46 3 solid; sign 48 22 hand;"
        "line 100 44 100 14 arrow; line 100 48 100 78 arrow",
    ),
    "bearing_turned": Lines(
        "Turn it slowly and listen",
        "A hand turns it slowly, an ear listens near its shaft.",
        "circle 44 46 32; circle 44 46 3 solid; sign 44 20 hand;"
        "curve 18 62 12 44 20 26 arrow; sign 98 46 ear; curve 78 36 84 46 78 56 thin;"
        "curve 72 40 76 46 72 52 thin",
    ),
    "damper_push": Lines(
        "Push it in, steadily",
        "A damper off at one end is pushed in steadily along its length with a luggage scale.",
        "line 114 30 114 74 ground; damper 40 52 108 52; sign 20 52 scale;"
        "line 30 24 78 24 arrow; line 40 38 40 44 accent; line 30 52 38 52 accent",
    ),
    "bounce": Lines(
        "Push down, count the swings",
        "The tub is pushed down and let go; its swings grow smaller and are counted.",
        "spring 20 4 20 24; spring 60 4 60 24; rect 10 24 60 40 shade; circle 40 44 14;"
        "line 40 52 40 80 arrow;"
        "curve 76 44 80 64 86 30 92 56 98 37 104 49 110 42 116 44 accent",
    ),
    "spring_lengths": Lines(
        "Both springs, hook to hook",
        "Two tub springs side by side, measured with a rule from hook to hook.",
        "spring 26 10 26 66; spring 56 10 56 74; line 18 10 64 10 thin;"
        "line 16 66 36 66 accent; line 46 74 66 74 accent; rect 84 8 14 70;"
        "line 84 18 90 18 thin; line 84 28 90 28 thin; line 84 38 90 38 thin;"
        "line 84 48 90 48 thin; line 84 58 90 58 thin; line 84 68 90 68 thin",
    ),
    "spring_hook": Lines(
        "Hook, puller, face aside",
        "A spring is drawn to its hook with a puller; the face stays out of its line.",
        "line 4 10 84 10 ground; circle 40 18 5; curve 40 34 50 30 48 22 40 22 bare;"
        "spring 40 34 40 80; line 30 46 96 46 bare; rect 92 41 24 10 heavy;"
        "line 70 38 70 18 arrow; line 34 40 46 40 accent",
    ),
    "counterweight": Lines(
        "Pull at it, look at each bolt",
        "A concrete weight with its bolts; a hand pulls at it.",
        "area 14 58 22 24 82 24 90 58 heavy; circle 32 34 4; circle 72 34 4;"
        "line 4 60 104 60 bare; sign 104 38 hand; line 52 20 52 4 arrow;"
        "line 52 46 48 52 accent; line 48 52 54 58 accent",
    ),
    "meter_windings": Lines(
        "Pin to pin, three times",
        "Three windings that meet in the middle; the meter is held to two of their ends at a time.",
        "line 46 44 46 30 46 10 bare; circle 46 24 6; line 46 44 20 66 bare; circle 32 56 6;"
        "line 46 44 72 66 bare; circle 60 56 6; circle 46 44 2.4 solid; sign 104 40 meter;"
        "curve 94 44 84 56 74 66 accent; curve 92 30 70 8 48 9 accent",
    ),
    "insulation": Lines(
        "Earth and insulation",
        "A tester between the plug's pin and the bare metal of the casing.",
        "rect 8 30 30 24; line 38 36 48 36 bare; line 38 48 48 48 bare; line 8 42 2 42 bare;"
        "sign 70 28 meter; curve 62 34 54 34 49 36 accent; rect 88 44 28 36;"
        "curve 78 38 86 50 92 54 accent; line 96 80 96 84 bare; circle 93 55 2.4 solid",
    ),
    "transit_bolts": Lines(
        "Bolts at the rear wall",
        "The rear wall with its transit bolts; one is drawn out with its sleeve.",
        "rect 8 6 62 72; circle 22 22 4 solid; circle 56 22 4 solid; circle 22 62 4 solid;"
        "rect 66 58 24 8 heavy; rect 90 55 8 14 solid; line 100 48 116 48 arrow;"
        "circle 56 62 5 bare",
    ),
}  # fmt: skip
ALL_LINES: Mapping[str, Lines] = {**HAND_LINES, **CARE_LINES}
