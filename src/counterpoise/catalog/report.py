"""What became of reading a family file: the family, or all that is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family


@dataclass(frozen=True, slots=True)
class Report:
    """The family, None if it could not be built; mistakes and warnings as ``file:line: ...``."""

    # None where there is any mistake: half a family would give wrong advice
    family: Family | None
    problems: tuple[str, ...]
    warnings: tuple[str, ...]
