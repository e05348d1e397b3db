"""From the text of a family file to a checked family, or to everything that is wrong with it.

Brings in YAML and the schema, a third of a second of imports: a family parsed before needs neither.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.catalog.places import DATA, source_files
from counterpoise.catalog.report import Report
from counterpoise.catalog.rules.book import broken_rules
from counterpoise.catalog.schema.build import build_family, with_changes
from counterpoise.catalog.schema.changes import ChangedTree
from counterpoise.catalog.schema.cross_checks import cross_check, groups_of_faults
from counterpoise.catalog.schema.entries import OPTIONAL, SECTIONS, HeadModel, SourceModel
from counterpoise.catalog.schema.messages import Entry, instead, read_entry, show
from counterpoise.catalog.schema.references import GENERAL_SOURCES, Known
from counterpoise.catalog.schema.yaml_tree import Tree, read_tree

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.changed_figure import ChangedFigure
    from counterpoise.catalog.family import Family


def parse_family(path: Path, changes: Path | None = None) -> Report:
    """The report on a family file from its text; Raises nothing, whatever the text holds.

    ``family`` is None where there is any problem, in the file or in its sources. ``changes``: the
    file of a workshop that changes figures of it.
    """
    tree = read_tree(path)
    sources = _sources(changes or path)
    source_trees = [source_tree for source_tree, _ in sources]
    by_id = {key: source for _, entries in sources for key, source in entries.items()}
    # warnings go by the same line numbers but must not keep the family from being built
    notes = Tree(tree.name, lines=tree.lines)
    changed: tuple[ChangedFigure, ...] = ()
    if changes is not None and not tree.problems:
        whole = ChangedTree(tree, read_tree(changes), list(by_id))
        whole.apply()
        # where a change cannot be carried out, nothing can be said of the whole
        tree, notes, changed = whole.tree, whole.notes, tuple(whole.figures)
    family = None if changes is not None and tree.problems else _read(tree, notes, by_id)
    if family is not None:
        # a change of single figures is the workshop's own, as far as the file it changes allows
        _keep_rules(family, tree, notes, shipped=path.parent == DATA and changes is None)
    if family is not None and changed:
        family = with_changes(family, changed)
    # sources first: a wrong source file makes every 'source:' of the family look wrong
    problems = [line for source_tree in source_trees for line in source_tree.report()]
    problems += tree.report()
    return Report(None if problems else family, tuple(problems), tuple(notes.report()))


def _keep_rules(family: Family, tree: Tree, notes: Tree, *, shipped: bool) -> None:
    """Write what breaks a rule of content to the tree, or to the notes where it is a warning."""
    for rule, (place, what) in broken_rules(family, shipped=shipped):
        book = notes if rule.level == "warning" else tree
        book.add(place, f"{'.'.join(place)}: {what}", f"{rule.remedy} ({rule.id})")


def _sources(path: Path) -> list[tuple[Tree, dict[str, SourceModel]]]:
    """The sources shipped, and those beside the file, which may add to them or replace them."""
    result = []
    for place in source_files(path):
        tree = read_tree(place)
        entries = _entries(tree, "", SourceModel, None)
        result.append(
            (tree, {key: entry for key, entry in entries.items() if isinstance(entry, SourceModel)})
        )
    return result


def _read(tree: Tree, notes: Tree, sources: dict[str, SourceModel]) -> Family | None:
    if not isinstance(tree.data, dict):
        if not tree.problems:
            tree.add((), f"holds {show(tree.data)}, not a table", "begin with 'family: <id>'")
        return None
    # names are gathered before anything is validated, so the order of sections is free
    known = _known(tree.data, sources)
    head = _head(tree, known)
    sections = {name: _entries(tree, name, model, known) for name, model in SECTIONS.items()}
    cross_check(tree, notes, known)
    # all sections were read by now, so that one run reports every mistake
    if tree.problems or head is None:
        return None
    return build_family(head, sections, known, sources)


def _known(data: Mapping[str, object], sources: dict[str, SourceModel]) -> Known:
    tables: dict[str, dict[object, object]] = {}
    for name in SECTIONS:
        table = data.get(name)
        tables[name] = table if isinstance(table, dict) else {}
    ids = {name: [str(key) for key in table] for name, table in tables.items()}
    # with repetition: how often a group is named tells a slip from a group
    ids["groups"] = [*ids["assemblies"], *groups_of_faults(data)]
    # the fault itself, where a grade would make no sense
    ids["fault_ids"] = ids["faults"]
    ids["sources"] = [*GENERAL_SOURCES, *sources]
    drawing = data.get("drawing")
    places = drawing.get("places") if isinstance(drawing, dict) else None
    ids["places"] = [str(key) for key in places] if isinstance(places, dict) else []
    return Known(ids, _inner(tables["faults"], "grades"), _inner(tables["features"], "values"))


def _inner(table: Mapping[object, object], key: str) -> dict[str, list[str]]:
    # plain data again: the entry may be broken, its names still count as known
    inner = {
        str(name): entry.get(key) if isinstance(entry, dict) else None
        for name, entry in table.items()
    }
    return {
        name: [str(one) for one in found] if isinstance(found, dict) else []
        for name, found in inner.items()
    }


def _head(tree: Tree, known: Known) -> HeadModel | None:
    # the head is validated as if the file held nothing else; lines stay those of the file
    whole = tree.data
    for key in [key for key in whole if key not in {*SECTIONS, *HeadModel.model_fields}]:
        tree.add((key,), f"unknown key {key}", instead(key, [*HeadModel.model_fields, *SECTIONS]))
    tree.data = {key: value for key, value in whole.items() if key in HeadModel.model_fields}
    head = read_entry(HeadModel, tree, (), known)
    tree.data = whole
    return head


def _entries(tree: Tree, section: str, model: type[Entry], known: Known | None) -> dict[str, Entry]:
    """All entries of a section by id; wrong ones are left out and noted in the tree."""
    loc = (section,) if section else ()
    table = tree.data.get(section) if section else tree.data
    if not isinstance(table, dict):
        # a family may have no figures to keep; every other section is demanded
        if section in OPTIONAL and section not in tree.data:
            return {}
        if table is None and section and section not in tree.data:
            tree.add((), f"{section} is missing", f"add '{section}:' with its entries")
        elif not tree.problems or section:
            tree.add(
                loc,
                f"{section or 'the file'} holds {show(table)}, not a table of entries",
                "write 'id: {...}' lines",
            )
        return {}
    found = {str(key): read_entry(model, tree, (*loc, key), known) for key in table}
    for key in found:
        # ids of sources may hold points and dashes, as titles of papers do
        if not key.isidentifier() and section:
            tree.add(
                (*loc, key),
                f"{section}.{key} is not an id",
                "use letters, digits and _ only, a letter first",
            )
    return {key: entry for key, entry in found.items() if entry is not None}
