"""What a kind of machine is as a thing on the floor, and the words for it.

Rooms that know one machine well speak of a drum behind a door; :meth:`Body.spoken` puts that into
the words of another kind, so that nobody reads of a drum who stands before a basket.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

# the words in which the rooms below speak: those of the machine they were written for
_TURNS, _OPENS = "drum", "door"
# no machine of a household turns faster (from memory)
FASTEST_RPM = 3000
# the measurements by hand, and of each the numbers that can be the reading of a check; the first is
# taken where a check names none. A test holds them against the forms and the bench.
MEASUREMENTS: Mapping[str, tuple[str, ...]] = {
    "level": ("lean_rise", "gap"),
    "level_again": ("lean_rise", "gap"),
    "runout": ("indicated",),
    "strike": (),
    "play": ("radial", "axial", "rocking"),
    "dampers": ("weakest",),
    "bounce": ("swings",),
    "springs": ("unlike",),
    "counterweight": (),
    "bearing": (),
    "bearing_tones": (),
    "windings": ("odd_one",),
    "safety": ("insulation",),
    "lift": (),
    "tip": (),
}


@dataclass(frozen=True, slots=True)
class Stand:
    """What a machine stands on: how many, whether they screw in and out, the word for them."""

    number: int = 4
    adjustable: bool = True
    # as it stands in a sentence: feet, rubber feet, castors
    word: str = "feet"


@dataclass(frozen=True, slots=True)
class Body:
    """What turns, what opens, what it stands on, and how fast the fastest of the kind turn, in rpm.

    ``top_rpm`` is None where it does not spin; ``tips``: it may be leaned or laid down. ``source``
    is empty where the file says nothing and all of it is assumed.
    """

    turns: str = _TURNS
    opens: str = _OPENS
    feet: Stand = Stand()
    top_rpm: float | None = 1900.0
    tips: bool = True
    source: str = ""

    @property
    def spins(self) -> bool:
        """Whether it spins at all; a tumble dryer only turns."""
        return self.top_rpm is not None

    @property
    def words(self) -> str:
        """All of it in a line, for who checks a file."""
        feet = self.feet
        screw = "that screw in and out" if feet.adjustable else "that do not screw"
        speed = f"up to {self.top_rpm:g} rpm" if self.top_rpm else "no spin"
        tips = "may be laid down" if self.tips else "must not be laid down"
        return (
            f"a {self.turns} behind a {self.opens}, {feet.number} {feet.word} {screw}, {speed},"
            f" {tips}"
        )

    def spoken(self, text: str) -> str:
        """A text of the rooms below in the words of this kind of machine."""
        words = _other_words(self.turns, self.opens)
        if not words:
            return text
        return _pattern(tuple(words)).sub(lambda match: words[match.group()], text)


@cache
def _other_words(turns: str, opens: str) -> Mapping[str, str]:
    """Words to be put in another's place, as they are and with a capital; empty for none."""
    pairs = {_TURNS: turns, _OPENS: opens}
    changed = {old: new for old, new in pairs.items() if old != new}
    return changed | {_capital(old): _capital(new) for old, new in changed.items()}


@cache
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    # whole words: an eardrum is no drum
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})(?=\b|s\b)")


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
