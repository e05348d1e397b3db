"""A study's finished blocks in a file, so that a study that is stopped goes on where it was.

A block is a line, written whole or not at all: one that was cut short by a killed process is
dropped when the file is next used. Besides the figures of its jobs a block brings the decisions
that were first made in it, which every study of the same family, effort and workshop can use.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from hashlib import blake2b
from importlib.resources import files
from pathlib import Path
from typing import Protocol, TypedDict, cast

from counterpoise.catalog.family import Family
from counterpoise.catalog.loader import Catalog
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.settings import Settings

# In the order in which they are told; others read these names, so they stay.
POLICIES = (
    "ours",
    "as_before",
    "no_waiting",
    "one_step",
    "ratio",
    "information",
    "checklist",
)
# Played only where they are asked for: the planner with a rule less, and ways that take long.
ASKED_FOR = ("no_look", "bench", "careful")
# Of a job: net in minor units, minutes, chance of a comeback, chance that it was ended for good
# although worth saving, what that cost, and what it cost as believed then, in minor units.
PlayedJob = tuple[float, float, float, float, float, float]
# Rooms whose code and figures a study depends on: a change in any makes old blocks another study's.
SEALED_ROOMS = ("catalog", "reasoning", "money", "workshop")


class BlockFigures(TypedDict):
    """The jobs ``first`` to ``first + count`` of a study.

    ``perfect`` holds what one who knows what is wrong would earn of each job, in minor units;
    ``played`` by policy what came of each; ``learned`` decisions first made in this block, by a
    digest of the history.
    """

    first: int
    count: int
    perfect: list[float]
    played: dict[str, list[PlayedJob]]
    learned: dict[str, str]


class BlockLine(BlockFigures):
    """A block as a line of the file, with what it belongs to."""

    program: str
    seed: int
    perturb: bool
    known_share: float
    repeat_share: float


@dataclass(frozen=True)
class StudyOrder:
    """What to study. ``growths``: our planner's effort a decision; ``careful``: that mode too.

    ``ways`` are the ways of working played, none for the usual ones. ``known_share``: the chance of
    a feature of the machine to be put down at intake; ``repeat_share``: of a check to be done twice
    (both invented). ``folder``: where the workshop's own families lie, None for none. Raises
    InputError for fewer jobs than one, an unknown way, or a share that is no probability.
    """

    family: str
    jobs: int
    seed: int
    perturb: bool = False
    growths: int = 4
    careful: bool = False
    ways: tuple[str, ...] = ()
    known_share: float = 0.5
    repeat_share: float = 0.1
    settings: Settings = field(default_factory=lambda: Settings(people=2))
    folder: Path | None = None

    def machines(self) -> Family:
        """The family that is studied. Raises CatalogError, NotFoundError."""
        return Catalog(self.folder).load(self.family)

    @property
    def policies(self) -> tuple[str, ...]:
        """The names of the policies compared, ours first; the careful one only where asked for."""
        asked = {*(self.ways or POLICIES), *(["careful"] if self.careful else [])}
        return tuple(name for name in (*POLICIES, *ASKED_FOR) if name in asked)

    def __post_init__(self) -> None:
        if self.jobs < 1:
            raise InputError(f"{self.jobs} jobs", field="jobs", remedy="Give one or more")
        for name in self.ways:
            if name not in (*POLICIES, *ASKED_FOR):
                known = ", ".join((*POLICIES, *ASKED_FOR))
                raise InputError(
                    f"there is no way of working {name[:60]!r}",
                    field="ways",
                    remedy=f"Name some of: {known}",
                )
        for field_name in ("known_share", "repeat_share"):
            share = getattr(self, field_name)
            if not 0.0 <= share <= 1.0:
                raise InputError(
                    f"{share:g} is no probability",
                    field=field_name,
                    remedy="Give a number from 0 to 1",
                )


class Learner(Protocol):
    """What decisions are told to."""

    def learn(self, decisions: dict[str, str]) -> None:
        """Take over decisions."""


def fingerprint(order: StudyOrder) -> str:
    """A hexadecimal digest (18 letters) of what decisions depend on: program, effort, workshop."""
    depends: list[object] = [order.family, order.growths, asdict(order.settings)]
    # what is shipped is in the program's digest already
    if order.folder is not None and Catalog(order.folder).origins()[order.family].text != "shipped":
        depends.append(order.machines().digest)
    order_json = json.dumps(depends, sort_keys=True)
    return blake2b((_program_digest() + order_json).encode(), digest_size=9).hexdigest()


def append(path: Path, order: StudyOrder, block: BlockFigures) -> None:
    """Add a finished block; on disk when this returns. Raises OSError."""
    line = {"program": fingerprint(order), **_drawn_by(order), **block}
    with path.open("ab") as out:
        # one write, so that a killed process leaves a torn last line and no other
        out.write(json.dumps(line).encode() + b"\n")
        out.flush()
        os.fsync(out.fileno())


def _drawn_by(order: StudyOrder) -> dict[str, float]:
    """What the machines and their luck were drawn by."""
    return {
        "seed": order.seed,
        "perturb": order.perturb,
        "known_share": order.known_share,
        "repeat_share": order.repeat_share,
    }


def finished(path: Path, order: StudyOrder) -> dict[tuple[int, int], BlockLine]:
    """The blocks of this study that are in the file, by (first job, count); empty without a file.

    A torn last line is cut off. Raises InputError for a file that no study wrote.
    """
    if not path.exists():
        return {}
    content = path.read_bytes()
    # the last line is whole only if it ends
    end = content.rfind(b"\n") + 1
    if end < len(content):
        os.truncate(path, end)
    # figures of another program, seed or catalog would be summed with these without a word
    sought = {"program": fingerprint(order), **_drawn_by(order)}
    return {
        (line["first"], line["count"]): line
        for line in _lines(content[:end], path)
        if all(line.get(name) == value for name, value in sought.items())
        # a block played without the careful way does not serve a study with it
        and set(order.policies) <= set(line["played"])
    }


class Reader:
    """Reads the decisions that others added to the file since the last time."""

    def __init__(self, program: str) -> None:
        self._program, self._path, self._read_bytes = program, Path(), 0

    def catch_up(self, path: Path, learner: Learner) -> None:
        """Tell ``learner`` what is new, if anything. Raises InputError for a foreign file."""
        # read on from where it ended: the file grows to many megabytes
        if path != self._path:
            self._path, self._read_bytes = path, 0
        if not path.exists():
            return
        with path.open("rb") as source:
            source.seek(self._read_bytes)
            new = source.read()
        # another process may be in the middle of its line; it is read next time
        new = new[: new.rfind(b"\n") + 1]
        self._read_bytes += len(new)
        for line in _lines(new, path):
            if line["program"] == self._program:
                learner.learn(line["learned"])


def _lines(text: bytes, path: Path) -> Iterator[BlockLine]:
    # a file named by mistake must not be summed, and is left as it is
    needed = BlockLine.__required_keys__
    for number, line in enumerate(text.splitlines(), 1):
        try:
            block = json.loads(line)
            complete = needed <= set(block)
        except (ValueError, TypeError):
            complete = False
        if not complete:
            raise InputError(
                f"line {number} of {path} is not a block of a study",
                field="resume",
                remedy="Name a file that a study wrote, or a new one",
            )
        yield cast("BlockLine", block)


# Once a process: the source does not change under a running study.
@lru_cache(maxsize=1)
def _program_digest() -> str:
    digest = blake2b(digest_size=9)
    for room in SEALED_ROOMS:
        folder = Path(str(files("counterpoise") / room))
        # sorted, since a file system lists as it likes
        for source in sorted([*folder.rglob("*.py"), *folder.rglob("*.yaml")]):
            digest.update(source.read_bytes())
    return digest.hexdigest()
