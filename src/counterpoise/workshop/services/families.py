"""The families of machines a workshop knows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.suggestions import did_you_mean


class Families(Mapping[str, Family]):
    """Families by id: a mapping whose :meth:`named` refuses an unknown id in words for people."""

    def __init__(self, families: Mapping[str, Family]) -> None:
        # kept as it came, not copied: shipped families are read one by one when a job asks for them
        self._families = families

    def __getitem__(self, key: str) -> Family:
        return self._families[key]

    def __contains__(self, key: object) -> bool:
        return key in self._families

    def __iter__(self) -> Iterator[str]:
        return iter(self._families)

    def __len__(self) -> int:
        return len(self._families)

    def named(self, key: str) -> Family:
        """The family with this id. Raises InputError, with the nearest known id as its remedy."""
        if key not in self._families:
            # reads every family, but only where an id was wrong
            titles = {name: family.title for name, family in self._families.items()}
            raise InputError(
                f"family: there is no {key!r}", field="family", remedy=did_you_mean(key, titles)
            )
        return self._families[key]

    def title_of(self, family: str, item: str) -> str:
        """The name of a part or assembly; its id where the catalog no longer has it."""
        known = self._families.get(family)
        entry = (known.parts.get(item) or known.assemblies.get(item)) if known else None
        # old lots outlive their part in the catalog and must still be found on the shelf
        return entry.title if entry else item
