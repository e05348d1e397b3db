"""Texts of the rooms below in the words of a kind of machine: pages, sheets and commands alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.bench.cautions import HEAVY, heavy
from counterpoise.workshop.jobs.in_motion import a_kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    from counterpoise.catalog.family import Family


def spoken(text: str, family: Family) -> str:
    """A text that speaks of drum and door, in the words of this kind of machine."""
    return family.body.spoken(text)


def spoken_cautions(texts: Iterable[str], family: Family) -> tuple[str, ...]:
    """Cautions in its words, and with what a machine of this kind weighs; each once."""
    weight = {HEAVY.text: heavy(family.typical_mass_kg).text}
    return tuple(dict.fromkeys(spoken(weight.get(text, text), family) for text in texts))


def run_words(family: Family) -> str:
    """What a recorded run of the machine is called: a spin, or a run where it does not spin."""
    return "spin" if family.body.spins else "run"


def fastest(family: Family) -> str:
    """What to start for a recording: the highest spin speed, or the usual programme."""
    return "the highest spin speed" if family.body.spins else "a programme as usual"


__all__ = ["a_kind", "fastest", "run_words", "spoken", "spoken_cautions"]
