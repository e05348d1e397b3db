"""Finds a family by id or file and reads it, or says everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.catalog import parsed_cache
from counterpoise.catalog.places import (
    CHANGES_ENDING,
    DATA,
    case_files,
    change_files,
    family_files,
    source_files,
)
from counterpoise.catalog.report import Origin, Report
from counterpoise.errors import CatalogError, NotFoundError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

# of a file that is not there
_NO_STAMP = (0, 0, 0, 0)


class Catalog(Mapping[str, "Family"]):
    """The families by id: those that are shipped, and those of the workshop's own ``folder``.

    An id of both is the workshop's own. What the folder changes of a shipped family is changed.
    As a mapping it holds the families that are sound, each read when first asked for; the others
    are ``broken``. Files that change, come or go are noticed when a family is next asked for.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder

    # --- what there is ---

    def origins(self) -> dict[str, Origin]:
        """Where each family is from, by id, sorted; broken ones too."""
        shipped, own = _shipped(), {} if self.folder is None else family_files(self.folder)
        changes = {} if self.folder is None else change_files(self.folder)
        files = {**shipped, **own}
        origins = {
            key: Origin(files[key], key in own, key in own and key in shipped, changes.get(key))
            for key in sorted(files)
        }
        # what changes a family that is not there: it is listed, so that somebody sees it
        lost = {key: Origin(path, own=True) for key, path in changes.items() if key not in files}
        return origins | lost

    def broken(self) -> dict[str, Report]:
        """The families that cannot be read, by id, with what is wrong; empty where all can be."""
        # what is shipped and unchanged is sound: the tests of the program see to it
        unsure = {key: at for key, at in self.origins().items() if at.own or at.changes}
        reports = {key: self.inspect_at(origin) for key, origin in unsure.items()}
        return {key: report for key, report in reports.items() if report.family is None}

    def case_books(self) -> list[tuple[str, Path]]:
        """(family, its stories), those shipped first; several where the workshop has some too."""
        own = {} if self.folder is None else case_files(self.folder)
        instead = {key for key, origin in self.origins().items() if origin.instead}
        # the stories shipped are about the shipped family, not about one in its place
        shipped = [(key, path) for key, path in case_files(DATA).items() if key not in instead]
        return [*shipped, *own.items()]

    # --- one of them ---

    def inspect(self, path_or_id: str | Path) -> Report:
        """The report on a family by its id, or on a file. Raises NotFoundError for neither."""
        origin = self.origins().get(str(path_or_id))
        # an id wins over a file of that name in the working folder
        return self.inspect_at(origin or self._file(path_or_id))

    def inspect_changes(self, path: Path, family: str) -> Report:
        """The report on a shipped family as a file would change it. Raises KeyError for none."""
        return self.inspect_at(Origin(_shipped()[family], changes=path.resolve()))

    def load(self, path_or_id: str | Path) -> Family:
        """The family of an id, or of a file.

        Raises CatalogError with every mistake, or NotFoundError.
        """
        report = self.inspect(path_or_id)
        if report.family is None:
            raise CatalogError(list(report.problems))
        return report.family

    def belongs(self, key: str) -> str:
        """Where the file of a family that is not there belongs, as a sentence."""
        if self.folder is None:
            return ""
        missing = "" if self.folder.is_dir() else " (there is no such folder yet)"
        return (
            f"A family of your own is the file {key}.yaml in {self.folder}{missing}:"
            f" 'counterpoise catalog add {key}.yaml' puts it there"
        )

    def _file(self, path_or_id: str | Path) -> Origin:
        path = Path(path_or_id)
        if path.is_file():
            # one name for one file: the cache must not hold it twice
            return self._changing(path.resolve()) or Origin(path.resolve(), own=True)
        # only a wrong name needs the words for it, and they bring the schema in
        from counterpoise.catalog.schema.messages import instead, sentence

        near = sentence(instead(str(path_or_id), self.origins()))
        raise NotFoundError(
            f"There is no family or file {path_or_id}",
            remedy=". ".join(text for text in (near, self.belongs(path.stem)) if text),
        )

    def _changing(self, path: Path) -> Origin | None:
        """A file that changes a shipped family, with that family; None for any other file."""
        of = _changed_by(path)
        return Origin(_shipped()[of], changes=path) if of in _shipped() else None

    def inspect_at(self, origin: Origin) -> Report:
        """The report on what lies where a family is from."""
        if origin.own and origin.file.name.endswith(CHANGES_ENDING):
            name, of = origin.file.name, origin.file.name.removesuffix(CHANGES_ENDING)
            known = f"shipped are {', '.join(_shipped())}"
            return Report(None, (f"{name}:1: there is no family {of} to change; {known}",), ())
        if origin.own and origin.changes is not None:
            name = origin.changes.name
            text = "is the workshop's own; change its own file, and take this one away"
            return Report(None, (f"{name}:1: {origin.file.stem} {text}",), ())
        files = tuple(f for f in (origin.file, origin.changes) if f is not None)
        beside = tuple(source_files(origin.changes or origin.file))
        # a changed source file changes what a family says of its figures, so it counts too
        stamp = tuple(_stamp(file) for file in (*files, *beside))
        report = _inspect(files, beside, stamp)
        # in a folder a family is found by the name of its file
        return _misnamed(origin.file, report) if origin.file.parent == self.folder else report

    # --- the mapping ---

    def __getitem__(self, key: str) -> Family:
        """A family by id. Raises KeyError where there is none of that id, or a broken one."""
        origin = self.origins().get(key)
        family = None if origin is None else self.inspect_at(origin).family
        if family is None:
            raise KeyError(key)
        return family

    def __iter__(self) -> Iterator[str]:
        broken = self.broken()
        return (key for key in self.origins() if key not in broken)

    def __len__(self) -> int:
        return len(self.origins()) - len(self.broken())

    def __contains__(self, key: object) -> bool:
        origin = self.origins().get(str(key))
        if origin is None:
            return False
        # what is shipped as it is need not be read for that
        return not (origin.own or origin.changes) or self.inspect_at(origin).family is not None


def families() -> list[str]:
    """The ids of the families that are shipped, sorted."""
    return list(_shipped())


def first_family() -> str:
    """The first of the shipped families: what is shown where nobody has said which kind."""
    return families()[0]


def load_family(path_or_id: str | Path) -> Family:
    """The family of a file, or of a shipped id.

    Read once; raises CatalogError with every mistake, or NotFoundError.
    """
    return SHIPPED.load(path_or_id)


def inspect_family(path_or_id: str | Path) -> Report:
    """Like :func:`load_family`, but returns mistakes and warnings, where that raises CatalogError.

    Raises NotFoundError all the same where there is neither file nor family of this name.
    """
    return SHIPPED.inspect(path_or_id)


# without a folder: what every workshop has
SHIPPED = Catalog()


# the folder of the program does not change while it runs
@lru_cache(maxsize=1)
def _shipped() -> Mapping[str, Path]:
    return family_files(DATA)


def _changed_by(path: Path) -> str:
    """The family that a file changes, empty where it is no such file."""
    if not path.name.endswith(CHANGES_ENDING):
        return ""
    from counterpoise.catalog.schema.yaml_tree import read_tree

    data = read_tree(path).data
    given = data.get("changes") if isinstance(data, dict) else None
    # where it does not say so itself, its name does
    return str(given or path.name.removesuffix(CHANGES_ENDING))


def _misnamed(file: Path, report: Report) -> Report:
    """The report, or that the file is not called as its family."""
    family = report.family
    if family is None or family.id == file.stem:
        return report
    lines = file.read_text(encoding="utf-8-sig").splitlines()
    line = next((n for n, text in enumerate(lines, 1) if text.startswith("family")), 1)
    what = f"the file is named {file.stem} and its family {family.id}"
    problem = f"{file.name}:{line}: {what}; name the file {family.id}.yaml"
    return Report(None, (problem,), report.warnings)


def _stamp(path: Path) -> tuple[int, int, int, int]:
    try:
        stat = path.stat()
    # a file that is not there has no stamp; whoever reads it says so in words
    except OSError:
        return _NO_STAMP
    # size too: two saves may fall within one tick of the disk's clock; the time of the last change
    # of the file itself, since a copy may bring the old time of its text along
    return (stat.st_mtime_ns, stat.st_ctime_ns, stat.st_size, stat.st_ino)


# the shipped families, a workshop's own, and a few under construction
@lru_cache(maxsize=64)
def _inspect(files: tuple[Path, ...], beside: tuple[Path, ...], stamp: object) -> Report:
    del stamp  # only tells a changed file from the one read before
    kept = parsed_cache.read(files, beside)
    # an older program may have kept something else under this name
    if isinstance(kept, Report):
        return kept
    # YAML and pydantic load only where a file has to be parsed
    from counterpoise.catalog.schema.parsing import parse_family

    report = parse_family(*files)
    if report.family is None:
        return report
    # whatever is computed of a family is kept under what it was read from
    family = replace(report.family, digest=parsed_cache.digest_of((*files, *beside)))
    report = replace(report, family=family)
    parsed_cache.write(files, beside, report)
    return report
