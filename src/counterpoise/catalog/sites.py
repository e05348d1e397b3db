"""Where in the drawing of a family its faults, panels, checks and repairs lie, by place."""

from __future__ import annotations

from counterpoise.catalog.family import CheckEntry, Family, FaultEntry, RepairEntry


def place_of_fault(family: Family, fault: FaultEntry) -> str:
    """Where a fault sits: by its entry, else by its assembly; empty where that is not drawn."""
    return fault.place or _drawn(family, fault.assembly)


def place_of_access(family: Family, access: str) -> str:
    """Where a panel is: as its entry says, else the place of its own id; empty where there is none.

    Raises KeyError where the family has no such panel.
    """
    return family.access[access].place or _drawn(family, access)


def place_of_work(family: Family, work: CheckEntry | RepairEntry) -> str:
    """Where a check or repair is done; empty where nothing says so.

    As its entry says; else where most of the faults sit that it tells or cures; else its panel.
    """
    # what the file says goes before what can be gathered from it
    if work.place:
        return work.place
    rows = getattr(work, "under", None) or getattr(work, "cures", None) or {}
    # the order of the file decides between equals: the first row is what the work is about
    faults = dict.fromkeys(key.partition(":")[0] for key in rows)
    sites = [site for key in faults if (site := place_of_fault(family, family.faults[key]))]
    if sites:
        return max(dict.fromkeys(sites), key=sites.count)
    return place_of_access(family, work.access) if work.access else ""


def _drawn(family: Family, name: str) -> str:
    # without a drawing any name will do: it is shown in words
    return name if family.drawing is None or name in family.drawing.places else ""
