"""What became of reading a family file: the family, or all that is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from counterpoise.catalog.family import Family


@dataclass(frozen=True, slots=True)
class Report:
    """The family, None if it could not be built; mistakes and warnings as ``file:line: ...``."""

    # None where there is any mistake: half a family would give wrong advice
    family: Family | None
    problems: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a family is from: its file, whose it is, and the file that changes figures of it.

    ``own``: the workshop's own; ``instead``: it stands in the place of a shipped one of its id.
    """

    file: Path
    own: bool = False
    instead: bool = False
    changes: Path | None = None

    @property
    def text(self) -> str:
        """Whose it is, in words."""
        if self.instead:
            return "the workshop's own, in place of the shipped one"
        if self.own:
            return "the workshop's own"
        return "shipped, with figures changed by this workshop" if self.changes else "shipped"
