"""The families of machines a workshop knows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import Catalog
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.suggestions import did_you_mean


def _as_written(family: Family) -> Family:
    return family


class Families(Mapping[str, Family]):
    """Families by id: a mapping whose :meth:`named` refuses an unknown id in words for people.

    ``learned`` puts what closed jobs taught in the place of what is written, for all who ask here.
    """

    def __init__(
        self, families: Mapping[str, Family], learned: Callable[[Family], Family] = _as_written
    ) -> None:
        # kept as it came, not copied: shipped families are read one by one when a job asks for them
        self._families, self._learned = families, learned
        # where files may come, go and break; families handed in as they are do nothing of it
        self.catalog = families if isinstance(families, Catalog) else None

    def __getitem__(self, key: str) -> Family:
        return self._learned(self._families[key])

    def __contains__(self, key: object) -> bool:
        return key in self._families

    def __iter__(self) -> Iterator[str]:
        return iter(self._families)

    def __len__(self) -> int:
        return len(self._families)

    def named(self, key: str) -> Family:
        """The family with this id.

        Raises InputError, with the nearest known id and where a file belongs as its remedy, or what
        is wrong with the file.
        """
        known = self._families.get(key)
        if known is None:
            raise self._refusal(key)
        return self._learned(known)

    def trouble(self, key: str) -> str:
        """Why machines of this family cannot be worked on, in a few words; empty where they can."""
        if key in self._families:
            return ""
        broken = {} if self.catalog is None else self.catalog.broken()
        return f"the file of {key} is broken" if key in broken else f"there is no family {key}"

    def meant(self, key: str) -> Family:
        """The family with this id; where none is named, the only one there is.

        Raises InputError, also where none is named and there are several.
        """
        if key:
            return self.named(key)
        # to guess the kind would be to guess what a machine is worth
        if len(self._families) != 1:
            raise InputError(
                "family: which kind of machine is not said",
                field="family",
                remedy=f"Name it with --family: {', '.join(self._families)}",
            )
        return next(iter(self.values()))

    def usual(self, key: str = "") -> str:
        """The id that was named; where none was, the only family there is, else the first."""
        return key or next(iter(self._families), key)

    def title_of(self, family: str, item: str) -> str:
        """The name of a part or assembly; its id where the catalog no longer has it."""
        known = self._families.get(family)
        entry = (known.parts.get(item) or known.assemblies.get(item)) if known else None
        # old lots outlive their part in the catalog and must still be found on the shelf
        return entry.title if entry else item

    def _refusal(self, key: str) -> InputError:
        broken = {} if self.catalog is None else self.catalog.broken()
        if key in broken:
            first, *others = broken[key].problems
            more = f" (and {len(others)} more)" if others else ""
            return InputError(
                f"family: the file of {key} is broken: {first}{more}",
                field="family",
                remedy=f"Mend it: 'counterpoise catalog check {key}' lists every mistake",
            )
        # reads every family, but only where an id was wrong
        titles = {name: family.title for name, family in self._families.items()}
        belongs = "" if self.catalog is None else self.catalog.belongs(key)
        near = did_you_mean(key, titles)
        said = (text for text in (near, belongs) if text)
        remedy = " ".join(text if text.endswith((".", "?")) else f"{text}." for text in said)
        return InputError(f"family: there is no {key!r}", field="family", remedy=remedy)
