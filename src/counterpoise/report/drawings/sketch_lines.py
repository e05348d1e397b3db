"""The small drawings, as lines of shapes: ``kind numbers look``, parted by ``;``.

Each is 120 by 84 units. Kinds and looks are those of a family's drawing; besides these
``text x y words``, ``sign x y name`` (a hand or tool), and the looks ``accent`` and ``arrow`` (a
line that ends in a head). They lie in ``hand.toml`` and ``care.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Lines:
    """A small drawing: the words below it, what it shows for who cannot see it, its shapes."""

    title: str
    words: str
    shapes: str


def _read(name: str) -> dict[str, Lines]:
    # our own file beside this one: what is wrong in it is a mistake of the program
    text = files("counterpoise.report.drawings").joinpath(name).read_text("utf-8")
    return {key: Lines(**entry) for key, entry in tomllib.loads(text).items()}


# how something is done by hand, and what can hurt
HAND_LINES: Mapping[str, Lines] = _read("hand.toml")
CARE_LINES: Mapping[str, Lines] = _read("care.toml")
ALL_LINES: Mapping[str, Lines] = {**HAND_LINES, **CARE_LINES}
