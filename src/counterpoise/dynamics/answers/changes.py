"""What a fault changes in a spin, in words: only what the table of drawn machines bears out."""

from counterpoise.dynamics.answers.sentences import limit_words
from counterpoise.dynamics.answers.summary import HeaviestItem, SpinStudy, SpinSummary
from counterpoise.dynamics.effects.quantities import QUANTITIES
from counterpoise.dynamics.effects.sides import side
from counterpoise.dynamics.effects.states import COUNTED, load_class, tabulated_state
from counterpoise.dynamics.effects.table import Claim, claims, showing_kg
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.dynamics.machines.machine import Machine

# Why a figure falls where the word for the fault lets one expect a rise.
REASONS = {
    "shake_m_s2": "as less grip hands less of it to the cabinet",
    "travel_mm": "as what is heavier swings less",
}
# What stands behind "in 83 of 100", on a front loader with the number of dampers where it counts.
HUNDRED = "The hundred are machines of its kind{} drawn at random."
# Told together, as a way and a side.
HANGS = ("low_mm", "side_mm")
# Changes below these are not worth a word: mm of the tub at rest.
NOTICED_MM = 1.0


def drawn_words(claim: Claim) -> str:
    """In how many of a hundred machines drawn at random it goes that way."""
    way = "more" if claim.direction > 0 else "less"
    return f"{way} in {100 * claim.share:.0f} of 100"


def claim_words(claim: Claim, sound: float, faulty: float) -> str:
    """One claim with this machine's own figures beside those of the drawn machines."""
    quantity = QUANTITIES[claim.quantity]
    here, good = (f"{value:.{quantity.digits}f}" for value in (faulty, sound))
    unit = f" {quantity.unit}" if quantity.unit else ""
    moved = side(sound, faulty, quantity.hardly)
    # said even where this machine is of the few that do not show it
    if moved != claim.direction:
        exception = "goes the other way" if moved else "hardly differs"
        return (
            f"{quantity.words} {exception} on this machine "
            f"({here}{unit}, in good order {good}; {drawn_words(claim)})"
        )
    # a ratio to hardly anything is large and means nothing
    times = f": {faulty / sound:.1f} times" if sound > quantity.hardly else ""
    reason = REASONS.get(claim.quantity, "") if claim.direction < 0 else ""
    text = f"{quantity.words} {here}{unit} (in good order {good}{times}; {drawn_words(claim)})"
    return f"{text}, {reason}" if reason else text


def hanging_words(sound: SpinSummary, faulty: SpinSummary) -> str:
    """Where the tub hangs with the fault, against the sound machine; empty where it hangs alike."""
    low = faulty.hangs_low_mm - sound.hangs_low_mm
    right = faulty.hangs_right_mm - sound.hangs_right_mm
    ways = []
    if abs(low) >= NOTICED_MM:
        ways.append(f"{abs(low):.0f} mm {'lower' if low > 0 else 'higher'}")
    if abs(right) >= NOTICED_MM:
        ways.append(f"{abs(right):.0f} mm to the {'right' if right > 0 else 'left'}")
    return f"the tub hangs {' and '.join(ways)}" if ways else ""


def changes(state: str, sound: SpinStudy, faulty: SpinStudy) -> str:
    """What a fault changes under this load, in a sentence or two, or that nothing is claimed."""
    machine, kg = sound.machine, sound.summary.unbalance_kg
    borne_out = claims(machine.family, state, load_class(kg), len(machine.dampers))
    if not borne_out:
        return nothing_claimed(machine, state, kg)
    words = [
        claim_words(claim, sound.effects[claim.quantity], faulty.effects[claim.quantity])
        for claim in borne_out
        if claim.quantity not in HANGS
    ]
    named = {claim.quantity: claim for claim in borne_out}
    hangs = next((named[quantity] for quantity in HANGS if quantity in named), None)
    if hangs:
        # a tub that hangs alike is of the few machines that do not show it
        way = hanging_words(sound.summary, faulty.summary) or "the tub hangs as before here"
        words.insert(0, f"{way} (so in {100 * hangs.share:.0f} of 100)")
    text = f"With {kg:g} kg out of balance: {'; '.join(words)}. {hundred(machine, state)}"
    lift = faulty.summary.lift
    if "feet_up" in named and lift and not sound.summary.lift:
        text += f" New: the {lift.foot} foot lifts from {lift.rpm:.0f} rpm."
    return text


def hundred(machine: Machine, state: str) -> str:
    """Which machines the shares are of."""
    many = len(machine.dampers)
    counted = tabulated_state(state) in COUNTED and "dampers" in FAMILIES[machine.family].values
    return HUNDRED.format(f" with {many} dampers" if counted else "")


def nothing_claimed(machine: Machine, state: str, kg: float) -> str:
    """That the table bears nothing out under so many kg, and what to load to see the fault."""
    better = showing_kg(machine.family, state, len(machine.dampers))
    if better is None:
        return "Nothing is claimed of what it changes: drawn machines differ too much in it."
    return (
        f"With {kg:g} kg out of balance it does not show reliably: drawn machines differ too much."
        f" It shows with about {better:g} kg, which is reckoned and not to be tried."
    )


def heaviest_change(
    state: str, machine: Machine, sound: HeaviestItem, faulty: HeaviestItem, fault: str
) -> str:
    """How much less of a single heavy thing the machine bears with a fault, in kg; empty if none.

    Told is a limit that the table bears out, where this machine agrees; ``fault`` in words.
    """
    heavy = claims(machine.family, state, "heavy", len(machine.dampers))
    shown = {claim.quantity for claim in heavy if claim.direction > 0}
    limits = (
        ("strikes", {"strike_n"}, sound.before_striking_kg, faulty.before_striking_kg),
        ("walks", {"walked_mm"}, sound.before_walking_kg, faulty.before_walking_kg),
    )
    told = [
        (limit_words(good, what), limit_words(bad, what))
        for what, quantities, good, bad in limits
        # None: it bears all that is tried
        if quantities & shown and bad is not None and (good is None or good > bad)
    ]
    if not told:
        return ""
    good_words, bad_words = ("; ".join(words) for words in zip(*told, strict=True))
    return f"One single heavy thing. Sound: {good_words}. With {fault}: {bad_words}."
