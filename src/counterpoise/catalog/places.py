"""Where families lie: those that are shipped, and the workshop's own with what it changed.

In a folder a family is ``ID.yaml``; beside it may stand its stories (``ID.cases.yaml``), its
sources (``ID.sources.yaml``; those of all families of the folder: ``sources.yaml``), and what the
workshop changed of a shipped family (``ID.changes.yaml``).
"""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).parent / "data"
SOURCES = "sources.yaml"
CASES_ENDING = ".cases.yaml"
CHANGES_ENDING = ".changes.yaml"
SOURCES_ENDING = ".sources.yaml"
# the workshop's own folder where nothing else is said: beside its store, as its keys are
OWN_FOLDER = "counterpoise-families"


def own_folder(given: str | None, store: str) -> Path:
    """The folder of the workshop's own families: as given, else beside the store (a file or URL).

    It need not exist: then the workshop has none of its own.
    """
    if given:
        return Path(given).absolute()
    # a database elsewhere has no folder of ours: then it is the one that the program was started in
    beside = Path() if "://" in store else Path(store).absolute().parent
    return (beside / OWN_FOLDER).absolute()


def family_files(folder: Path) -> dict[str, Path]:
    """The family files of a folder by id (the file's name), sorted; empty where there is none."""
    return {path.stem: path for path in _yaml(folder) if _is_family(path)}


def case_files(folder: Path) -> dict[str, Path]:
    """The case books of a folder by the id of their family, sorted; empty where there is none."""
    return _ending(folder, CASES_ENDING)


def change_files(folder: Path) -> dict[str, Path]:
    """What changes shipped families, by their ids, sorted; empty where there is none."""
    return _ending(folder, CHANGES_ENDING)


def source_files(family: Path) -> list[Path]:
    """The files with the sources of a family, the later ones before the earlier where both say."""
    name = family.name.removesuffix(CHANGES_ENDING).removesuffix(".yaml")
    places = (
        DATA / SOURCES,
        family.parent / SOURCES,
        family.parent / f"{name}{SOURCES_ENDING}",
    )
    # of a shipped family the first two are one file
    return [place for place in dict.fromkeys(one.resolve() for one in places) if place.is_file()]


def _yaml(folder: Path) -> list[Path]:
    # by name, so that lists and tests do not depend on the order of the disk; what an editor hides
    # beside a file (".family.yaml") is none
    return sorted(path for path in folder.glob("*.yaml") if not path.name.startswith("."))


def _ending(folder: Path, ending: str) -> dict[str, Path]:
    paths = [path for path in _yaml(folder) if path.name.endswith(ending)]
    return {path.name.removesuffix(ending): path for path in paths}


def _is_family(path: Path) -> bool:
    others = (CASES_ENDING, CHANGES_ENDING, SOURCES_ENDING)
    return path.name != SOURCES and not path.name.endswith(others)
