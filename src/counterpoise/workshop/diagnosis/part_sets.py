"""The rule of parts that live in a set: what condemns it whole, what may go back or be renewed.

Planner, estimate, quote and sheet ask here and nowhere else, so that none of them mends one damper
where another has said "the set".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from counterpoise.catalog.family import CheckEntry, PartSet, RepairEntry
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.replay import Situation

# A finding counts once it speaks for its outcomes at least this much of its weight; a worn piece,
# once it is as likely as not.
_SHOWN = 0.5


@dataclass(frozen=True, slots=True)
class SetWord:
    """What a set's rule says of a repair on one machine.

    ``allowed``: it may be offered; ``note`` says why, or why not; ``instead``: id of the repair
    that renews the set, empty where this one may be done.
    """

    allowed: bool
    note: str
    instead: str = ""


def set_word(situation: Situation, entry: RepairEntry) -> SetWord | None:
    """What the rule of its set says of a repair; None where it touches no set."""
    for part_set in situation.family.sets.values():
        if not fits(part_set.needs, situation.known):
            continue
        if entry.id in part_set.put_back:
            return _put_back(situation, part_set)
        if entry.id in part_set.alone:
            return _alone(situation, part_set)
        if entry.id in part_set.renew and (shown := _condemned(situation, part_set)):
            return SetWord(True, f"It means {part_set.title}: {shown}.")
    return None


def allowed_by_set(situation: Situation, entry: RepairEntry | CheckEntry) -> bool:
    """Whether no set speaks against a repair or a check.

    A check of the others of a set comes after one of them was found bad.
    """
    if isinstance(entry, CheckEntry):
        return all(
            _one_is_bad(situation, part_set, entry.id)
            for part_set in situation.family.sets.values()
            if entry.id in part_set.others_good
        )
    word = set_word(situation, entry)
    return word is None or word.allowed


def set_notes(situation: Situation) -> dict[str, str]:
    """What is said of each repair that touches a set, by its id; nothing of the others."""
    words = {key: set_word(situation, entry) for key, entry in situation.family.repairs.items()}
    return {key: word.note for key, word in words.items() if word is not None}


def part_notes(situation: Situation) -> dict[str, str]:
    """By id of the part, why the whole set is renewed, or why one piece alone may be."""
    notes = set_notes(situation)
    family = situation.family
    return {
        part: notes[repair]
        for part_set in family.sets.values()
        for repair in (*part_set.renew, *part_set.alone)
        if repair in notes
        for part in family.repairs[repair].parts
        # only a part of the set, not what else the repair takes
        if repair in part_set.alone or part in part_set.parts
    }


def _put_back(situation: Situation, part_set: PartSet) -> SetWord:
    shown = _condemned(situation, part_set)
    if shown:
        return _means_the_set(situation, part_set, shown)
    note = f"Only a piece that came apart goes back. {part_set.try_it}"
    return SetWord(True, f"{note} If not, it means {part_set.title}.")


def _alone(situation: Situation, part_set: PartSet) -> SetWord:
    if shown := _findings(situation, part_set.several):
        return _means_the_set(situation, part_set, f"more than one is bad ({shown})")
    # measured, not pushed by hand: a hand does not feel the half of the grip that is gone
    if shown := _findings(situation, part_set.others_good):
        return SetWord(True, f"One alone, since the others were measured and are good: {shown}.")
    age = situation.intake.age_years
    if age is not None and age <= part_set.young_years:
        return SetWord(True, f"One alone, since the others are young: {age:g} years at most.")
    return _means_the_set(situation, part_set, "the others are neither young nor measured good")


def _means_the_set(situation: Situation, part_set: PartSet, why: str) -> SetWord:
    family, features = situation.family, situation.known
    fitting = (r for r in part_set.renew if fits(family.repairs[r].needs, features))
    instead = next(fitting, part_set.renew[0])
    return SetWord(False, f"Not this, but {part_set.title}: {why}.", instead)


def _condemned(situation: Situation, part_set: PartSet) -> str:
    """What condemns the set, in words; empty where nothing does."""
    if shown := _findings(situation, part_set.condemns):
        return shown
    by_key = situation.key_chances
    faults = situation.family.faults
    worn = {key.partition(":")[0]: by_key.get(key, 0.0) for key in part_set.worn}
    for key in part_set.worn:
        # grades of one fault exclude each other: together they are as likely as their sum
        fault = key.partition(":")[0]
        worn[fault] = sum(by_key[one] for one in part_set.worn if one.partition(":")[0] == fault)
    likely = next((fault for fault, chance in worn.items() if chance >= _SHOWN), "")
    return f"{faults[likely].title.lower()} is likely" if likely else ""


def _one_is_bad(situation: Situation, part_set: PartSet, others: str) -> bool:
    """Whether a finding, not of the others themselves, shows a piece that is not as it should be.

    The mildest answer of a check is the good one; a piece that only came apart counts too.
    """
    worse = {
        check: tuple(situation.family.checks[check].outcomes)[1:]
        for check in (*part_set.condemns, *part_set.several)
        if check != others
    }
    return bool(_findings(situation, worse))


def _findings(situation: Situation, shown: Mapping[str, tuple[str, ...]]) -> str:
    """The first standing finding that shows one of these outcomes, as it was answered."""
    return next(_standing(situation, shown), "")


def _standing(situation: Situation, shown: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
    for check, outcomes in shown.items():
        weights = situation.evidence.outcome_weights(check)
        if weights is None:
            continue
        entry = situation.family.checks[check]
        share = dict(zip(entry.outcomes, (weights / weights.sum()).tolist(), strict=True))
        if sum(share[outcome] for outcome in outcomes) >= _SHOWN:
            likeliest = max(outcomes, key=share.__getitem__)
            yield f'"{entry.title}" showed "{entry.outcomes[likeliest]}"'
