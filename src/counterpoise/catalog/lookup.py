"""Finding an entry of a family by its id, and handing it out as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from counterpoise.catalog.schema.messages import instead, sentence
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
    "sets",
)


def entries_of(family: Family, section: str) -> Mapping[str, Any]:
    """The records of a section by id, in file order; empty where the file has none.

    Raises AttributeError for a name outside :data:`SECTIONS`.
    """
    # records of different classes; what they share is only that each has an id
    records: Mapping[str, Any] = getattr(family, section)
    return records


def find_entry(family: Family, entry: str) -> tuple[str, Any]:
    """(section, record) of an id, a fault key or ``section.id``.

    An id used in several sections is that of the first in :data:`SECTIONS`. Raises NotFoundError,
    with the nearest known id as its remedy.
    """
    # ids hold no point, so the last one parts section and id
    section, _, name = entry.rpartition(".")
    wanted = [section] if section else list(SECTIONS)
    # a fault key names a grade; the record is that of the fault
    name = name.split(":")[0]
    for one in wanted:
        if one in SECTIONS and name in entries_of(family, one):
            return one, entries_of(family, one)[name]
    # the whole family: who errs in the section may be right in the id
    known = [key for one in SECTIONS for key in entries_of(family, one)]
    raise NotFoundError(
        f"There is no entry {entry} in {family.id}", remedy=sentence(instead(name, known))
    )


def plain(value: object) -> Any:
    """A record as dictionaries, lists and plain values, ready for JSON.

    Tuples become arrays (lists), keys text; None stays None.
    """
    if is_dataclass(value) and not isinstance(value, type):
        # fields in the order of the class, which is the order of the documentation
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        # JSON has no keys but text; ages in years are numbers here
        return {str(key): plain(inner) for key, inner in value.items()}
    return [plain(one) for one in value] if isinstance(value, tuple | list) else value
