"""Finding an entry of a family by its id, and handing it out as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from counterpoise.catalog.messages import instead, sentence
from counterpoise.errors import NotFoundError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

# in the order in which an id used twice is looked for
SECTIONS = (
    "faults",
    "complaints",
    "features",
    "access",
    "checks",
    "repairs",
    "parts",
    "assemblies",
    "cautions",
    "sources",
    "figures",
)


def entries_of(family: Family, section: str) -> Mapping[str, Any]:
    """The records of a section by id."""
    records: Mapping[str, Any] = getattr(family, section)
    return records


def find_entry(family: Family, entry: str) -> tuple[str, Any]:
    """(section, record) of an id, a fault key or ``section.id``. Raises NotFoundError."""
    section, _, name = entry.rpartition(".")
    wanted = [section] if section else list(SECTIONS)
    # a fault key names a grade; the record is that of the fault
    name = name.split(":")[0]
    for one in wanted:
        if one in SECTIONS and name in entries_of(family, one):
            return one, entries_of(family, one)[name]
    known = [key for one in SECTIONS for key in entries_of(family, one)]
    raise NotFoundError(
        f"There is no entry {entry} in {family.id}. {sentence(instead(name, known))}"
    )


def plain(value: Any) -> Any:
    """A record as dictionaries, lists and plain values, ready for JSON."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    return [plain(one) for one in value] if isinstance(value, tuple | list) else value
