"""Play a job by the step it is advised."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from benchmarks.behaviour.constants import FAMILIES, UNSURE
from benchmarks.behaviour.recorder import Answer, Recorder, file_name


@dataclass
class Ranges:
    """What a check that asks for a number can take, from the catalog, asked once."""

    desk: Recorder
    known: dict[str, tuple[float, float] | None] = field(default_factory=dict)

    def of(self, family: str, check: str) -> tuple[float, float] | None:
        """The lowest and the highest reading, None where there is none."""
        key = f"{family} {check}"
        if key not in self.known:
            told = self.desk.command("catalog", f"catalog show {key} --json").told or {}
            read = told.get("reading")
            self.known[key] = (float(read["low"]), float(read["high"])) if read else None
        return self.known[key]


@dataclass
class Player:
    """Plays one job: what it does is drawn from the seed and the number of the job alone."""

    desk: Recorder
    ranges: Ranges
    rng: random.Random
    folder: str  # where the job's answers are kept
    number: int
    family: str
    owner: str
    count: int = 0

    @property
    def mended(self) -> str:
        """How the job ends where the machine is repaired."""
        return "repair_resell" if self.owner == "workshop" else "repair_hand_back"

    def name(self, what: str) -> str:
        """A name for the next answer, in order."""
        self.count += 1
        return f"{self.folder}/work-{self.count:02d}-{what}"

    def look(self) -> dict[str, Any]:
        """The job as it stands; empty where it cannot be read."""
        told = self.desk.get(self.name("look"), f"/api/jobs/{self.number}").told
        return told if isinstance(told, dict) else {}

    def put(self, what: str, **body: Any) -> Answer:
        """Put an entry down: mostly as JSON, now and then by the form of the page."""
        body = {key: value for key, value in body.items() if value is not None}
        body["by"] = self.rng.choice(("A", "B. Hand", ""))
        name = self.name(what)
        if self.rng.random() < 0.25:
            path = f"/jobs/{self.number}/{what}"
            return self.desk.ask(name, method="POST", path=path, form=_form(body))
        path = f"/api/jobs/{self.number}/{what}"
        return self.desk.ask(name, method="POST", path=path, json=body)

    def send(self, what: str, body: dict[str, Any]) -> Answer:
        """Send JSON to an address of the job."""
        path = f"/api/jobs/{self.number}/{what}"
        return self.desk.ask(self.name(file_name(what)), method="POST", path=path, json=body)

    def step(self) -> bool:
        """Do what is advised; returns whether there is more to do."""
        told = self.look()
        advised = (told.get("assessment") or {}).get("next")
        if not advised:
            return False
        minutes = None
        if self.rng.random() < 0.5:
            minutes = round(float(advised["minutes"]) * self.rng.uniform(0.5, 2.0), 1)
        note = f"Remark {self.count}." if self.rng.random() < 0.2 else None
        more = {"minutes": minutes, "note": note, "expected_last": told["last"]}
        kind, which = advised["kind"], advised["id"]
        if kind == "check":
            self.put("findings", check=which, **self._found(advised), **more)
        elif kind == "repair":
            self.put("repairs", repair=which, **more)
        elif kind == "proof":
            self.put("proofs", passed=self.rng.random() < 0.6, **more)
        else:
            self.put("decision", option=which, why="As advised.", expected_last=told["last"])
            return False
        return True

    def _found(self, advised: dict[str, Any]) -> dict[str, Any]:
        drawn = self.rng.random()
        if drawn < 0.12:
            return {"outcome": UNSURE[drawn < 0.06]}
        span = self.ranges.of(self.family, advised["id"]) if advised["unit"] else None
        if span and drawn < 0.7:
            low, high = span
            read = self.rng.triangular(low, high, low + 0.2 * (high - low))
            sd = round(0.02 * (high - low), 3) if drawn < 0.3 else None
            return {"reading": float(f"{read:.3g}"), "reading_sd": sd}
        answers = [one for one in advised["answers"] if one["outcome"] not in UNSURE]
        weights = [one["probability"] + 0.05 for one in answers]
        return {"outcome": self.rng.choices(answers, weights)[0]["outcome"] if answers else "yes"}

    def one_check(self, **answer: Any) -> None:
        """Answer the advised step in a given way where it is a check, else another check."""
        told = self.look()
        advised = (told.get("assessment") or {}).get("next") or {}
        check = advised.get("id") if advised.get("kind") == "check" else "measure_insulation"
        self.put("findings", check=check, **answer)

    def last(self) -> int:
        """Number of the last entry."""
        return int(self.look().get("last") or 1)


def _form(body: dict[str, Any]) -> dict[str, Any]:
    """The fields of the page's form that say the same as a JSON body."""
    names = {"expected_last": "last", "agreed_minor": "agreed", "received_minor": "received"}
    made: dict[str, Any] = {}
    for key, value in body.items():
        if key.endswith("_minor"):
            told: Any = f"{value / 100:.2f}"
        elif key == "passed":
            told = "yes" if value else "no"
        elif isinstance(value, bool):
            told = "true" if value else ""
        else:
            told = value if isinstance(value, list) else str(value)
        if key != "reading_sd":  # the page does not ask for it
            made[names.get(key, key)] = told
    return made


def take_in(
    desk: Recorder, number: int, rng: random.Random, sheets: dict[str, Any], *, quoted: bool
) -> tuple[int, str, str] | None:
    """Open a job; returns its number, its family and its owner; None where it was refused.

    ``quoted``: a quote is to be answered, so the machine is a customer's.
    """
    family = FAMILIES[rng.random() < 0.4]
    sheet = sheets[family]
    complaints = [one["id"] for one in sheet["complaints"]]
    body: dict[str, Any] = {
        "family": family,
        "owner": _owner(rng, quoted=quoted),
        "complaints": rng.sample(complaints, rng.choice((0, 1, 1, 1, 2, 2, 3))),
        "age_years": rng.choice((None, 0.5, 1, 2, 3.5, 5, 6, 7, 8, 9, 11, 14, 19)),
        "features": {
            one["id"]: rng.choice(list(one["answers"]))
            for one in sheet["features"]
            if rng.random() < 0.6
        },
        "answers": [
            {"check": one["id"], "outcome": rng.choice(list(one["answers"]))}
            for one in sheet["questions"]
            if rng.random() < 0.2
        ],
        "figures": {
            one["id"]: _figure(one, rng.uniform(one["low"], one["high"]))
            for one in sheet["figures"]
            if rng.random() < 0.15
        },
        "title": rng.choice(("", "", f"Machine {number}")),
        "maker": rng.choice(("", "Maker A", "Maker B")),
        "model": rng.choice(("", "Model 1", "Model 2")),
        "contact": rng.choice(("", f"customer {number}")),
        "story": rng.choice(("", "It began last month & got worse: <loud>.")),
        "away": rng.random() < 0.15,
        "used_parts": rng.random() < 0.3,
        "by": rng.choice(("", "A")),
    }
    if body["owner"] == "workshop":
        body["paid_minor"] = rng.choice((0, 2000, 4550))
    elif rng.random() < 0.4:
        body["promised"] = f"<<day{rng.randrange(-1, 21):+d}>>"
    name = f"job-{number:02d}/work-00-jobs"
    told = desk.ask(name, method="POST", path="/api/jobs", json=body)
    return (int(told.told["job"]), family, str(body["owner"])) if told.fine else None


def _figure(asked: dict[str, Any], drawn: float) -> int:
    """A figure as it can be: pieces (of a few) are the fewest or the most."""
    low, high = float(asked["low"]), float(asked["high"])
    if high - low > 4:
        return round(drawn)
    return round(low if drawn - low < high - drawn else high)


def _owner(rng: random.Random, *, quoted: bool) -> str:
    """Whose machine it is; a customer's where a quote is to be answered."""
    # drawn either way, so that what is drawn after it does not move
    drawn = "workshop" if rng.random() < 0.5 else "customer"
    return "customer" if quoted else drawn
