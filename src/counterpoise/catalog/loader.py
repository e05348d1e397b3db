"""Finds a family by id or file and reads it, or says everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.catalog import parsed_cache
from counterpoise.catalog.places import DATA, SOURCES, family_files
from counterpoise.catalog.report import Report
from counterpoise.errors import CatalogError, NotFoundError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family


def families() -> list[str]:
    """The ids of the families that are shipped, sorted."""
    return list(family_files(DATA))


def load_family(path_or_id: str | Path) -> Family:
    """The family of a file, or of a shipped id.

    Read once; raises CatalogError with every mistake, or NotFoundError.
    """
    report = inspect_family(path_or_id)
    if report.family is None:
        raise CatalogError(list(report.problems))
    return report.family


def inspect_family(path_or_id: str | Path) -> Report:
    """Like :func:`load_family`, but returns mistakes and warnings, where that raises CatalogError.

    Raises NotFoundError all the same where there is neither file nor family of this name.
    """
    path = _find(path_or_id)
    # a changed source file changes what a family says of its figures, so it counts too
    stamp = tuple(_stamp(file) for file in (path, path.parent / SOURCES, DATA / SOURCES))
    return _inspect(path, stamp)


def _find(path_or_id: str | Path) -> Path:
    # an id wins over a file of that name in the working folder
    name = str(path_or_id)
    if name in families():
        return DATA / f"{name}.yaml"
    path = Path(path_or_id)
    if path.is_file():
        # one name for one file: the cache must not hold it twice
        return path.resolve()
    # only a wrong name needs the words for it, and they bring the schema in
    from counterpoise.catalog.schema.messages import instead, sentence

    raise NotFoundError(
        f"There is no family or file {name}", remedy=sentence(instead(name, families()))
    )


def _stamp(path: Path) -> tuple[int, int]:
    try:
        stat = path.stat()
    # a file that is not there has no stamp; whoever reads it says so in words
    except OSError:
        return (0, 0)
    # size too: two saves may fall within one tick of the disk's clock
    return (stat.st_mtime_ns, stat.st_size)


# the shipped families and a few under construction
@lru_cache(maxsize=16)
def _inspect(path: Path, stamp: object) -> Report:
    del stamp  # only tells a changed file from the one read before
    shipped = path.parent == DATA
    if shipped:
        kept = parsed_cache.read(path, (DATA / SOURCES,))
        # an older program may have kept something else under this name
        if isinstance(kept, Report):
            return kept
    # YAML and pydantic load only where a file has to be parsed
    from counterpoise.catalog.schema.parsing import parse_family

    report = parse_family(path)
    # only shipped files are kept: a workshop's own file may be half-written at any moment
    if shipped and report.family is not None:
        parsed_cache.write(path, (DATA / SOURCES,), report)
    return report


class ShippedFamilies(Mapping[str, "Family"]):
    """The shipped families by id, each read when first asked for, so a list of jobs reads none."""

    def __getitem__(self, key: str) -> Family:
        """A family by id. Raises KeyError where none of that id is shipped."""
        if key not in _shipped():
            raise KeyError(key)
        return load_family(key)

    def __iter__(self) -> Iterator[str]:
        return iter(_shipped())

    def __len__(self) -> int:
        return len(_shipped())

    def __contains__(self, key: object) -> bool:
        # without reading the file: whether it is sound shows when it is asked for
        return key in _shipped()


# the folder of the program does not change while it runs
@cache
def _shipped() -> tuple[str, ...]:
    return tuple(families())
