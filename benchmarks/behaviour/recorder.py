"""Ask an address or a command, and keep what it says."""

from __future__ import annotations

import datetime as dt
import json
import re
import shlex
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from benchmarks.behaviour.constants import PATIENCE_S, REQUESTS, Entry
from benchmarks.behaviour.normalise import Plain
from benchmarks.behaviour.samples import raw_bytes


@dataclass
class Answer:
    """What came back: the status, and the JSON if it is some."""

    status: int
    told: Any = None

    @property
    def fine(self) -> bool:
        """Whether it was taken."""
        return self.status < 400


@dataclass
class Recorder:
    """Asks, keeps each answer as a file under ``out``, and keeps what was asked."""

    out: Path
    client: httpx.Client
    program: list[str]
    folder: Path
    surroundings: dict[str, str]
    plain: Plain
    asked: list[Entry] = field(default_factory=list)
    answers: dict[str, Any] = field(default_factory=dict)

    def ask(self, name: str, **entry: Any) -> Answer:
        """Ask one thing, under a name that is a file's name under ``out``."""
        entry = {"name": name, **entry}
        if name in self.answers:
            raise SystemExit(f"the name {name} was used twice")
        self.asked.append(entry)
        answer = self._command(entry) if "command" in entry else self._request(entry)
        self.answers[name] = answer.told
        return answer

    def get(self, name: str, path: str) -> Answer:
        """Read an address."""
        return self.ask(name, method="GET", path=path)

    def both(self, folder: str, path: str) -> Any:
        """Read a page and its JSON twin; returns the twin."""
        part = path.removeprefix(f"/jobs/{_number(path)}").strip("/") or "bench"
        name = f"{folder}/{file_name(part)}"
        self.get(f"{name}.page", path)
        return self.get(f"{name}.twin", f"/api{path}").told

    def command(self, folder: str, words: str) -> Answer:
        """Run a command of the terminal."""
        return self.ask(f"{folder}/cli-{file_name(words)}", command=words)

    def keep_asked(self) -> None:
        """Write down what was asked."""
        text = json.dumps(self.asked, indent=1, ensure_ascii=False)
        (self.out / REQUESTS).write_text(text + "\n", encoding="utf-8")

    def _request(self, entry: Entry) -> Answer:
        more: dict[str, Any] = {}
        if "json" in entry:
            more["json"] = self._filled(entry["json"])
        if "form" in entry:
            more["data"] = self._filled(entry["form"])
        if "raw" in entry:
            more["content"] = raw_bytes(entry["raw"])
            more["headers"] = {"content-type": entry["type"]}
        head = f"{entry['method']} {entry['path']}"
        try:
            path = self._filled(entry["path"])
            got = self.client.request(entry["method"], path, **more)
        except (httpx.HTTPError, LookupError) as error:
            self._keep(entry["name"], f"{head}: no answer, {type(error).__name__}")
            return Answer(599)
        kind = got.headers.get("content-type", "").partition(";")[0]
        lines = [f"{head}: {got.status_code} {kind} {got.headers.get('location', '')}".rstrip()]
        if got.content and path.endswith("sheet.pdf"):
            lines.append("<a paper with the time on it>")  # its bytes differ each time
        elif got.content:
            lines.append(self.plain.answer(kind, got.content))
        self._keep(entry["name"], "\n".join(lines))
        return Answer(got.status_code, got.json() if "json" in kind else None)

    def _command(self, entry: Entry) -> Answer:
        file = self.folder / "written"
        file.unlink(missing_ok=True)
        words = [word.replace("{file}", str(file)) for word in shlex.split(entry["command"])]
        got = subprocess.run(
            [*self.program, *words], cwd=self.folder, env=self.surroundings, capture_output=True,
            text=True, timeout=PATIENCE_S, check=False,
        )  # fmt: skip
        parts = [f"$ {entry['command']}: {got.returncode}", self.plain.text(got.stdout)]
        if got.stderr:
            parts += ["--- errors", self.plain.text(got.stderr)]
        if file.exists():
            parts += ["--- written", self.plain.text(file.read_text(encoding="utf-8"))]
        self._keep(entry["name"], "\n".join(parts))
        try:
            return Answer(200 if not got.returncode else 400, json.loads(got.stdout))
        except ValueError:
            return Answer(200 if not got.returncode else 400)

    def _filled(self, sent: Any) -> Any:
        """What is sent, with the days and the names that earlier answers gave filled in."""
        if isinstance(sent, dict):
            return {key: self._filled(value) for key, value in sent.items()}
        if isinstance(sent, list):
            return [self._filled(value) for value in sent]
        return re.sub(r"<<(.+?)>>", self._fill, sent) if isinstance(sent, str) else sent

    def _fill(self, found: re.Match[str]) -> str:
        name, _, key = found[1].partition("|")
        if not key:
            return (self.plain.today + dt.timedelta(int(name.removeprefix("day")))).isoformat()
        return str((self.answers.get(name) or {})[key])

    def _keep(self, name: str, text: str) -> None:
        file = self.out / f"{name}.txt"
        file.parent.mkdir(parents=True, exist_ok=True)
        lines = (line.rstrip() for line in text.splitlines())
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _number(path: str) -> str:
    found = re.match(r"/jobs/(\d+)", path)
    return found[1] if found else ""


def file_name(text: str) -> str:
    text = re.sub(r"<<.*?>>", "ID", text)
    return re.sub(r"[^A-Za-z0-9_.-]+", "-", text.replace("{file}", "FILE")).strip("-") or "home"
