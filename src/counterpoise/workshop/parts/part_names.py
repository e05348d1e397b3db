"""Finds the part of ours that a line of a supplier's list means."""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.catalog.family import Family
from counterpoise.workshop.jobs.suggestions import did_you_mean

# looking for what may have been meant takes a millisecond, and a list has 50,000 lines
_MOST_SEARCHES = 300


class CellError(ValueError):
    """A cell that cannot be right: the column, what is wrong, what to do about it."""

    def __init__(self, column: str, what: str, remedy: str) -> None:
        self.column, self.what, self.remedy = column, what, remedy
        super().__init__(what)


class PartNames:
    """The parts of the families by id and title, and by numbers of the supplier's that are known.

    ``family`` narrows ids and titles to one kind of machines, empty: all. ``known``: supplier's
    number, small, to (family, part), from lists read before.
    """

    def __init__(
        self, families: Mapping[str, Family], family: str, known: Mapping[str, tuple[str, str]]
    ) -> None:
        self._known, self._searches = known, 0
        # titles are what people type: "Drain pump" is in both kinds of machines
        wanted = [families[family]] if family else list(families.values())
        # "family/part" is told apart even where the list is for another kind
        self._exact = {
            f"{f.id}/{part}": (f.id, part) for f in families.values() for part in f.parts
        }
        self._titles = {part.id: part.title for kind in wanted for part in kind.parts.values()}
        self._by_name: dict[str, list[tuple[str, str]]] = {}
        for kind in wanted:
            for part in kind.parts.values():
                # a set: an id that is its own title would count as two parts
                for name in {part.id, part.title.casefold()}:
                    self._by_name.setdefault(name, []).append((kind.id, part.id))

    def find(self, given: str, number: str) -> tuple[str, str] | None:
        """The (family, part) that a line names, None where the line is about none of ours.

        ``given`` is what stands in the column of our parts, ``number`` in that of the supplier's.
        Raises CellError where the name fits none or several.
        """
        # a supplier sells much that we never need: a line that names none of ours is no fault
        if not given:
            return self._known.get(number.casefold()) if number else None
        if given in self._exact:
            return self._exact[given]
        parts = self._by_name.get(given) or self._by_name.get(given.casefold(), [])
        if len(parts) > 1:
            # the way out is said in full, ready to be copied
            names = " or ".join("/".join(part) for part in parts)
            raise CellError(
                "part",
                f"{given[:40]!r} is in several kinds of machines",
                f"Write {names}, or say which kind the list is for",
            )
        if not parts:
            raise CellError("part", f"there is no part {given[:40]!r}", self._near(given))
        return parts[0]

    def _near(self, given: str) -> str:
        self._searches += 1
        # whoever has hundreds of wrong names has the wrong column
        if self._searches > _MOST_SEARCHES:
            return "Write the id of a part of ours, or leave it empty where it is none"
        return did_you_mean(given.rpartition("/")[2][:60], self._titles)
