"""The families a workshop knows, with where each is from and what is wrong with some."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.workshop.services.families import Families


@dataclass(frozen=True, slots=True)
class KnownFamily:
    """A family: whose it is in words, the file that is not shipped, and figures changed, as said.

    ``problems``: what is wrong with its file, ``file:line: what; remedy``; empty where it is sound.
    """

    id: str
    title: str
    origin: str
    file: str = ""
    changes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


def known_families(families: Families) -> tuple[KnownFamily, ...]:
    """All families by id, sorted, the broken ones too."""
    if families.catalog is None:
        # handed in as they are: nobody says where from
        return tuple(KnownFamily(key, one.title, "") for key, one in sorted(families.items()))
    listed = []
    for key, origin in families.catalog.origins().items():
        report = families.catalog.inspect_at(origin)
        family, file = report.family, origin.changes or (origin.file if origin.own else None)
        changes = family.changes if family else ()
        listed.append(
            KnownFamily(
                id=key,
                title=family.title if family else key,
                origin=origin.text,
                file=str(file) if file else "",
                changes=tuple(f"{change.place}: {change.text}" for change in changes),
                problems=report.problems,
            )
        )
    return tuple(listed)
