"""Files about families: beginning one, what kind one is, and what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from counterpoise.catalog.cases import Case, load_cases
from counterpoise.catalog.loader import Catalog, families
from counterpoise.catalog.places import CASES_ENDING, CHANGES_ENDING, DATA
from counterpoise.catalog.schema.yaml_tree import read_tree
from counterpoise.errors import CatalogError, InputError, NotFoundError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

Kind = Literal["family", "changes", "stories"]
SKELETON = DATA / "skeleton"
_OF_SKELETON = "my_machine"
# the name of a file too, and of other files beside it
_NAME = re.compile(r"[a-z][a-z0-9_]{1,39}")
# what would be read as something else, or is a name of no family anywhere
_TAKEN = {"sources", "cases", "changes"}


@dataclass(frozen=True, slots=True)
class LookedOver:
    """A file about a family: what kind it is, of which family, and what is wrong with it.

    ``family`` is None where it cannot be read; ``stories`` are those of the file, or of the book
    beside a family.
    """

    file: Path
    kind: Kind
    id: str
    problems: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    family: Family | None = None
    stories: tuple[Case, ...] = ()


@dataclass(frozen=True, slots=True)
class Begun:
    """The files of a new family, or of changes to a shipped one, as they were written."""

    id: str
    files: tuple[str, ...] = field(default_factory=tuple)


def kind_of(path: Path) -> Kind:
    """What kind of file it is: by what it holds, and where that cannot be read, by its name."""
    data = read_tree(path).data
    if isinstance(data, dict):
        if "changes" in data:
            return "changes"
        if not isinstance(data.get("family"), str) and _all_stories(data):
            return "stories"
    if path.name.endswith(CASES_ENDING):
        return "stories"
    return "changes" if path.name.endswith(CHANGES_ENDING) else "family"


def _all_stories(data: Mapping[object, object]) -> bool:
    return bool(data) and all(
        isinstance(entry, dict) and {"story", "suspect_first"} & set(entry)
        for entry in data.values()
    )


def look_over(path: Path, known: Catalog) -> LookedOver:
    """Look a file over as if it lay in the folder; a family with its stories beside it.

    Raises NotFoundError where there is no such file.
    """
    if not path.is_file():
        raise NotFoundError(
            f"There is no file {path}",
            remedy="Give a family, its stories or changes; 'counterpoise catalog new NAME' begins"
            " one",
        )
    kind = kind_of(path)
    if kind == "stories":
        return _stories(path, known)
    if kind == "changes":
        of = str((read_tree(path).data or {}).get("changes", ""))
        if of not in families() or known.origins()[of].own:
            text = f"{path.name}:1: there is no shipped family {of or 'named'} to change"
            return LookedOver(path, kind, of, (f"{text}; shipped are {', '.join(families())}",))
        report = known.inspect_changes(path, of)
        return LookedOver(path, kind, of, report.problems, report.warnings, report.family)
    report = known.inspect(path.resolve())
    family = report.family
    problems = [*report.problems]
    if family is not None and (not _NAME.fullmatch(family.id) or family.id in _TAKEN):
        problems.append(f"{path.name}:1: family: {family.id} cannot be a file's name; {_NAMING}")
    book = beside(path, CASES_ENDING)
    stories: tuple[Case, ...] = ()
    if family is not None and book.is_file():
        looked = _stories(book, {family.id: family})
        stories, problems = looked.stories, [*problems, *looked.problems]
    # stories that are wrong do not make the family wrong, but are not taken along in silence
    return LookedOver(
        path, kind, family.id if family else "", tuple(problems), report.warnings, family, stories
    )


def _stories(path: Path, known: Mapping[str, Family]) -> LookedOver:
    # of a family beside it that is in no folder yet
    family_file = path.with_name(path.name.removesuffix(CASES_ENDING) + ".yaml")
    by_id = dict(known) if not isinstance(known, Catalog) else known
    if isinstance(known, Catalog) and family_file != path and family_file.is_file():
        family = known.inspect(family_file.resolve()).family
        by_id = {**known, family.id: family} if family else known
    try:
        stories = load_cases(path, by_id)
    except CatalogError as error:
        return LookedOver(path, "stories", "", tuple(error.problems))
    ids = {story.family for story in stories}
    if len(ids) != 1:
        text = f"{path.name}:1: the stories are of {len(ids)} families"
        return LookedOver(path, "stories", "", (f"{text}; keep those of each in a file",))
    (family_id,) = ids
    return LookedOver(path, "stories", family_id, (), family=by_id[family_id], stories=stories)


def beside(path: Path, ending: str) -> Path:
    """The file beside a family's that ends so."""
    return path.with_name(path.name.removesuffix(".yaml") + ending)


_NAMING = "use 2 to 40 small letters, digits and _, a letter first, and none of " + ", ".join(
    sorted(_TAKEN)
)


def begin(
    name: str, where: Path, known: Catalog, *, title: str = "", changes: bool = False
) -> Begun:
    """Write the files of a new family, sound as they stand, or of changes to a shipped one.

    Raises InputError for a name that cannot be, or where a file is there already.
    """
    if changes:
        return _begin_changes(name, where, known)
    if not _NAME.fullmatch(name) or name in _TAKEN:
        raise InputError(f"name: {name} cannot be one", field="name", remedy=_NAMING.capitalize())
    if name in known.origins():
        raise InputError(
            f"name: there is a family {name} already ({known.origins()[name].text})",
            field="name",
            remedy="Choose another name; to change figures of a shipped one, give --changes",
        )
    words = " ".join((title or name.replace("_", " ").capitalize()).split())
    texts = {
        f"{name}.yaml": _skeleton("family.yaml", name).replace("My kind of machine", words),
        f"{name}{CASES_ENDING}": _skeleton("cases.yaml", name),
    }
    return Begun(name, _write_new(where, texts))


def _begin_changes(name: str, where: Path, known: Catalog) -> Begun:
    if name not in families():
        raise InputError(
            f"name: {name} is not shipped, so there is nothing of it to change",
            field="name",
            remedy=f"Shipped are {', '.join(families())}",
        )
    family = known.load(name)
    fault = next(iter(family.faults.values()))
    text = _skeleton("changes.yaml", name)
    text = text.replace("my_place", f"faults.{fault.id}.prior")
    text = text.replace("my_figure", f"{fault.prior:.10g}")
    return Begun(name, _write_new(where, {f"{name}{CHANGES_ENDING}": text}))


def _skeleton(file: str, name: str) -> str:
    return (SKELETON / file).read_text(encoding="utf-8").replace(_OF_SKELETON, name)


def _write_new(where: Path, texts: Mapping[str, str]) -> tuple[str, ...]:
    there = [name for name in texts if (where / name).exists()]
    if there:
        raise InputError(
            f"{where / there[0]} exists already",
            field="name",
            remedy="Choose another name, or move that file away",
        )
    try:
        for name, text in texts.items():
            # "x": a file that came meanwhile is not written over
            with (where / name).open("x", encoding="utf-8") as out:
                out.write(text)
    except OSError as error:
        raise InputError(
            f"{where} cannot be written: {error.strerror}", field="name", remedy="Choose a folder"
        ) from error
    return tuple(str(where / name) for name in texts)
