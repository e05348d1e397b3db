"""Rules by which nobody gets hurt: the caution stands before the step, whatever the machine."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from counterpoise.catalog.rules.rule import Broken, Rule, cautions_on_the_way, places

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.catalog.rules.rule import Place

# What one person lifts or tilts alone (kilograms; common practice).
ONE_PERSON_KG = 25.0
BY_HAND = frozenset({"look", "feel", "measure"})


def _text(entry: Place) -> str:
    return " ".join([entry.title, *entry.steps, *entry.tools]).lower()


def _guards(family: Family) -> dict[str, set[str]]:
    """By dangerous word, the cautions of which one must be on the way."""
    guards: dict[str, set[str]] = {}
    for caution in family.cautions.values():
        for word in caution.words:
            guards.setdefault(word.lower(), set()).add(caution.id)
    return guards


def _words_without_caution(family: Family) -> Iterator[Broken]:
    for section, entry in places(family):
        text = _text(entry)
        for word, cautions in _guards(family).items():
            if word in text and not cautions & cautions_on_the_way(family, entry):
                one = " or ".join(sorted(cautions))
                yield (section, entry.id), f"'{word}' stands there without the caution {one}"


def _words_in_vain(family: Family) -> Iterator[Broken]:
    texts = [_text(entry) for _, entry in places(family)]
    for caution in family.cautions.values():
        for word in caution.words:
            if not any(word.lower() in text for text in texts):
                yield ("cautions", caution.id, "words"), f"'{word}' stands in no step"


def _runs_without_grave(family: Family) -> Iterator[Broken]:
    work = (("checks", family.checks.values()), ("repairs", family.repairs.values()))
    for section, entries in work:
        for entry in entries:
            grave = [c for c in entry.cautions if family.cautions[c].grave]
            if entry.runs and not grave:
                yield (section, entry.id), "it runs the machine without a grave caution"
    if not any(family.cautions[name].grave for name in family.proof_cautions):
        yield ("proof",), "it runs the machine without a grave caution"


def _behind_a_panel(family: Family) -> Iterator[Broken]:
    for section, entry in places(family):
        if section == "access" or getattr(entry, "access", None) is None:
            continue
        on_the_way = cautions_on_the_way(family, entry)
        if not any(family.cautions[name].grave for name in on_the_way):
            yield (section, entry.id), "behind a panel, without a grave caution on the way"


def _tipped_alone(family: Family) -> Iterator[Broken]:
    if family.typical_mass_kg <= ONE_PERSON_KG:
        return
    for panel in family.access.values():
        if panel.tips and panel.people < 2:
            text = f"one person tips {family.typical_mass_kg:g} kg"
            yield ("access", panel.id), text


def _grave_last(family: Family) -> Iterator[Broken]:
    for section, entry in places(family):
        grave = [family.cautions[name].grave for name in entry.cautions]
        if grave != sorted(grave, reverse=True):
            yield (section, entry.id, "cautions"), "a grave caution stands after a lesser one"


def _never_cleared(family: Family) -> Iterator[Broken]:
    for fault in family.faults.values():
        if not fault.must_not_run:
            continue
        looks = (c for c in family.checks.values() if c.kind in BY_HAND and not c.runs)
        if not any(key in check.under for check in looks for key in fault.keys):
            text = "it forbids to run the machine, and no look, hand or meter can rule it out"
            yield ("faults", fault.id), text


RULES = (
    Rule(
        "words_of_danger",
        "mistake",
        "A word that a caution names (`words`) stands in no title, step or tool without it.",
        "add the caution to the entry or to a panel before it",
        _words_without_caution,
    ),
    Rule(
        "words_in_use",
        "warning",
        "A word that a caution names stands in some title, step or tool.",
        "write it as it stands in the steps, or leave it out",
        _words_in_vain,
    ),
    Rule(
        "running_is_grave",
        "shipped",
        "What runs the machine, the proof too, has a grave caution of its own.",
        "add the caution of what turns, or of water and mains",
        _runs_without_grave,
    ),
    Rule(
        "behind_panels",
        "shipped",
        "What lies behind a panel has a grave caution on its way.",
        "add the caution that the plug is out, or that the work is live",
        _behind_a_panel,
    ),
    Rule(
        "two_to_tip",
        "mistake",
        f"A machine of more than {ONE_PERSON_KG:g} kg is tipped by two people.",
        "write 'people: 2'",
        _tipped_alone,
    ),
    Rule(
        "grave_first",
        "warning",
        "Grave cautions stand before the others.",
        "put it first",
        _grave_last,
    ),
    Rule(
        "cleared_by_hand",
        "mistake",
        "A fault with `must_not_run` can be ruled out by a look, a hand or a meter.",
        "add a check that shows it and runs nothing",
        _never_cleared,
    ),
)
