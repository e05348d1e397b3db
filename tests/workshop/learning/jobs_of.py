"""A small family and closed jobs of it, for the tests of learning."""

from counterpoise.catalog.family import (
    CheckEntry,
    Complaint,
    Family,
    FaultEntry,
    MoneyEntry,
    PartEntry,
    RepairEntry,
)
from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Entry,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
)
from counterpoise.workshop.jobs.settings import Settings

MEMORY = "from memory"
DAMPERS, DRUM, FEET = "damper_worn", "bearing_worn", "foot_short"
SETTINGS = Settings(unknown_age_years=6.0)


def fault(name: str, title: str, prior: float, **more: object) -> FaultEntry:
    heard = {name: {"shakes": 0.8}}
    return FaultEntry(name, title, title, name, prior, MEMORY, complaints=heard, **more)  # type: ignore[arg-type]


def check(name: str, minutes: float, under: dict[str, dict[str, float]]) -> CheckEntry:
    return CheckEntry(
        name, name.capitalize(), "feel", minutes, ("Do it.",), "What happened?",
        {"good": "Good", "bad": "Bad"}, under, {"bad": 0.05}, MEMORY,
    )  # fmt: skip


def repair(name: str, minutes: float, cures: dict[str, float], part: str) -> RepairEntry:
    return RepairEntry(name, name.capitalize(), minutes, ("Do it.",), cures, MEMORY, {part: 1})


FAMILY = Family(
    id="learned", title="A family to learn", currency="EUR", typical_mass_kg=20, proof_minutes=10, proof_misses=0.06,
    proof_steps=("Run a spin.",), proof_cautions=(), sources={}, cautions={},
    complaints={"shakes": Complaint("shakes", "Shakes", 0.05, MEMORY)},
    features={},
    faults={
        DAMPERS: fault(DAMPERS, "Dampers worn", 0.25),
        DRUM: fault(DRUM, "Bearing worn", 0.45, age=((0.0, 0.5), (10.0, 1.5))),
        FEET: fault(FEET, "One foot short", 0.3),
    },
    access={},
    checks={
        "push": check("push", 12.0, {DAMPERS: {"bad": 0.9}}),
        "turn": check("turn", 12.0, {DRUM: {"bad": 0.9}}),
        "rock": check("rock", 12.0, {FEET: {"bad": 0.8}}),
    },
    repairs={
        "set_of_dampers": repair("set_of_dampers", 30.0, {DAMPERS: 0.95}, "dampers"),
        "new_bearing": repair("new_bearing", 60.0, {DRUM: 0.9}, "bearing"),
        "set_foot": repair("set_foot", 4.0, {FEET: 0.95}, "foot"),
    },
    parts={
        "dampers": PartEntry("dampers", "Dampers", 3000, "dampers", MEMORY),
        "bearing": PartEntry("bearing", "Bearing", 4000, "drum", MEMORY),
        "foot": PartEntry("foot", "Foot", 300, "frame", MEMORY),
    },
    assemblies={},
    money=MoneyEntry(MEMORY, resale_new_minor=30000, resale_fall_percent=10.0, days_to_sell=10.0),
    digest="as written",
)  # fmt: skip
MENDS = {DAMPERS: "set_of_dampers", DRUM: "new_bearing", FEET: "set_foot"}
LOOKS = {DAMPERS: "push", DRUM: "turn", FEET: "rock"}


def at(day: int, hour: int = 8) -> str:
    """A time on the ``day``-th day of a year, UTC."""
    return f"20{20 + day // 336}-{1 + day % 336 // 28:02d}-{1 + day % 28:02d}T{hour:02d}:00:00Z"


def intake(age: float | None = 6.0) -> Intake:
    return Intake("learned", "workshop", "a machine", ("shakes",), age)


def job_of(number: int, *bodies: Body, age: float | None = 6.0) -> Job:
    entries = [
        Entry(i, at(number, 7 + i), "", body) for i, body in enumerate((intake(age), *bodies), 1)
    ]
    return Job(number, tuple(entries))


def mended(number: int, cause: str, *, minutes: float | None = None, looked: bool = True) -> Job:
    """A job whose cause was looked at, mended, proved, and named at the closing."""
    look = (Finding(LOOKS[cause], "bad", minutes=minutes),) if looked else ()
    return job_of(
        number, *look, RepairDone(MENDS[cause]), Proof(passed=True),
        Closed("repair_resell", (cause,), 12_000),
    )  # fmt: skip


def workshop_of(dampers: int, bearings: int, feet: int) -> list[Job]:
    """Closed jobs, their causes mixed up over time."""
    causes = [DAMPERS] * dampers + [DRUM] * bearings + [FEET] * feet
    # a stride that is prime to most counts: no cause comes in a block
    order = sorted(range(len(causes)), key=lambda i: (i * 37) % (len(causes) + 1))
    return [mended(n, causes[i]) for n, i in enumerate(order, 1)]
