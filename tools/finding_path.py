"""The way of one finding, measured: ``python -m tools.finding_path [--json]``.

Puts one finding down, over the bench page, as JSON and at the terminal, asks what the job comes to,
and watches every function of the program on the way. A file is *passed* where a function of it
holds the finding. A form is a shape: a type with the names it keeps its fields under, or a text,
that holds the finding's remark at most two steps inside (an entry around a finding is a form, a job
around its entries is none). A copy is one object of such a shape.
The way ends where the likelihoods are multiplied into the belief; from there on it is numbers.
"""

from __future__ import annotations

import argparse
import asyncio
import dataclasses
import io
import json
import sys
import tempfile
import threading
from collections.abc import Mapping
from contextlib import redirect_stdout, suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import FrameType, SimpleNamespace
from typing import TYPE_CHECKING, cast
from urllib.parse import urlencode

from sqlalchemy import Row

import counterpoise
from counterpoise.catalog.loader import Catalog
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

if TYPE_CHECKING:
    from _typeshed import TraceFunction
    from fastapi import FastAPI

    from counterpoise.workshop.diagnosis.assessment import Assessment
    from counterpoise.workshop.diagnosis.job_case import JobCase

SOURCE = str(Path(counterpoise.__file__).parent) + "/"
# Letters only, so that no encoding changes it on the way.
MARK = "QzvKestrelQzv"
CHECK, OUTCOME = "look_belt", "dusty"
# One step inside is a field of it; two, what wraps a form. Three would be a job around its entries.
_DEEPEST = 2
_END = "workshop/diagnosis/replay.py"


@dataclass
class Way:
    """What held the finding: files by path, shapes with where each was first met, objects."""

    files: dict[str, str] = field(default_factory=dict)
    forms: dict[str, str] = field(default_factory=dict)
    # kept alive, or a later object could take the number of an earlier one
    copies: dict[int, object] = field(default_factory=dict)
    ended: bool = False

    def figures(self) -> dict[str, object]:
        """Counts and lists, as JSON values."""
        return {
            "files": len(self.files),
            "forms": len(self.forms),
            "copies": len(self.copies),
            "passed": self.files,
            "shapes": self.forms,
        }


def inside(value: object) -> dict[str, object] | None:
    """The fields of what can hold a form, by name; None for texts, numbers and lists."""
    if isinstance(value, Mapping):
        return {str(key): item for key, item in value.items()}
    if isinstance(value, type) or callable(value):
        return None
    if dataclasses.is_dataclass(value):
        return {part.name: getattr(value, part.name, None) for part in dataclasses.fields(value)}
    if isinstance(value, Row):
        return value._asdict()
    own = getattr(value, "__dict__", None)
    return dict(own) if isinstance(own, dict) else None


def depth(value: object, left: int = _DEEPEST) -> int | None:
    """How many steps inside the remark lies, 0 for the text itself; None where it is not there."""
    if isinstance(value, str):
        return 0 if MARK in value else None
    if isinstance(value, bytes | bytearray):
        return 0 if MARK.encode() in value else None
    if left == 0 or isinstance(value, int | float | list | tuple | set | frozenset | None):
        return None
    parts = inside(value) or {}
    steps = [step for part in parts.values() if (step := depth(part, left - 1)) is not None]
    return 1 + min(steps) if steps else None


def shape(value: object) -> str:
    """The name of a form: its type, and for a set of fields their names."""
    if isinstance(value, str | bytes | bytearray):
        return f"{type(value).__name__} of the whole"
    kind = f"{type(value).__module__}.{type(value).__qualname__}".removeprefix("builtins.")
    if isinstance(value, dict):
        return f"{kind}({', '.join(sorted(map(str, value)))})"
    return kind.removeprefix("counterpoise.")


def is_form(value: object) -> bool:
    """Whether a value is a form of the finding: not the bare remark, which is one field of it."""
    if isinstance(value, str):
        return MARK in value and CHECK in value
    if isinstance(value, bytes | bytearray):
        return MARK.encode() in value and CHECK.encode() in value
    return bool(depth(value))


def watch(way: Way) -> TraceFunction:
    """A trace function that notes in ``way`` what the program's functions hold of the finding."""

    def local(frame: FrameType, event: str, value: object) -> TraceFunction:
        if event == "return" and not way.ended:
            note(frame, value)
        return local

    def entered(frame: FrameType, _event: str, _value: object) -> TraceFunction | None:
        if way.ended or not frame.f_code.co_filename.startswith(SOURCE):
            return None
        note(frame, None)
        return local

    def note(frame: FrameType, value: object) -> None:
        where = frame.f_code.co_filename.removeprefix(SOURCE)
        at = f"{where}:{frame.f_code.co_name}"
        for item in (*frame.f_locals.values(), value):
            with suppress(Exception):  # a half-made object cannot be looked into yet
                if depth(item) is not None:
                    way.files.setdefault(where, at)
                if is_form(item):
                    way.copies.setdefault(id(item), item)
                    way.forms.setdefault(shape(item), at)
        # an empty job is replayed too where somebody looked before: only one that holds it counts
        if at == f"{_END}:replay" and value is not None and where in way.files:
            way.ended = True

    return entered


def over_the_page(workshop: Workshop, number: int) -> None:
    """The bench page's form, as a browser sends it."""
    fields = {"check": CHECK, "outcome": OUTCOME, "note": MARK, "by": "ada", "last": "1"}
    body = urlencode(fields).encode()
    _post(workshop, f"/jobs/{number}/findings", body, b"application/x-www-form-urlencoded", 303)


def as_json(workshop: Workshop, number: int) -> None:
    """The same to the JSON twin."""
    body = json.dumps({"check": CHECK, "outcome": OUTCOME, "note": MARK}).encode()
    _post(workshop, f"/api/jobs/{number}/findings", body, b"application/json", 201)


def at_the_terminal(workshop: Workshop, number: int) -> None:
    """The same by ``counterpoise job record``."""
    from counterpoise.cli.job.work import record

    args = [str(number), CHECK, OUTCOME, "--note", MARK, "--json"]
    with redirect_stdout(io.StringIO()):
        record.main(args, obj=workshop, standalone_mode=False)


def _post(workshop: Workshop, path: str, body: bytes, kind: bytes, status: int) -> None:
    answers: list[int] = []
    pieces = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> dict[str, object]:
        return pieces.pop(0) if pieces else {"type": "http.disconnect"}

    async def send(message: Mapping[str, object]) -> None:
        if message["type"] == "http.response.start":
            answers.append(int(str(message["status"])))

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST",
        "scheme": "http", "path": path, "raw_path": path.encode(), "query_string": b"",
        "root_path": "", "client": ("127.0.0.1", 1), "server": ("localhost", 80),
        "headers": [(b"host", b"localhost"), (b"content-type", kind),
                    (b"content-length", str(len(body)).encode())],
    }  # fmt: skip
    asyncio.run(_pages(workshop)(scope, receive, send))
    if answers != [status]:
        raise SystemExit(f"POST {path} answered {answers}, not {status}")


@cache
def _pages(workshop: Workshop) -> FastAPI:
    # built once, unwatched: a hundred routes are no part of the way
    from counterpoise.web.app import create_app

    return create_app(workshop)


WAYS = {"page": over_the_page, "json": as_json, "terminal": at_the_terminal}


def trace(name: str, folder: Path) -> Way:
    """Put the finding down one way, in a new store in ``folder``, and follow it to the belief."""
    way = Way()
    with Store(folder / f"{name}.db") as store:
        workshop = Workshop(store, Catalog(), _belief_alone)
        # Once unwatched: what is loaded or built a single time is no part of the way.
        rehearsed = _opened_job(workshop)
        WAYS[name](workshop, rehearsed)
        workshop.snapshot(rehearsed).assessment  # noqa: B018  # computed when asked for
        number, watcher = _opened_job(workshop), watch(way)
        threading.settrace(watcher)  # a page is answered in a thread of its own
        sys.settrace(watcher)
        try:
            WAYS[name](workshop, number)
            workshop.snapshot(number).assessment  # noqa: B018  # computed when asked for
        finally:
            sys.settrace(None)
            threading.settrace(None)
    if not way.ended:
        raise SystemExit(f"{name}: the finding did not reach the belief")
    return way


def _opened_job(workshop: Workshop) -> int:
    intake = Intake("front_loader", "workshop", "Traced", ("scrapes",), features={"drive": "belt"})
    return workshop.jobs.open(intake).number


def _belief_alone(case: JobCase) -> Assessment:
    # what is planned on the belief takes seconds and holds no finding any more
    case.situation  # noqa: B018  # computed when asked for
    return cast("Assessment", SimpleNamespace(next=None, why=""))


def main() -> None:
    """Print the figures of the three ways, and of all together."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print the lists as JSON")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        ways = {name: trace(name, Path(folder)) for name in WAYS}
    if arguments.json:
        print(json.dumps({name: way.figures() for name, way in ways.items()}, indent=2))
        return
    for name, way in ways.items():
        figures = way.figures()
        print(f"{name}: {figures['files']} files, {figures['forms']} forms, ", end="")
        print(f"{figures['copies']} copies")
        for file in way.files:
            print(f"  file  {file}")
        for form, at in way.forms.items():
            print(f"  form  {form}  ({at})")


if __name__ == "__main__":
    main()
