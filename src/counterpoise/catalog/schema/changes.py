"""The border of a file that changes a shipped family: single figures, and cautions added.

It can make nothing more dangerous: cautions are added and never taken away, and nobody is told to
do with fewer hands.
"""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from typing import Any

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.schema.messages import Entry, instead, read_entry, show
from counterpoise.catalog.schema.references import GENERAL_SOURCES, Known, SourceId
from counterpoise.catalog.schema.yaml_tree import Loc, Tree

# what such a file may hold
KEYS = ("changes", "figures", "cautions", "add_cautions")
# where cautions stand; the proof stands alone and has no entries
_WITH_CAUTIONS = ("access", "checks", "repairs")


class FigureChange(Entry):
    """A figure as it is here; ``was``: as shipped when it was written, None where not given."""

    to: float
    was: float | None = None
    source: SourceId
    why: str = ""


class ChangedTree:
    """A shipped family's data with a workshop's changes; every line is one of the file of changes.

    ``tree`` holds the data and the mistakes, ``notes`` the warnings, ``figures`` what was changed.
    """

    def __init__(self, shipped: Tree, changes: Tree, sources: list[str]) -> None:
        self._changes = changes
        self._sources = [*GENERAL_SOURCES, *sources]
        # the shipped file is sound: what is wrong with the whole is wrong by a change
        self.tree = Tree(changes.name, shipped.data, problems=changes.problems)
        self.notes = Tree(changes.name)
        self.figures: list[ChangedFigure] = []

    def apply(self) -> None:
        """Carry the changes out; what is wrong with them goes to the tree. Raises nothing."""
        data = self._changes.data
        if not isinstance(data, dict):
            if not self._changes.problems:
                what = f"holds {show(data)}, not a table"
                self._changes.add((), what, "begin with 'changes: <id of a shipped family>'")
            return
        for key in data:
            if key not in KEYS:
                self._changes.add((key,), f"unknown key {key}", instead(key, KEYS))
        of, family = data.get("changes"), self.tree.data["family"]
        if of != family:
            what = f"it changes {show(of)}, and is read for {family}"
            self._changes.add(("changes",), what, f"begin with 'changes: {family}'")
        for place in self._table("figures"):
            self._figure(str(place), ("figures", place))
        for key, entry in self._table("cautions").items():
            self._caution(key, entry)
        for place, names in self._table("add_cautions").items():
            self._add_cautions(str(place), names)

    def _table(self, key: str) -> dict[Any, Any]:
        table = self._changes.data.get(key, {})
        if isinstance(table, dict):
            return table
        self._changes.add((key,), f"{key} holds {show(table)}", "write 'place: {...}' lines")
        return {}

    def _note_line(self, loc: Loc, written: Loc) -> None:
        line = self._changes.line(written)
        # whatever holds the figure is at fault with it where the whole no longer fits together
        for end in range(len(loc) + 1):
            self.tree.lines.setdefault(loc[:end], line)
        self.tree.lines[loc] = line

    def _figure(self, place: str, written: Loc) -> None:
        known = Known({"sources": self._sources})
        change = read_entry(FigureChange, self._changes, written, known)
        if change is None:
            return
        loc = _located(self.tree.data, place)
        refusal = _refusal(self.tree.data, place, loc, change)
        if refusal or loc is None:
            self._changes.add(written, *(refusal or ("", "")))
            return
        holder = _made(self.tree.data, loc[:-1])
        shipped = holder[loc[-1]] if _has(holder, loc[-1]) else None
        # a whole number stays one: pieces and minor units have no halves
        holder[loc[-1]] = int(change.to) if change.to.is_integer() else change.to
        self._note_line(loc, written)
        self.figures.append(ChangedFigure(place, shipped, change.to, change.source, change.why))
        if shipped == change.to:
            what = f"{place}: it is {shipped:.10g} as shipped, so this changes nothing"
            self.notes.problems.append((self._changes.line(written), f"{what}; mend 'to'"))
        if change.was is not None and shipped is not None and change.was != shipped:
            what = f"{place}: shipped is {shipped:.10g} now, not {change.was:.10g}"
            remedy = "look whether the change still holds, and mend 'was'"
            self.notes.problems.append((self._changes.line(written), f"{what}; {remedy}"))

    def _caution(self, key: object, entry: object) -> None:
        known = self.tree.data["cautions"]
        if key in known:
            what = f"cautions.{key}: a caution that is shipped cannot be changed"
            self._changes.add(("cautions", str(key)), what, "add one of your own, under another id")
            return
        known[key] = entry
        self._note_line(("cautions", str(key)), ("cautions", str(key)))

    def _add_cautions(self, place: str, names: object) -> None:
        written = ("add_cautions", place)
        holder = _with_cautions(self.tree.data, place)
        if holder is None:
            known = [f"{s}.{e}" for s in _WITH_CAUTIONS for e in self.tree.data.get(s, {})]
            what = f"add_cautions.{place}: no cautions stand there"
            self._changes.add(written, what, instead(place, ["proof", *known]))
            return
        if not isinstance(names, list):
            what = f"add_cautions.{place}: {show(names)} is not a list"
            self._changes.add(written, what, "write [caution, caution]")
            return
        has = holder.setdefault("cautions", [])
        has += [name for name in names if name not in has]
        self._note_line((*place.split("."), "cautions"), written)


def _located(data: object, place: str) -> Loc | None:
    """The way to a figure written as ``section.entry.field``; None where nothing holds it.

    The figure itself, and a row of a table that holds it, need not be there yet.
    """
    return next(_ways(data, place, 0), None)


def _ways(data: object, place: str, depth: int) -> Iterator[Loc]:
    if isinstance(data, list):
        head, _, rest = place.partition(".")
        if head.isdigit() and int(head) < len(data):
            yield from (
                (int(head), *way) for way in (_ways(data[int(head)], rest, depth) if rest else [()])
            )
        return
    if not isinstance(data, dict):
        return
    # a key may hold points itself (an age of 2.5 years): the longest that fits is meant
    fitting = sorted(
        (key for key in data if place == str(key) or place.startswith(f"{key}.")),
        key=lambda key: -len(str(key)),
    )
    for key in fitting:
        rest = place[len(str(key)) + 1 :]
        if not rest:
            yield (key,)
        else:
            yield from ((key, *way) for way in _ways(data[key], rest, depth + 1))
    # within an entry a figure may be new, and the row that it stands in: at most two steps on
    if not fitting and depth >= 2 and place.count(".") <= 1:
        yield tuple(place.split("."))


def _has(holder: Any, key: object) -> bool:
    return isinstance(holder, list) or key in holder


def _made(data: Any, loc: Loc) -> Any:
    """What holds a figure; a row that is not there yet is made."""
    for key in loc:
        data = data.setdefault(key, {}) if isinstance(data, dict) else data[key]
    return data


def _refusal(
    data: dict[str, Any], place: str, loc: Loc | None, change: FigureChange
) -> tuple[str, str] | None:
    """Why a figure cannot be changed, and what to do instead; None where it can."""
    if place.startswith("cautions.") or ".cautions" in place:
        return f"{place}: a caution cannot be changed", "add one under 'add_cautions'"
    if loc is None:
        return f"there is no figure {place}", _instead_of(data, place)
    shipped: Any = data
    for key in loc:
        shipped = shipped.get(key) if isinstance(shipped, dict) else shipped[key]
        if shipped is None:
            return None
    if isinstance(shipped, bool) or not isinstance(shipped, int | float):
        what = f"{place} is {show(shipped)}, not a figure"
        return what, "only figures are changed; for more, write a family of your own"
    if loc[-1] == "people" and change.to < shipped:
        what = f"{place}: {shipped} pairs of hands are there so that nobody gets hurt"
        return what, "they can be raised, not lowered; leave the line out"
    return None


def _instead_of(data: dict[str, Any], place: str) -> str:
    """The nearest names at the first part of a place that is not there."""
    here: Any = data
    for part in place.split("."):
        if not isinstance(here, dict):
            return "write it as section.entry.field, as in faults.belt_worn.prior"
        names = {str(key): key for key in here}
        if part not in names:
            return instead(part, names)
        here = here[names[part]]
    return "name a figure, as in faults.belt_worn.prior"


def _with_cautions(data: dict[str, Any], place: str) -> MutableMapping[str, Any] | None:
    section, _, entry = place.partition(".")
    if place == "proof":
        holder = data.get("proof")
    else:
        holder = data.get(section, {}).get(entry) if section in _WITH_CAUTIONS else None
    return holder if isinstance(holder, dict) else None
