"""Where families, their stories and their sources lie."""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).parent / "data"
SOURCES = "sources.yaml"
# a family's case book stands beside it under this ending
CASES_ENDING = ".cases.yaml"


def family_files(folder: Path) -> dict[str, Path]:
    """The family files of a folder by id (the file's name), sorted; empty where there is none."""
    # by name, so that lists and tests do not depend on the order of the disk
    return {path.stem: path for path in sorted(folder.glob("*.yaml")) if _is_family(path)}


def case_files(folder: Path) -> dict[str, Path]:
    """The case books of a folder by the id of their family, sorted; empty where there is none."""
    paths = sorted(folder.glob(f"*{CASES_ENDING}"))
    return {path.name.removesuffix(CASES_ENDING): path for path in paths}


def _is_family(path: Path) -> bool:
    # sources and stories lie in the same folder
    return path.name != SOURCES and not path.name.endswith(CASES_ENDING)
