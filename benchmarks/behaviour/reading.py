"""Read every page, twin and command of a recorded workshop."""

from __future__ import annotations

import random
import time
from collections.abc import Sequence
from typing import Any

from benchmarks.behaviour.constants import (
    COMMANDS,
    FAMILIES,
    FILES,
    GLOBAL,
    JOB_COMMANDS,
    PAGES,
    PAPERS,
    TYPED,
    Entry,
)
from benchmarks.behaviour.courses import QUOTED, WAYS
from benchmarks.behaviour.normalise import say
from benchmarks.behaviour.player import Player, Ranges, take_in
from benchmarks.behaviour.recorder import Recorder, file_name


def stock_up(desk: Recorder, rng: random.Random) -> None:
    """Put some parts on the shelf, and take a price list in."""
    changes = {"changes": {"workshop_name": "The invented workshop"}}
    desk.ask("start/settings", method="POST", path="/api/settings", json=changes)
    for family in FAMILIES:
        told = desk.command("start", f"catalog show {family} --json").told or {}
        parts = sorted(told.get("parts", {}))
        for part in rng.sample(parts, min(8, len(parts))):
            cost = rng.randrange(300, 9000)
            body = {
                "kind": rng.choice(("new", "new", "pattern", "used")),
                "count": rng.randrange(1, 4), "place": f"A{rng.randrange(9)}",
                "cost_minor": cost, "asked_minor": rng.choice((None, cost * 2)), "by": "A",
            }  # fmt: skip
            name = f"start/stock-{family}-{part}"
            desk.ask(name, method="POST", path=f"/api/stock/{family}/{part}", json=body)
        lines = [f"{part};{rng.randrange(200, 9999) / 100:.2f}" for part in rng.sample(parts, 6)]
        raw = {"raw": "text:" + "\n".join(["part;price", *lines, ""]), "type": "text/csv"}
        for what in ("preview", "import"):
            path = f"/api/prices/{what}?supplier=Supplier+A&family={family}&separator=semicolon"
            desk.ask(f"start/prices-{what}-{family}", method="POST", path=path, **raw)


def read_job(play: Player, commands: Sequence[tuple[int, str]]) -> None:
    """Read every page of a job, its twins and papers, some steps, and what the terminal says."""
    desk, number, folder = play.desk, play.number, play.folder
    base = f"/jobs/{number}"
    told = {part: desk.both(folder, f"{base}/{part}".rstrip("/")) for part in PAGES}
    for paper in PAPERS:
        desk.get(f"{folder}/{paper}", f"{base}/{paper}")
    if number % 5 == 1:
        for asked in ("estimate?used=true&discount=10%25", "quote?used=true", "twin?unbalance=0.5"):
            desk.both(folder, f"{base}/{asked}")
        for role in ("spin.svg?tall=true", "decision?option=scrap"):
            desk.get(f"{folder}/{file_name(role)}", f"{base}/{role}")
    if isinstance(told["steps"], list):
        lines = [line for group in told["steps"] for line in group["lines"]]
        advised = (told[""].get("assessment") or {}).get("next") or {"kind": "ending"}
        read_steps(play, lines, advised, spoken=number % 7 == 1)
    for every, words in commands:
        if number % every == 1 % every:
            desk.command(folder, words.replace("{n}", str(number)))


def read_steps(
    play: Player, lines: Sequence[dict[str, Any]], advised: dict[str, Any], *, spoken: bool
) -> None:
    """Read the advised step as it looks picked by hand, and others; ``spoken``: in words too."""
    desk, number, folder = play.desk, play.number, play.folder
    base = f"/jobs/{number}"
    seen = {advised.get("id")}
    if advised["kind"] != "ending":
        desk.both(folder, f"{base}/steps/{advised['kind']}/{advised['id']}")
        if spoken:
            desk.command(folder, f"job next {number} --pick {advised['kind']}:{advised['id']}")
    for kind, count in (("check", 2), ("repair", 1), ("proof", number % 3 == 0)):
        fit = [line["id"] for line in lines if line["kind"] == kind and line["id"] not in seen]
        for which in play.rng.sample(fit, min(count, len(fit))):
            desk.both(folder, f"{base}/steps/{kind}/{which}")
            if kind == "repair" and play.owner == "customer":
                desk.both(folder, f"{base}/quote?repair={which}")
                desk.both(folder, f"{base}/estimate?repair={which}")


def read_measures(desk: Recorder, jobs: dict[str, int]) -> None:
    """Read every form of a measurement for one job of each family, and what is understood."""
    for family, number in jobs.items():
        for kind, typed in TYPED.items():
            path, name = f"/jobs/{number}/measure/{kind}", f"measure-{family}/{kind}"
            desk.get(f"{name}.page", path)
            desk.get(f"{name}.twin", f"/api{path}")
            sent = {"method": "POST", "json": {"typed": typed}}
            desk.ask(f"{name}.understood.twin", path=f"/api{path}", **sent)
            form = {f"m.{box}": text for box, text in typed.items()}
            desk.ask(f"{name}.understood.page", method="POST", path=path, form=form)


def read_refusals(desk: Recorder) -> None:
    """What cannot be right, and how it is told."""
    wrong: tuple[tuple[str, dict[str, Any]], ...] = (
        ("/jobs", {"family": "kettle"}),
        ("/jobs", {"complaints": ["singing"]}),
        ("/jobs", {"age_years": 75}),
        ("/jobs", {"owner": "nobody"}),
        ("/jobs", {"promised": "soon"}),
        ("/jobs/1/findings", {"check": "look_feat", "outcome": "fine"}),
        ("/jobs/1/findings", {"check": "look_feet", "outcome": "purple"}),
        ("/jobs/1/findings", {"check": "measure_insulation", "reading": -5}),
        ("/jobs/1/findings", {"check": "measure_spring_length", "reading": 1e6}),
        ("/jobs/1/findings", {"check": "look_feet", "outcome": "", "expected_last": 1}),
        ("/jobs/1/repairs", {"repair": "replace_damper"}),
        ("/jobs/1/decision", {"option": "throw_away"}),
        ("/jobs/1/close", {"ending": "sold"}),
        ("/jobs/1/notes", {"text": ""}),
        ("/jobs/1/retractions", {"entry": 1}),
        ("/jobs/1/retractions", {"entry": 99}),
        ("/jobs/1/machine", {"values": {"dampers": 9}}),
        ("/jobs/999/findings", {"check": "look_feet", "outcome": "fine"}),
        ("/stock/front_loader/no_part", {"count": 1}),
    )
    for i, (path, body) in enumerate(wrong, 1):
        desk.ask(f"refused/{i:02d}.twin", method="POST", path=f"/api{path}", json=body)
    for i, path in enumerate(("/jobs/999", "/jobs/1/steps/check/none", "/ledger?month=x"), 1):
        desk.get(f"refused/get-{i}.page", path)
        desk.get(f"refused/get-{i}.twin", f"/api{path}")
    form = {"check": "look_feet", "outcome": "purple", "last": "1"}
    desk.ask("refused/form", method="POST", path="/jobs/1/findings", form=form)


def read_workshop(desk: Recorder, commands: Sequence[str]) -> None:
    """Read the pages that belong to no job."""
    for path in GLOBAL:
        desk.both("workshop", f"/{path}")
    for path in FILES:
        desk.get(f"workshop/file-{file_name(path)}", f"/{path}")
    told = desk.answers.get("workshop/stock.twin") or []
    items = told if isinstance(told, list) else told.get("items", [])
    for item in items[:8]:
        desk.both("workshop", f"/stock/{item['family']}/{item['item']}")
    for words in commands:
        desk.command("workshop", words)


def read_careful(desk: Recorder, jobs: Sequence[int]) -> None:
    """Some jobs again as a careful workshop sees them, and one with other prices; last of all."""
    for name, changes in (("careful", {"careful": True}), ("dear", {"labour_rate_minor": 9000})):
        sent = {"json": {"changes": changes}}
        desk.ask(f"{name}/settings", method="POST", path="/api/settings", **sent)
        for number in jobs:
            desk.get(f"{name}/job-{number:02d}.page", f"/jobs/{number}")
            desk.get(f"{name}/job-{number:02d}.twin", f"/api/jobs/{number}")


def play_all(desk: Recorder, jobs: int, seed: int, own: Sequence[str]) -> None:
    """Play the jobs and read everything. ``own``: commands in place of the usual ones."""
    job_commands = [(1, words) for words in own if "{n}" in words] if own else JOB_COMMANDS
    commands = [words for words in own if "{n}" not in words] if own else COMMANDS
    sheets = {one["family"]: one for one in desk.get("start/intake", "/api/jobs/new").told}
    stock_up(desk, random.Random(f"{seed} stock"))
    ranges, first = Ranges(desk), dict[str, int]()
    for number in range(1, jobs + 1):
        begun, rng = time.monotonic(), random.Random(f"{seed} job {number}")
        way = WAYS[number % len(WAYS)]
        taken = take_in(desk, number, rng, sheets, quoted=way in QUOTED)
        if taken is None:
            say(f"job {number} was refused")
            continue
        play = Player(desk, ranges, rng, f"job-{number:02d}", *taken)
        first.setdefault(play.family, number)
        for _ in range((number * 5) % 9):
            if not play.step():
                break
        way(play)
        read_job(play, job_commands)
        say(f"job {number} of {jobs}: {time.monotonic() - begun:.0f} s")
    read_measures(desk, first)
    read_refusals(desk)
    read_workshop(desk, commands)
    read_careful(desk, range(1, jobs + 1, 10))


def replay(desk: Recorder, asked: Sequence[Entry]) -> None:
    """Ask what was asked before, in the same order."""
    for i, entry in enumerate(asked, 1):
        desk.ask(**entry)
        if i % 100 == 0:
            say(f"request {i} of {len(asked)}")
