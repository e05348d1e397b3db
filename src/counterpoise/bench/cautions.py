"""What must be said before a hand goes near: shown before the step, never after it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning in plain words and where it is from."""

    text: str
    source: str


# Before any hand goes in: a machine that is off can still be switched on by somebody else.
UNPLUGGED = Caution(
    "Pull the mains plug and keep it in your own hands. A door lock is no substitute.",
    "29 CFR 1910.147 and 1910.333",
)
DRUM_STILL = Caution(
    "Drum still, door wide open, nothing loose near it, sleeves and rings off.", "common practice"
)
SHARP = Caution("Sheet edges cut: gloves on before you reach behind a panel.", "common practice")
# Before a meter touches the motor or its board.
DISCHARGE = Caution(
    "Wait five minutes after unplugging, then check with a meter that the capacitors are empty.",
    "29 CFR 1910.333 (discharge stored energy); the five minutes are common practice",
)
ROTOR = Caution(
    "A rotor with magnets makes a voltage when it turns: keep the drum still. Magnets are brittle "
    "and snap at fingers; "
    "with a pacemaker stay 30 cm away.",
    "Technology and Health Care 16, 2008 (distance); common practice",
)
# Before anything that carries the tub is loosened.
BLOCK_TUB = Caution(
    "Block the tub from below before a spring, rod or damper comes off: it drops and the spring "
    "flies.",
    "29 CFR 1910.147 (block stored mechanical energy)",
)
DUST = Caution(
    "Do not sweep or blow the dust of a broken weight: wipe it up wet and wear a P2 or N95 mask. "
    "It holds quartz.",
    "29 CFR 1910.1053: limit 50, action level 25 micrograms per cubic metre over 8 h",
)
# Before it is moved, tipped or levelled.
HEAVY = Caution(
    "A machine weighs 65 to 75 kg and most of it sits low and to the front. Never get below it or "
    "between it and a wall.",
    "UNU key 0104 (average 72.5 kg); common practice",
)


def heavy(mass_kg: float) -> Caution:
    """The same of a machine of so many kg; what washers weigh is said of such alone."""
    if 65 <= mass_kg <= 75:
        return HEAVY
    return Caution(
        f"It weighs about {mass_kg:g} kg. Never get below it or between it and a wall.",
        "common practice",
    )


TIPPED = Caution(
    "Before reaching under a raised machine, prop it with wood that cannot slide. A hand or a knee "
    "is no prop.",
    "29 CFR 1910.147 (block stored mechanical energy)",
)
DRAIN = Caution(
    "Drain the machine first: spilled water and mains do not mix, and it is lighter.",
    "common practice",
)
# For the electrical tests: in this order, and what the figures are not.
NO_POWER = Caution(
    "Protective earth comes first. If it fails, do not plug the machine in for any further test.",
    "common practice",
)
LICENSED = Caution(
    "Local code and licensed practice decide: these limits are a published yardstick, not a "
    "certificate.",
    "overviews of DIN VDE 0701-0702 / EN 50678",
)
