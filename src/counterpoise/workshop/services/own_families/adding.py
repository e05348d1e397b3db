"""Putting a file about a family into the folder of the workshop's own, whole or not at all."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp

from counterpoise.catalog.loader import Catalog, families
from counterpoise.catalog.places import CASES_ENDING, CHANGES_ENDING, SOURCES, SOURCES_ENDING
from counterpoise.errors import CatalogError, InputError
from counterpoise.workshop.services.own_families.files import Kind, LookedOver, beside, look_over


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
        sources = [path.with_name(SOURCES), beside(path, SOURCES_ENDING)]
        if looked.kind == "changes":
            sources[1] = path.with_name(path.name.removesuffix(CHANGES_ENDING) + SOURCES_ENDING)
        found = [one.read_bytes() for one in sources if one.is_file()]
        if found:
            texts[f"{family}{SOURCES_ENDING}"] = b"\n".join(found)
    if looked.kind == "family" and looked.stories:
        texts[f"{family}{CASES_ENDING}"] = beside(path, CASES_ENDING).read_bytes()
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
