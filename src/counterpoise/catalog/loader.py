"""Reads a family file, or says everything that is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from counterpoise.catalog.build import build_family
from counterpoise.catalog.cross_checks import cross_check, groups_of_faults
from counterpoise.catalog.messages import Entry, instead, read_entry, sentence, show
from counterpoise.catalog.references import GENERAL_SOURCES, Known
from counterpoise.catalog.schema import OPTIONAL, SECTIONS, HeadModel, SourceModel
from counterpoise.catalog.yaml_tree import Tree, read_tree
from counterpoise.errors import CatalogError, NotFoundError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

DATA = Path(__file__).parent / "data"
SOURCES = "sources.yaml"
NOT_FAMILIES = {"sources", "cases"}


@dataclass(frozen=True, slots=True)
class Report:
    """What reading a file gave: the family if it could be built, mistakes and warnings (``file:line: ...``)."""

    family: Family | None
    problems: tuple[str, ...]
    warnings: tuple[str, ...]


def families() -> list[str]:
    """The ids of the families that are shipped."""
    return sorted(path.stem for path in DATA.glob("*.yaml") if path.stem not in NOT_FAMILIES)


def load_family(path_or_id: str | Path) -> Family:
    """The family of a file, or of a shipped id. Read once; raises CatalogError with every mistake, or NotFoundError."""
    report = inspect_family(path_or_id)
    if report.family is None:
        raise CatalogError(list(report.problems))
    return report.family


def inspect_family(path_or_id: str | Path) -> Report:
    """Like :func:`load_family`, but hands back mistakes and warnings instead of raising the former."""
    path = _find(path_or_id)
    stamp = tuple(_stamp(one) for one in (path, path.parent / SOURCES, DATA / SOURCES))
    return _inspect(path, stamp)


def _find(path_or_id: str | Path) -> Path:
    name = str(path_or_id)
    if name in families():
        return DATA / f"{name}.yaml"
    path = Path(path_or_id)
    if path.is_file():
        return path.resolve()
    raise NotFoundError(f"There is no family or file {name}. {sentence(instead(name, families()))}")


def _stamp(path: Path) -> tuple[int, int]:
    try:
        stat = path.stat()
    except OSError:
        return (0, 0)
    return (stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=16)
def _inspect(path: Path, stamp: object) -> Report:
    del stamp  # only tells a changed file from the one read before
    tree = read_tree(path)
    sources = _sources(path)
    source_trees = [one for one, _ in sources]
    notes = Tree(tree.name, lines=tree.lines)
    family = _read(
        tree, notes, {key: value for _, found in sources for key, value in found.items()}
    )
    problems = [*(problem for one in source_trees for problem in one.report()), *tree.report()]
    return Report(None if problems else family, tuple(problems), tuple(notes.report()))


def _sources(path: Path) -> list[tuple[Tree, dict[str, SourceModel]]]:
    """The sources shipped, and those beside the file, which may add to them or replace them."""
    places = dict.fromkeys([(DATA / SOURCES).resolve(), (path.parent / SOURCES).resolve()])
    result = []
    for place in (one for one in places if one.is_file()):
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
    known = _known(tree.data, sources)
    head = _head(tree, known)
    sections = {name: _entries(tree, name, model, known) for name, model in SECTIONS.items()}
    cross_check(tree, notes, known)
    if tree.problems or head is None:
        return None
    return build_family(head, sections, known, sources)


def _known(data: dict[str, Any], sources: dict[str, SourceModel]) -> Known:
    tables: dict[str, dict[Any, Any]] = {}
    for name in SECTIONS:
        table = data.get(name)
        tables[name] = table if isinstance(table, dict) else {}
    ids = {name: [str(key) for key in table] for name, table in tables.items()}
    ids["groups"] = [*ids["assemblies"], *groups_of_faults(data)]
    ids["sources"] = [*GENERAL_SOURCES, *sources]
    return Known(ids, _inner(tables["faults"], "grades"), _inner(tables["features"], "values"))


def _inner(table: dict[Any, Any], key: str) -> dict[str, list[str]]:
    inner = {
        str(name): entry.get(key) if isinstance(entry, dict) else None
        for name, entry in table.items()
    }
    return {
        name: [str(one) for one in found] if isinstance(found, dict) else []
        for name, found in inner.items()
    }


def _head(tree: Tree, known: Known) -> HeadModel | None:
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
        if not key.isidentifier() and section:
            tree.add(
                (*loc, key),
                f"{section}.{key} is not an id",
                "use letters, digits and _ only, a letter first",
            )
    return {key: entry for key, entry in found.items() if entry is not None}
