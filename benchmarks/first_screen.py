"""What stands on the first screen of the bench: jobs of both washers played in a real browser.

Each job is taken in with complaints drawn from its family, then follows the advice: the page is
opened at the size of a phone, it is measured where the answers end, and one answer is drawn by its
probability. ``python -m benchmarks.first_screen`` plays some ninety pages in a few minutes.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.web.browser import PHONE, chromium, served

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.web.app import create_app
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.assessment import Step
from counterpoise.workshop.jobs.entries import Body, Decision, Finding, Intake, Proof, RepairDone
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

FAMILIES = ("front_loader", "top_loader")
# what a hand answers with; the two shy answers below them are for when neither fits
PLACES = """() => {
  const now = document.querySelector('#now');
  const answers = [...now.querySelectorAll('.choice:not(.shy), .go, .reading input')]
    .filter(one => one.checkVisibility()).map(one => one.getBoundingClientRect());
  const bar = document.querySelector('.bar');
  return {
    first: Math.min(...answers.map(box => box.bottom)),
    last: Math.max(...answers.map(box => box.bottom)),
    edge: innerHeight - (bar ? bar.getBoundingClientRect().height : 0),
    long: document.documentElement.scrollHeight,
  };
}"""


@dataclass(frozen=True)
class Screen:
    """A page as measured, in CSS pixels from the top; ``edge``: where a bar begins, or it ends."""

    family: str
    job: int
    step: str
    first: float
    last: float
    edge: float
    long: float


def played(
    workshop: Workshop, jobs: int, most: int, rng: random.Random
) -> Iterator[tuple[int, Step]]:
    """Jobs that follow the advice, one state at a time: the job's number and its step."""
    for turn in range(jobs):
        family = workshop.family(FAMILIES[turn % len(FAMILIES)])
        heard = tuple(rng.sample(sorted(family.complaints), rng.choice((1, 1, 2))))
        owner = rng.choice(("customer", "workshop"))
        intake = Intake(family.id, owner, f"Veltro {turn + 4}", heard, float(rng.randint(2, 14)))
        number = workshop.jobs.open(intake, "ada").number
        for _ in range(most):
            step = workshop.snapshot(number).assessment.next
            if step is None:
                break
            yield number, step
            body = answered(step, rng)
            if body is None:
                break
            workshop.jobs.record(number, body)


def answered(step: Step, rng: random.Random) -> Body | None:
    """An answer drawn by its probability; a decision is followed once, and ends the job else."""
    if step.kind == "check":
        weights = [answer.probability for answer in step.answers]
        return Finding(step.id, rng.choices([a.outcome for a in step.answers], weights)[0])
    if step.kind == "repair":
        return RepairDone(step.id)
    if step.kind == "proof":
        return Proof(rng.random() < 0.8)
    return Decision(step.id) if step.id.startswith("repair") else None


def measured(jobs: int, most: int, seed: int, pictures: Path | None) -> list[Screen]:
    """Every state of the jobs played, as its page stands in the browser."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "workshop.db") as store:
        workshop = Workshop(
            store,
            {key: load_family(key) for key in FAMILIES},
            lambda case: assess(case, Effort(growths=0)),
        )
        with served(create_app(workshop)) as address, chromium() as browser:
            page = browser.new_context(viewport=PHONE, has_touch=True).new_page()
            screens = []
            for number, step in played(workshop, jobs, most, rng):
                page.goto(f"{address}/jobs/{number}")
                places: dict[str, Any] = page.evaluate(PLACES)
                family = workshop.jobs.get(number).intake.family
                screens.append(Screen(family, number, f"{step.kind} {step.id}", **places))
                if pictures:
                    page.screenshot(path=pictures / f"{len(screens):03}.png")
            return screens


def shares(screens: list[Screen]) -> dict[str, float]:
    """Shares of pages with the first answer and with all of them before the edge of the screen."""
    return {
        "states": len(screens),
        "first answer": sum(one.first <= one.edge for one in screens) / len(screens),
        "all answers": sum(one.last <= one.edge for one in screens) / len(screens),
        "longest page": max(one.long for one in screens),
    }


def main() -> None:
    """Play, measure, print; ``--list`` names each page and where its answers end."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=16)
    parser.add_argument("--most", type=int, default=7, help="states of one job at most")
    parser.add_argument("--seed", type=int, default=16)
    parser.add_argument("--list", action="store_true", help="each page too")
    parser.add_argument("--pictures", type=Path, help="folder for a picture of each")
    given = parser.parse_args()
    if given.pictures:
        given.pictures.mkdir(parents=True, exist_ok=True)
    screens = measured(given.jobs, given.most, given.seed, given.pictures)
    for one in screens if given.list else ():
        print(f"{one.family:12} {one.job:3} {one.first:6.0f} {one.last:6.0f}  {one.step}")
    json.dump(shares(screens), sys.stdout, indent=2)
    print()


if __name__ == "__main__":
    main()
