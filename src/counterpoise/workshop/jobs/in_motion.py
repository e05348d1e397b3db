"""Whether there is a model in motion of a machine, and what is said everywhere where there is none.

The causes that a recording can name were rehearsed on that model too, so a kind without one gets
speeds and levels from a recording and no cause.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.catalog.check_parts import RECORDING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family


def a_kind(title: str) -> str:
    """What a machine is called, in a sentence: ``a spin dryer``."""
    words = title[:1].lower() + title[1:]
    if words.startswith(("a ", "an ", "the ")):
        return words
    return f"{'an' if words[:1] in set('aeiou') else 'a'} {words}"


def has_model(family: Family) -> bool:
    """Whether there is a model in motion of this kind of machine at all."""
    # the model takes a moment to load; who only lists families needs none of it
    from counterpoise.dynamics.machines.families import FAMILIES

    return family.id in FAMILIES


def no_model(family: Family, has: Mapping[str, str] | None = None) -> str:
    """Why there is no model in motion of a machine with these features; empty where there is one.

    What is not known of the machine may be as the model has it.
    """
    if not has_model(family):
        return f"There is no model in motion of {a_kind(family.title)}"
    # a machine known to be otherwise has no model; one not looked at has, by assumption
    needs = family.twin_needs
    for name in family.features_against(has or {}, needs):
        feature, value = family.features[name], (has or {})[name]
        return (
            f"{feature.title} {feature.values[value]}: there is no model in motion of such a"
            f" machine, only of one with {feature.values[needs[name]]!r}"
        )
    return ""


def no_cause(family: Family) -> str:
    """Why a recording of this kind names no cause, in a sentence; empty where it does."""
    # a family that lists the recording among its checks says what its causes are
    if RECORDING in family.checks or has_model(family):
        return ""
    tells = "speed, phases, loudness" if family.body.spins else "loudness"
    return (
        f"{no_model(family)}: a recording of one tells {tells}, knocks, and"
        " before against after, but names no cause."
    )
