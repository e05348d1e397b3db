"""Three machines of the invented workshop, each with another ending.

Mended, not mended, taken apart. Workshop, people, makers, models and prices are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Decision,
    Finding,
    Intake,
    Proof,
    RepairDone,
)


@dataclass(frozen=True, slots=True)
class Said:
    """What the customer said to the quote: ``option`` of the decision, and who said it.

    ``why`` is empty where nothing was added.
    """

    option: str
    who: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine with all that happens to it. ``lesson`` is what it is there to show."""

    id: str
    lesson: str
    by: str
    intake: Intake
    steps: tuple[Body | Said, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found before anything was decided; empty where nothing was."""
        return tuple(step for step in self.steps if isinstance(step, Finding))


# The plain case: four findings agree, the quote is accepted, the spin afterwards is quiet.
MENDED = Machine(
    "mended",
    "A repair worth doing",
    "Wenna",
    Intake(
        family="front_loader",
        owner="customer",
        title="Osmarin S8, bangs on the way up",
        complaints=("shakes", "knocks", "stops_unbalance"),
        age_years=4.0,
        features={"drive": "direct", "tub": "bolted"},
        maker="Osmarin",
        model="S8",
        serial="OS8-220-911",
        contact="Ms Ferrin, Quay Lane",
        story="Worse every month. The neighbours have come up twice.",
    ),
    (
        Finding("ask_since_when", "crept_up", minutes=0.5),
        Finding(
            "push_tub_bounces",
            "swings_on",
            5.0,
            0.5,
            minutes=1.0,
            note="Five swings; a sound one makes one.",
        ),
        Finding("drum_by_hand", "with_tub", 0.2, 0.3, minutes=1.0, note="The drum itself is firm."),
        Finding("measure_damper_push", "slack", 8.0, 5.0, minutes=6.0),
        # No price here: it is that of the quote on the day the machine is played.
        Said("repair_hand_back", "Ms Ferrin"),
        RepairDone("replace_dampers", 33.0, "Both, as a set."),
        Proof(True, 12.0, "Quiet all the way up."),
        Closed("repair_hand_back", ("damper_worn:gone",), note="Six months on the dampers."),
    ),
)

# The customer would pay for a repair that does not pay for him: the figures say so, and the
# workshop shows him.
TOO_DEAR = Machine(
    "too_dear",
    "A repair not worth doing, although the customer would pay",
    "Odo",
    Intake(
        family="front_loader",
        owner="customer",
        title="Brindleford 70, roars in the spin",
        complaints=("rumbles", "scrapes", "shakes"),
        age_years=12.0,
        features={"drive": "belt", "tub": "bolted"},
        maker="Brindleford",
        model="70 Compact",
        serial="B70-118-204",
        contact="Mr Teasdale, the old schoolhouse",
        story="He has had it since the children were small. Whatever it costs, he says.",
    ),
    (
        Finding("turn_drum_by_hand", "grinds", minutes=1.0, note="Like gravel."),
        Finding("drum_by_hand", "on_its_own", 2.5, 0.3, minutes=1.0),
        Finding("look_rear_hub", "wet_tracks", minutes=1.5, note="Rust down from the hub."),
        Said(
            "replace", "Mr Teasdale", "He would have paid. We showed him what the same money buys."
        ),
        Closed(
            "replace",
            ("bearing_worn:gone",),
            note="The fee is paid. He leaves the machine with us.",
        ),
    ),
)

# Two faults at once. Whoever stops at the first symptom mends the dampers, and the machine shakes
# on.
IN_PARTS = Machine(
    "in_parts",
    "A hauled-away machine worth more in parts",
    "Odo",
    Intake(
        family="front_loader",
        owner="workshop",
        title="Taldera T8, fetched from Mill Street",
        complaints=("shakes", "walks", "knocks"),
        age_years=5.0,
        features={"drive": "direct", "tub": "bolted"},
        maker="Taldera",
        model="T8 1400",
        serial="T8-0417733",
        story="Fetched for nothing. Somebody had looked in and said: dampers, an hour.",
    ),
    (
        Finding(
            "ask_when_in_spin", "run_up", minutes=0.4, note="Goes wild on the way up, then bangs."
        ),
        Finding("rock_corners", "firm", minutes=0.7),
        Finding("lift_tub", "one_side_free", minutes=1.0, note="The left one brakes no more."),
        Finding(
            "push_tub_bounces",
            "swings_on",
            5.0,
            0.5,
            minutes=1.0,
            note="Swings on and on. So: dampers?",
        ),
        Finding(
            "drum_by_hand",
            "on_its_own",
            3.5,
            0.3,
            minutes=1.0,
            # The finding on which the plan turns from repair to parts.
            note="That is not the tub moving. The drum itself.",
        ),
        Finding("turn_drum_by_hand", "catches", minutes=1.0),
        Finding(
            "look_drain_trap",
            "crumbs",
            minutes=2.0,
            note="Two coins and a spoonful of grey crumbs.",
        ),
        Finding(
            "measure_rim_runout",
            "much",
            9.0,
            0.5,
            minutes=3.0,
            # A check that no longer changes what is likely, only how sure one is before the point
            # of no return.
            note="To be sure before it comes apart.",
        ),
        Decision(
            "part_out",
            why="The dampers are worn, true. But the drum support is through: new ones would have"
            " shaken for a week.",
        ),
        Closed(
            "part_out",
            ("drum_support:cracked", "damper_worn:gone"),
            11_500,
            "Motor, board, door, pump and springs on the shelf. The rest to the yard.",
        ),
    ),
)

MACHINES = (MENDED, TOO_DEAR, IN_PARTS)
