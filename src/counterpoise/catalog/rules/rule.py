"""A rule of content, and where in a family's file it is broken."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from counterpoise.catalog.family import (
        AccessEntry,
        CheckEntry,
        Family,
        RepairEntry,
    )

    Place = AccessEntry | CheckEntry | RepairEntry

# mistake: the family cannot be used; warning: it can; shipped: a mistake in a shipped family alone
Level = Literal["mistake", "warning", "shipped"]
# where in the file, as keys from the outside in, and what is wrong there
Broken = tuple[tuple[str, ...], str]


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: what it demands in a sentence, what to do where it is broken, and who keeps it."""

    id: str
    level: Level
    demands: str
    remedy: str
    broken: Callable[[Family], Iterator[Broken]]


def places(family: Family) -> Iterator[tuple[str, Place]]:
    """(section, entry) of all that a hand does: panels, checks, repairs."""
    tables: tuple[tuple[str, Mapping[str, Place]], ...] = (
        ("access", family.access),
        ("checks", family.checks),
        ("repairs", family.repairs),
    )
    return chain.from_iterable(
        ((section, entry) for entry in table.values()) for section, table in tables
    )


def way_in(family: Family, access: str | None) -> Iterator[AccessEntry]:
    """The panels on the way, innermost first."""
    while access is not None:
        yield family.access[access]
        access = family.access[access].behind


def cautions_on_the_way(family: Family, entry: Place) -> frozenset[str]:
    """Ids of the cautions of an entry and of all panels before it."""
    access = getattr(entry, "access", getattr(entry, "behind", None))
    way = (caution for panel in way_in(family, access) for caution in panel.cautions)
    return frozenset(chain(entry.cautions, way))


def fault_keys(family: Family) -> list[tuple[str, str]]:
    """(fault, key) of all faults but those that stand alone: nothing mends a sound machine."""
    return [(f.id, key) for f in family.faults.values() if not f.alone for key in f.keys]
