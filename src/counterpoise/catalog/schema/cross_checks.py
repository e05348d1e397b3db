"""Mistakes that show only when a family is looked at as a whole.

They are sought in the plain data, so that a broken entry elsewhere does not hide them.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from counterpoise.catalog.body import Body
from counterpoise.catalog.family_money import FIGURES
from counterpoise.catalog.schema.sets import check_sets

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from counterpoise.catalog.schema.references import Known
    from counterpoise.catalog.schema.yaml_tree import Tree


def cross_check(tree: Tree, notes: Tree, known: Known) -> None:
    """Write mistakes to the tree and warnings to the notes.

    Raises nothing: a section that is no table counts as empty.
    """
    # rings first: the checks below walk from panel to panel and rely on an end
    note_cycles(tree, _table(tree, "access"))
    _missing_cautions(tree)
    _shared_ids(tree)
    check_sets(tree, _table(tree, "sets"), _table(tree, "checks"), _table(tree, "repairs"), known)
    _checks_of_two_things(tree)
    _levels_on_four_feet(tree)
    # from here on warnings: a family under construction may have loose ends
    _says_what_is_assumed(tree, notes)
    _lonely_groups(tree, notes, known)
    _never_cured(tree, notes, known)
    _never_seen(tree, notes, known)


def groups_of_faults(data: Mapping[str, object]) -> list[str]:
    """The assemblies that faults name; those that yield nothing (load, floor) need no entry.

    One name a fault, so a group named once shows; empty where the file has no faults.
    """
    faults = data.get("faults")
    # plain data: the entry may still be wrong in every other way
    entries = faults.values() if isinstance(faults, dict) else []
    return [str(one["assembly"]) for one in entries if isinstance(one, dict) and "assembly" in one]


def _table(tree: Tree, section: str) -> dict[str, dict[str, object]]:
    table = tree.data.get(section)
    if not isinstance(table, dict):
        return {}
    # wrong entries are reported by the schema; here they would only break the walk
    return {str(key): entry for key, entry in table.items() if isinstance(entry, dict)}


def way_in(access: Mapping[str, Mapping[str, object]], start: object) -> Iterator[str]:
    """An access and all that lies before it, each once, innermost first; empty for None."""
    # a ring of panels is a mistake of its own; here it must only not hang
    seen: set[str] = set()
    while isinstance(start, str) and start in access and start not in seen:
        seen.add(start)
        yield start
        start = access[start].get("behind")


def note_cycles(tree: Tree, access: Mapping[str, Mapping[str, object]]) -> None:
    """Note each ring of panels that lie behind each other, once."""
    for name in access:
        way = list(way_in(access, name))
        # every panel of a ring finds the ring; only its first one in the file says so
        first = next(one for one in access if one in way)
        if access[way[-1]].get("behind") == name and name == first:
            text = f"access.{name}: it lies behind itself ({' behind '.join([*way, name])})"
            tree.add(
                ("access", name, "behind"), text, "let the first one to open have 'behind: null'"
            )


def _missing_cautions(tree: Tree) -> None:
    access, cautions = _table(tree, "access"), _table(tree, "cautions")
    # only grave cautions are demanded here: a scratch needs no sentence at every step
    grave = {name for name, entry in cautions.items() if entry.get("grave") is True}
    # the steps that a hand carries out; opening a panel says its own caution
    for section in ("checks", "repairs"):
        for name, entry in _table(tree, section).items():
            way = list(way_in(access, entry.get("access")))
            near = [
                one for step in way for one in _list(access[step].get("cautions")) if one in grave
            ]
            # any caution of its own will do: whoever wrote it has thought of the danger
            if near and not _list(entry.get("cautions")):
                text = f"{section}.{name}: no caution, though the way in ({way[0]}) "
                text += f"has the grave caution {near[0]}"
                tree.add((section, name), text, f"add 'cautions: [{near[0]}]' or what fits")


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _shared_ids(tree: Tree) -> None:
    # pages and commands name a step by its id alone
    for name in _table(tree, "checks").keys() & _table(tree, "repairs").keys():
        tree.add(
            ("repairs", name), f"repairs.{name}: a check has the same id", "rename one of the two"
        )


def _checks_of_two_things(tree: Tree) -> None:
    # one cause of error a check: with two, none of them would be the one that is shared
    group_of: dict[object, str] = {}
    for name, entry in _table(tree, "same_thing").items():
        for check in _list(entry.get("checks")):
            if group_of.setdefault(check, name) != name:
                text = f"same_thing.{name}: {check} is in {group_of[check]} already"
                tree.add(("same_thing", name, "checks"), text, "leave it in one of the two")
    speaking = [name for name, entry in _table(tree, "same_thing").items() if "complaints" in entry]
    for name in speaking[1:]:
        text = f"same_thing.{name}: the complaints are in {speaking[0]} already"
        tree.add(("same_thing", name, "complaints"), text, "leave them in one of the two")


def _levels_on_four_feet(tree: Tree) -> None:
    # three feet never rock, and on castors nothing can be turned: its advice would be nonsense
    body = tree.data.get("body")
    feet = body.get("feet") if isinstance(body, dict) else None
    if not isinstance(feet, dict) or (feet.get("number") == 4 and feet.get("adjustable") is True):
        return
    for name, entry in _table(tree, "checks").items():
        if str(entry.get("measures", "")).partition(".")[0] in {"level", "level_again"}:
            text = f"checks.{name}.measures: level says which of four feet to turn"
            text += ", and this machine does not stand on four that screw"
            tree.add(
                ("checks", name, "measures"), text, "leave 'measures' out, or correct the feet"
            )


def _says_what_is_assumed(tree: Tree, notes: Tree) -> None:
    if "body" not in tree.data:
        text = f"body is missing; assumed: {Body().words}"
        notes.add((), text, "add 'body:' where it is not so")
    # what a machine is worth decides how its job ends: it must not come from another kind unseen
    money = tree.data.get("money")
    given = money if isinstance(money, dict) else {}
    lacking = [name for name in FIGURES if name not in given]
    if lacking:
        text = f"money does not say {', '.join(lacking)}; assumed: the workshop's general settings"
        notes.add(("money",), text, "add them: those settings are of washing machines")
    checks = _table(tree, "checks")
    if checks and not any("measures" in entry for entry in checks.values()):
        text = "no check names its measurement; assumed: those that the bench knows by their ids"
        notes.add(("checks",), text, "add 'measures:' to the checks that are measured by hand")


def _lonely_groups(tree: Tree, notes: Tree, known: Known) -> None:
    """An assembly named once that looks like another one is a slip of the pen."""
    for name, entry in _table(tree, "faults").items():
        group = str(entry.get("assembly"))
        # 0.8: one letter off in five
        near = get_close_matches(group, sorted({*known.ids["groups"]} - {group}), n=1, cutoff=0.8)
        # an assembly entry counts as a naming too, so a real group comes at least twice
        if known.ids["groups"].count(group) == 1 and near:
            text = f"faults.{name}.assembly: {group} is named nowhere else"
            notes.add(("faults", name, "assembly"), text, f"did you mean {near[0]}?")


def _never_cured(tree: Tree, notes: Tree, known: Known) -> None:
    # a repair that cures with probability 0 is refused by the schema, so naming is enough
    cured = _named_by(tree, "repairs", "cures", known)
    for name, entry in _table(tree, "faults").items():
        left = [key for key in known.expand(name) if key not in cured]
        # 'nothing is wrong' needs no cure, and a write-off is not worth one
        if left and entry.get("alone") is not True and entry.get("write_off") is not True:
            text = f"faults.{name}: no repair cures {' or '.join(left)}, "
            text += "and it is neither 'write_off' nor 'alone'"
            notes.add(("faults", name), text, "add a repair, or mark it")


def _never_seen(tree: Tree, notes: Tree, known: Known) -> None:
    # a fault that no check shows can only be told by its complaints
    seen = _named_by(tree, "checks", "under", known)
    for name in _table(tree, "faults"):
        left = [key for key in known.expand(name) if key not in seen]
        if left:
            notes.add(
                ("faults", name),
                f"faults.{name}: no check tells {' or '.join(left)}",
                "add a check that shows it",
            )


def _named_by(tree: Tree, section: str, field: str, known: Known) -> set[str]:
    tables = [entry.get(field) for entry in _table(tree, section).values()]
    return {
        key
        for table in tables
        if isinstance(table, dict)
        for name in table
        # an unknown name stands for itself and is refused elsewhere
        for key in known.expand(str(name))
    }
