"""An invented family and a workshop whose assessment is plain to foresee: the faces are tested, not the reasoning."""

from dataclasses import replace

from counterpoise.catalog.family import (
    AccessEntry,
    AssemblyEntry,
    Caution,
    CheckEntry,
    Complaint,
    Family,
    FaultEntry,
    Feature,
    Grade,
    PartEntry,
    Reading,
    RepairEntry,
)
from counterpoise.workshop.diagnosis.assessment import (
    Assessment,
    CarefulComparison,
    Contest,
    OptionView,
    Rival,
    Step,
    Suspect,
    Threshold,
)
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Decision, Finding, Intake, Proof, RepairDone
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.workshop import Workshop

_INVENTED = "invented"

CAUTIONS = {
    "unplug": Caution(
        "unplug",
        "Pull the plug and keep it where you can see it.",
        _INVENTED,
        grave=True,
        mark="plug out",
    ),
    "edges": Caution("edges", "The sheet edges cut: wear gloves.", _INVENTED),
    "turning": Caution("turning", "Stay clear of the turning drum.", _INVENTED, grave=True),
}
FAULTS = {
    "damper_worn": FaultEntry(
        "damper_worn", "Dampers worn", "They no longer brake the tub, so it swings too far.", "dampers", 0.4, _INVENTED,
        grades=(Grade("early", "getting weak", 0.6), Grade("gone", "no grip left", 0.4)),
    ),
    "support_cracked": FaultEntry(
        "support_cracked", "Drum support cracked", "The drum hangs and knocks against the tub.", "drum", 0.1, _INVENTED,
        write_off=True,
    ),
    "not_level": FaultEntry("not_level", "Not level", "One foot hangs in the air.", "feet", 0.3, _INVENTED),
}  # fmt: skip
CHECKS = {
    "new_place": CheckEntry(
        "new_place", "Ask whether it was moved", "ask", 1, ("Ask when it was last moved.",), "Was it moved lately?",
        {"no": "No", "yes": "Yes, it was moved"}, {"not_level": {"yes": 0.6}}, {"yes": 0.05}, _INVENTED, intake=True,
    ),
    "drum_by_hand": CheckEntry(
        "drum_by_hand", "Move the drum by hand against the tub", "feel", 1,
        ("Open the door wide.", "Grip the rim at twelve o'clock and pull it up and down."), "What happened?",
        {"with_tub": "It moves with the tub", "on_its_own": "It moves on its own"},
        {"support_cracked": {"on_its_own": 0.8}}, {"on_its_own": 0.01}, _INVENTED, cautions=("unplug",),
    ),
    "play": CheckEntry(
        "play", "Measure the play at the rim", "measure", 3, ("Set the gauge against the rim.", "Lift the rim."),
        "How much?", {"none": "None to speak of", "some": "Some", "much": "Much"},
        {"support_cracked": {"some": 0.4, "much": 0.5}}, {"some": 0.1, "much": 0.01}, _INVENTED,
        reading=Reading("free play at the rim", "mm", (0.5, 1.5), 0, 20, 0.3), tools=("dial gauge",),
        cautions=("unplug",),
    ),
    "look_springs": CheckEntry(
        "look_springs", "Look at the springs", "look", 2, ("Look at both springs and their hooks.",), "Are both sound?",
        {"sound": "Both sound", "off": "One is off or broken"}, {}, {"off": 0.05}, _INVENTED, access="lid",
    ),
}  # fmt: skip
FAMILY = Family(
    id="bench", title="Front loader of the tests", currency="EUR", typical_mass_kg=70, proof_minutes=12,
    proof_misses=0.06, proof_steps=("Spin it empty, then with two towels.",), proof_cautions=("turning",), sources={},
    cautions=CAUTIONS,
    complaints={
        "shakes": Complaint("shakes", "Shakes hard in the spin", 0.03, _INVENTED),
        "walks": Complaint("walks", "Walks across the floor", 0.01, _INVENTED),
        "stops": Complaint("stops", "Stops with an unbalance fault", 0.01, _INVENTED),
    },
    features={
        "drive": Feature(
            "drive", "What turns the drum?", {"direct": "Motor on the shaft", "belt": "Belt and pulley"},
            {"direct": 0.4, "belt": 0.6}, _INVENTED,
        )
    },
    faults=FAULTS,
    access={
        "lid": AccessEntry(
            "lid", "Top cover", 3, 3, _INVENTED, steps=("Two screws at the rear, then slide it back.",),
            tools=("cross-head screwdriver",), cautions=("unplug", "edges"),
        )
    },
    checks=CHECKS,
    repairs={
        "replace_dampers": RepairEntry(
            "replace_dampers", "Replace the set of dampers", 35, ("Take out the old ones.", "Fit the new ones."),
            {"damper_worn:early": 0.97, "damper_worn:gone": 0.97}, _INVENTED, access="lid", cautions=("unplug",),
            done_when="the tub sinks back slowly when pushed down",
        )
    },
    parts={}, assemblies={},
)  # fmt: skip
_PARTS = {
    "damper_set": PartEntry(
        "damper_set", "Set of dampers", 4600, "dampers", _INVENTED, used_minor=1500
    ),
    "pump": PartEntry("pump", "Drain pump", 3800, "drain", _INVENTED, used_minor=1400),
}
_YIELD = {
    "dampers": AssemblyEntry("dampers", "Dampers", 5000, 10, _INVENTED, {"damper_worn:gone": 1.0}),
    "drum": AssemblyEntry("drum", "Drum", 5000, 10, _INVENTED, {"support_cracked": 1.0}),
}
_REPLACED = replace(FAMILY.repairs["replace_dampers"], parts={"damper_set": 1})
STOCKED = replace(FAMILY, parts=_PARTS, assemblies=_YIELD, repairs={"replace_dampers": _REPLACED})
OTHER = replace(FAMILY, id="other", title="Top loader of the tests")
INTAKE = Intake(
    "bench", "customer", "Veltro 6, two doors down", ("shakes", "walks"), 6.0, {"drive": "direct"}
)

_SUSPECTS = (
    Suspect(
        "damper_worn",
        "Dampers worn",
        FAULTS["damper_worn"].means,
        0.52,
        "likely",
        (("getting weak", 0.3),),
    ),
    Suspect(
        "support_cracked",
        "Drum support cracked",
        FAULTS["support_cracked"].means,
        0.27,
        "possible",
        (),
        True,
    ),
    Suspect("not_level", "Not level", FAULTS["not_level"].means, 0.003, "hardly"),
)
_OPTIONS = (
    OptionView(
        "repair_hand_back",
        "Repair and hand back",
        9600,
        2000,
        15000,
        "on the dampers being all",
        best=True,
    ),
    OptionView("part_out", "Part out", 6000, 4000, 7000, "on what motor and board bring"),
    OptionView("scrap", "Scrap", -1000, -1000, -1000, "on nothing"),
    OptionView(
        "repair_resell",
        "Repair and resell",
        0,
        0,
        0,
        "on the machine being the workshop's",
        available=False,
    ),
)
_CAREFUL = CarefulComparison(
    "check", "play", "Measure the play at the rim", 40, 80, 620, "Careful: it holds up."
)
_CONTEST = Contest(
    "check", "look_springs", "Look at the springs",
    (
        Threshold("chance", "damper_worn", 0.31, 0.455, True, '"Dampers worn" were likelier than 46 % (now 31 %)'),
        Threshold("minutes", "drum_by_hand", 2.0, 5.7, True, "this step took more than 6 minutes (now 2 minutes)"),
    ),
)  # fmt: skip
_RIVALS = (
    Rival("check", "look_springs", "Look at the springs", 8, 310),
    Rival("ending", "part_out", "Part out", 0, 4200, "the motor alone brings 35"),
)


def next_step(family, job):
    """Checks in order, then an ending, then the repair, then the proof, then nothing."""
    bodies = [entry.body for entry in job.standing]
    steps = StepBuilder.of(replay(family, Settings(), job))
    if job.closed is not None:
        return None
    if any(isinstance(body, Proof) and body.passed for body in bodies) or not job.decision:
        done = {body.check for body in bodies if isinstance(body, Finding)}
        left = [check for check in family.checks if check not in done]
        if left and not job.decision:
            return steps.named("check", left[0])
        return Step("ending", "repair_hand_back", "Repair and hand back", 0, 1, (), (), (), ())
    if any(isinstance(body, RepairDone) for body in bodies):
        return steps.proof()
    return steps.named("repair", "replace_dampers")


def assess(family, settings, job):
    step = next_step(family, job)
    if step and step.answers:
        step = replace(
            step,
            gain_minor=1420,
            answers=tuple(replace(a, leads_to="part out") for a in step.answers),
        )
    sums = [entry.body.minutes or 0.0 for entry in job.standing if hasattr(entry.body, "minutes")]
    return Assessment(
        job=job.number, value_minor=9600, lower_minor=9100, upper_minor=9900, minutes_so_far=sum(sums),
        minutes_expected=40, next=step, why="It parts the two dearest suspects and costs one minute.",
        stop_reason="Nothing left to check could change this." if step and step.kind == "ending" else "",
        rivals=_RIVALS if step else (), suspects=_SUSPECTS, options=_OPTIONS,
        contest=_CONTEST if step else None,
        warnings=("The play and the drum by hand speak against each other.",) if _odd(job) else (),
    )  # fmt: skip


def _odd(job):
    found = {
        body.check: body.outcome
        for body in (e.body for e in job.standing)
        if isinstance(body, Finding)
    }
    return found.get("drum_by_hand") == "on_its_own" and found.get("play") == "none"


def _foreseeable(case):
    found = assess(case.family, case.settings, case.job)
    return replace(found, careful=_CAREFUL) if case.settings.careful else found


class ForeseeableWorkshop(Workshop):
    """The real workshop and store, with the assessment above."""

    def __init__(self, store, families):
        super().__init__(store, families, _foreseeable)


DECIDED = Decision("repair_hand_back", 12000, "the customer agreed by telephone")
