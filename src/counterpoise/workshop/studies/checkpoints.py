"""A study's finished blocks in a file, one a line, so that a study that is stopped goes on where it was.

A line is written whole or not at all: one that was cut short by a killed process is dropped when the file is next
used. Besides the figures of its jobs a block brings the decisions that were first made in it, which every study of the
same family, effort and workshop can use.
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
from typing import Any, Protocol

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.settings import Settings

POLICIES = ("ours", "one_step", "ratio", "information", "checklist")
MEANT = (
    "catalog",
    "reasoning",
    "money",
    "workshop",
)  # rooms whose code and figures a study depends on


@dataclass(frozen=True)
class Order:
    """What to study. ``growths`` is our planner's effort a decision."""

    family: str
    jobs: int
    seed: int
    perturb: bool = False
    growths: int = 4
    careful: bool = False  # the careful mode as one more way of working
    settings: Settings = field(default_factory=lambda: Settings(people=2))

    @property
    def ways(self) -> tuple[str, ...]:
        """The names of the ways of working compared."""
        return (*POLICIES, "careful") if self.careful else POLICIES

    def __post_init__(self) -> None:
        if self.jobs < 1:
            raise InputError(f"{self.jobs} jobs", field="jobs", remedy="Give one or more")


class Learner(Protocol):
    """What decisions are told to."""

    def learn(self, decisions: dict[str, str]) -> None:
        """Take over decisions."""


def print_of(order: Order) -> str:
    """A fingerprint of all that a decision depends on: program, catalogs, effort and workshop."""
    told = json.dumps([order.family, order.growths, asdict(order.settings)], sort_keys=True)
    return blake2b((_program() + told).encode(), digest_size=9).hexdigest()


def append(path: Path, order: Order, block: dict[str, Any]) -> None:
    """Add a finished block; on disk when this returns."""
    line = {"program": print_of(order), "seed": order.seed, "perturb": order.perturb, **block}
    with path.open("ab") as out:
        out.write(json.dumps(line).encode() + b"\n")
        out.flush()
        os.fsync(out.fileno())


def finished(path: Path, order: Order) -> dict[tuple[int, int], dict[str, Any]]:
    """The blocks of this study that are in the file, by first job and count; a torn last line is cut off."""
    if not path.exists():
        return {}
    whole = path.read_bytes()
    end = whole.rfind(b"\n") + 1
    if end < len(whole):
        os.truncate(path, end)
    sought = (print_of(order), order.seed, order.perturb)
    return {
        (line["first"], line["count"]): line
        for line in _lines(whole[:end], path)
        if (line["program"], line["seed"], line["perturb"]) == sought
        and set(order.ways) <= set(line["played"])
    }


class Reader:
    """Reads the decisions that others added to the file since the last time."""

    def __init__(self, program: str) -> None:
        self._program, self._path, self._read = program, Path(), 0

    def catch_up(self, path: Path, learner: Learner) -> None:
        """Tell ``learner`` what is new."""
        if path != self._path:
            self._path, self._read = path, 0
        if not path.exists():
            return
        with path.open("rb") as source:
            source.seek(self._read)
            new = source.read()
        new = new[: new.rfind(b"\n") + 1]
        self._read += len(new)
        for line in _lines(new, path):
            if line["program"] == self._program:
                learner.learn(line["learned"])


def _lines(text: bytes, path: Path) -> Iterator[dict[str, Any]]:
    for number, line in enumerate(text.splitlines(), 1):
        try:
            found = json.loads(line)
            known = {
                "program",
                "seed",
                "perturb",
                "first",
                "count",
                "learned",
                "played",
                "perfect",
            } <= set(found)
        except (ValueError, TypeError):
            known = False
        if not known:
            raise InputError(
                f"line {number} of {path} is not a block of a study",
                field="resume",
                remedy="Name a file that a study wrote, or a new one",
            )
        yield found


@lru_cache(maxsize=1)
def _program() -> str:
    seal = blake2b(digest_size=9)
    for room in MEANT:
        here = Path(str(files("counterpoise") / room))
        for source in sorted([*here.rglob("*.py"), *here.rglob("*.yaml")]):
            seal.update(source.read_bytes())
    return seal.hexdigest()
