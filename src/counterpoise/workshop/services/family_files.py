"""Files about families: what kind one is, what is wrong with it, and putting it into the folder.

Nothing is put there that would break a family: it is looked over beside what is there already, and
then moved in whole.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Literal

from counterpoise.catalog.cases import Case, load_cases
from counterpoise.catalog.loader import Catalog, families
from counterpoise.catalog.places import (
    CASES_ENDING,
    CHANGES_ENDING,
    DATA,
    SOURCES,
    SOURCES_ENDING,
)
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
class Added:
    """What was put into the folder: the file's kind, its family, and the files as they lie there.

    ``instead``: a shipped family of this id steps back for it.
    """

    kind: Kind
    id: str
    folder: str
    files: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    instead: bool = False


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
    book = _beside(path, CASES_ENDING)
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


def _beside(path: Path, ending: str) -> Path:
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


def add(path: Path, known: Catalog, *, replace: bool = False) -> Added:
    """Look a file over, and put it into the folder of the workshop's own families.

    A family brings its stories and sources along. ``replace``: also where the folder has such a
    file already, or the program ships a family of this id. Raises CatalogError with every mistake,
    InputError, NotFoundError; then nothing is changed.
    """
    folder = known.folder
    if folder is None:
        raise InputError("No folder is named", field="families", remedy="Give --families FOLDER")
    looked = look_over(path, known)
    if looked.problems:
        raise CatalogError(list(looked.problems))
    if path.resolve().parent == folder.resolve():
        raise InputError(
            f"{path.name} lies in the folder already",
            field="file",
            remedy="What is changed there counts at once",
        )
    texts = _to_be_added(looked, known)
    _refuse_replacing(looked, texts, folder, replace=replace)
    _move_in(texts, folder)
    files = tuple(str(folder / name) for name in texts)
    instead = looked.kind == "family" and looked.id in families()
    return Added(looked.kind, looked.id, str(folder), files, looked.warnings, instead)


def _to_be_added(looked: LookedOver, known: Catalog) -> dict[str, bytes]:
    """The files to be put into the folder, by name, the one that makes them count last."""
    path, family = looked.file, looked.id
    texts: dict[str, bytes] = {}
    if looked.kind != "stories":
        # sources beside the file become those of the family alone: others keep theirs
        sources = [path.with_name(SOURCES), _beside(path, SOURCES_ENDING)]
        if looked.kind == "changes":
            sources[1] = path.with_name(path.name.removesuffix(CHANGES_ENDING) + SOURCES_ENDING)
        found = [one.read_bytes() for one in sources if one.is_file()]
        if found:
            texts[f"{family}{SOURCES_ENDING}"] = b"\n".join(found)
    if looked.kind == "family" and looked.stories:
        texts[f"{family}{CASES_ENDING}"] = _beside(path, CASES_ENDING).read_bytes()
    if looked.kind == "stories" and family not in known:
        raise InputError(
            f"The stories are of {family}, which is in no folder yet",
            field="file",
            remedy=f"Add the family itself: it takes {path.name} along",
        )
    ending = {"family": ".yaml", "changes": CHANGES_ENDING, "stories": CASES_ENDING}[looked.kind]
    texts[f"{family}{ending}"] = path.read_bytes()
    return texts


def _refuse_replacing(
    looked: LookedOver, texts: Mapping[str, bytes], folder: Path, *, replace: bool
) -> None:
    if looked.kind == "family" and (folder / f"{looked.id}{CHANGES_ENDING}").exists():
        raise InputError(
            f"The folder changes figures of the shipped {looked.id}, which this would replace",
            field="file",
            remedy=f"Take {looked.id}{CHANGES_ENDING} out of {folder} first",
        )
    if replace:
        return
    if looked.kind == "family" and looked.id in families():
        raise InputError(
            f"A family {looked.id} is shipped",
            field="file",
            remedy="Give yours another id, or --replace to have it stand in the shipped one's"
            f" place; to change figures only, 'counterpoise catalog new {looked.id} --changes'",
        )
    for name, text in texts.items():
        if (folder / name).exists() and (folder / name).read_bytes() != text:
            raise InputError(
                f"There is another {name} in {folder} already",
                field="file",
                remedy="Give --replace to write over it",
            )


def _move_in(texts: Mapping[str, bytes], folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # beside where they go, so that moving is one step of the disk; hidden, so that none is read
        stage = Path(mkdtemp(prefix=".adding-", dir=folder))
        try:
            for name, text in texts.items():
                (stage / name).write_bytes(text)
            # sources first, the family last: whoever reads in between reads something whole
            for name in texts:
                (stage / name).replace(folder / name)
        finally:
            shutil.rmtree(stage, ignore_errors=True)
    except OSError as error:
        raise InputError(
            f"{folder} cannot be written: {error.strerror}",
            field="families",
            remedy="Give a folder that can be written as --families",
        ) from error
