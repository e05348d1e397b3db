"""The small drawings of what can hurt, in the form of ``sketch_lines``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lines:
    """A small drawing: the words below it, what it shows for who cannot see it, its shapes."""

    title: str
    words: str
    shapes: str


CARE_LINES: Mapping[str, Lines] = {
    "plug_out": Lines(
        "Plug out, in sight",
        "The plug is pulled out of its socket and lies where it can be seen.",
        "rect 6 18 34 44; circle 18 40 2.6 solid; circle 28 40 2.6 solid; rect 66 30 26 20;"
        "line 56 36 66 36 bare; line 56 44 66 44 bare; curve 92 40 104 42 106 60 116 64 bare;"
        "line 54 66 84 66 arrow",
    ),
    "stored_charge": Lines(
        "Wait, let it out, measure",
        "A capacitor, let out through a resistor after five minutes, then measured.",
        "rect 8 28 24 44 heavy; line 14 28 14 14 bare; line 26 28 26 20 bare;"
        "line 14 14 36 14 40 8 46 20 52 8 58 20 62 14 72 14 72 22 26 22 accent;"
        "circle 96 40 18; line 96 40 96 28 accent; line 96 40 105 45 bare; text 96 76 5 min",
    ),
    "live_leads": Lines(
        "Leads on, hands out, then plug in",
        "Meter leads clipped on first; hands out before the plug goes in. For trained people only.",
        "rect 8 48 30 24 heavy; line 16 48 12 30 bare; line 30 48 40 30 bare;"
        "sign 26 18 meter; sign 96 26 hand; line 82 12 110 42 accent;"
        "line 110 12 82 42 accent; line 60 26 54 40 64 38 58 54 accent; rect 84 56 20 16;"
        "line 76 61 84 61 bare; line 76 67 84 67 bare",
    ),
    "spinning": Lines(
        "Hands off until it stands",
        "It turns; the hand stays away until it stands still.",
        "circle 42 44 30; circle 42 44 20 thin; curve 20 30 42 14 64 30 arrow;"
        "curve 64 58 42 74 20 58 arrow; sign 100 44 hand; line 86 28 114 62 accent;"
        "line 114 28 86 62 accent",
    ),
    "lift_two": Lines(
        "Two people, straight backs",
        "Two people lift a machine, knees bent and backs straight.",
        "rect 40 30 40 40; circle 60 50 11; circle 18 12 7;"
        "line 18 19 14 44 28 58 18 80 bare; line 17 27 40 48 bare; circle 102 12 7;"
        "line 102 19 106 44 92 58 102 80 bare; line 103 27 80 48 bare; line 60 26 60 8 arrow",
    ),
    "tip_block": Lines(
        "Blocked, against something solid",
        "The machine leaned back against a wall, its feet blocked so that they cannot slide.",
        "line 112 80 112 6 ground; line 4 80 112 80 ground; area 48 72 84 78 108 18 70 6;"
        "circle 78 42 14; area 36 80 46 80 46 68 solid; rect 86 72 16 8 heavy",
    ),
    "tub_block": Lines(
        "Wood below the tub first",
        "A block of wood stands below the tub before anything that carries it comes off.",
        "spring 30 2 30 20; rect 14 20 80 40 shade; circle 54 40 15; rect 34 60 40 14 heavy;"
        "line 38 65 68 65 thin; line 42 70 70 70 thin; line 4 75 116 75 ground;"
        "line 104 30 104 56 arrow",
    ),
    "gloves": Lines(
        "Gloves on",
        "A sheet edge that cuts, and a gloved hand.",
        "area 6 70 6 40 16 32 22 40 30 30 38 40 46 32 54 40 54 70; sign 88 40 hand;"
        "rect 80 52 18 10 heavy; line 56 28 66 20 accent; line 58 36 70 34 accent",
    ),
    "hot": Lines(
        "Hot: wait, feel with the back of the hand",
        "Heat rises from a surface.",
        "rect 14 58 92 14 heavy; curve 34 50 28 38 40 28 34 14 accent;"
        "curve 60 50 54 38 66 28 60 14 accent; curve 86 50 80 38 92 28 86 14 accent",
    ),
    "drain_tray": Lines(
        "Tray and towels first",
        "A flat tray below the trap before it is opened; water comes out.",
        "rect 6 6 48 44; rect 54 34 16 12 heavy; curve 70 42 82 46 84 60 accent;"
        "curve 70 40 88 42 92 60 accent; area 46 62 116 62 110 76 52 76;"
        "curve 54 68 66 65 78 69 90 65 106 68 thin",
    ),
    "pliers_not_fingers": Lines(
        "Pliers, not fingers",
        "Needles and glass are taken out with pliers.",
        "line 16 66 40 50 accent; line 26 70 34 44 accent; area 44 68 54 54 58 70;"
        "sign 66 34 pliers; sign 100 56 hand; line 88 42 112 70 accent;"
        "line 112 42 88 70 accent",
    ),
    "mask": Lines(
        "Mask on, wipe wet or vacuum",
        "A face with a mask against dust.",
        "circle 60 38 28; circle 50 32 2.4 solid; circle 70 32 2.4 solid;"
        "area 44 42 76 42 72 58 60 64 48 58 heavy; line 44 44 33 36 bare;"
        "line 76 44 87 36 bare; circle 12 60 1.6 solid; circle 20 70 1.6 solid;"
        "circle 106 62 1.6 solid; circle 98 72 1.6 solid",
    ),
    "magnets": Lines(
        "Magnets: 30 cm from an implant",
        "A magnet, and a heart with an implant that stays thirty centimetres away.",
        "curve 14 24 40 22 48 42 40 62 14 60 bare; curve 14 36 30 36 34 42 30 48 14 48 bare;"
        "line 14 24 14 36 accent; line 14 48 14 60 accent;"
        "curve 100 62 84 44 90 30 100 38 110 30 116 44 100 62 bare; line 54 72 86 72 arrow;"
        "line 86 72 54 72 arrow; text 68 22 30 cm",
    ),
    "eye_shield": Lines(
        "Eyes shielded, face aside",
        "Safety glasses, worn before anything under pull or pressure is touched.",
        "area 14 32 54 32 52 56 22 56; area 66 32 106 32 98 56 68 56; line 54 36 66 36 bare;"
        "line 14 34 4 30 bare; line 106 34 116 30 bare; line 26 50 36 38 thin;"
        "line 78 50 88 38 thin",
    ),
    "stay_clear_wet": Lines(
        "Dry hands, dry floor",
        "Water and the mains kept apart: a socket with a residual-current switch.",
        "rect 74 14 36 50; circle 86 46 2.6 solid; circle 98 46 2.6 solid;"
        "rect 86 22 12 8 heavy; curve 24 18 12 40 24 50 36 40 24 18 bare;"
        "curve 44 40 36 56 44 62 52 56 44 40 bare; line 4 74 60 74 accent;"
        "line 62 8 62 78 hidden",
    ),
    "bare_wire": Lines(
        "Not plugged in, not even to try",
        "A mains lead whose cover is cut so that copper shows; it is not plugged in.",
        "line 6 42 46 42 bare; line 6 50 46 50 bare; line 46 44 70 44 accent;"
        "line 46 48 70 48 accent; line 70 42 84 42 bare; line 70 50 84 50 bare;"
        "rect 84 36 20 20; line 104 41 114 41 bare; line 104 51 114 51 bare;"
        "line 52 30 48 22 accent; line 60 30 62 20 accent",
    ),
    "guard_bridged": Lines(
        "Never bridge a guard",
        "A guard switch with a wire across it, crossed out.",
        "rect 38 40 44 24; circle 48 52 3 solid; circle 72 52 3 solid; line 48 52 66 44 bare;"
        "curve 44 42 46 16 74 16 76 42 bare; line 30 12 92 74 accent; line 92 12 30 74 accent",
    ),
    "cracked": Lines(
        "Cracked: it does not run",
        "A basket with a crack; it is not switched on.",
        "rect 22 10 60 64 shade; line 52 10 46 24 56 34 48 46 58 58 52 74 accent;"
        "curve 90 30 104 40 96 58 bare; line 84 26 114 60 accent; line 114 26 84 60 accent",
    ),
    "refrigerant": Lines(
        "Sealed: leave it to licensed people",
        "A closed circuit of pipes with a drop; nothing on it is opened.",
        "curve 20 60 12 30 40 16 62 24 84 14 106 34 98 60 bare;"
        "curve 26 58 20 34 42 22 62 30 82 20 100 36 92 58 bare; rect 16 58 18 18 heavy;"
        "rect 86 58 18 18 heavy; line 44 40 78 72 accent; line 78 40 44 72 accent",
    ),
    "lint": Lines(
        "Lint burns: plug out, no trial run",
        "A flame over a bed of lint.",
        "curve 20 72 30 62 44 68 58 60 72 68 88 62 102 72 bare;"
        "curve 28 76 46 72 64 76 82 72 96 76 thin;"
        "curve 60 58 46 54 42 42 50 32 52 18 62 24 66 34 72 32 76 42 72 54 60 58 accent;"
        "curve 60 56 55 50 60 40 65 50 60 56 accent",
    ),
    "stacked": Lines(
        "High up: two people, a firm step",
        "A machine on a machine; two people and a firm step before it is moved.",
        "rect 42 44 38 36; circle 61 62 11; rect 42 6 38 36; circle 61 24 11; circle 18 18 6;"
        "line 18 24 18 48 12 68 bare; line 18 30 40 24 bare; rect 4 68 26 10 heavy;"
        "circle 106 18 6; line 106 24 106 48 112 68 bare; line 106 30 82 24 bare;"
        "rect 94 68 24 10 heavy",
    ),
    "upright": Lines(
        "Keep it upright",
        "Two arrows point up beside a machine that stands upright.",
        "rect 42 12 36 60; circle 60 44 12; line 22 72 22 14 arrow; line 98 72 98 14 arrow;"
        "line 4 78 116 78 ground",
    ),
    "walks_off": Lines(
        "On the floor, nobody holds it",
        "The machine hops on the floor; the plug is pulled, nobody holds it down.",
        "line 4 76 116 76 ground; area 26 12 66 8 72 62 32 66; circle 50 38 10;"
        "line 20 30 12 28 accent; line 22 46 12 48 accent; line 80 28 90 24 accent;"
        "line 82 44 92 44 accent; rect 92 58 16 11; line 86 61 92 61 bare;"
        "line 86 66 92 66 bare",
    ),
    "lid_prop": Lines(
        "Prop the lid, fingers off",
        "A heavy lid, propped open so that it cannot fall.",
        "rect 16 46 84 32; line 16 46 78 10 bare; line 20 48 82 12 bare;"
        "line 64 46 62 20 accent; sign 106 26 hand; line 96 14 116 40 accent",
    ),
}  # fmt: skip
