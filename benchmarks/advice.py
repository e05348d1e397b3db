"""Is what the bench page says of its step true? Signs of "Instead", and promises kept.

``python -m benchmarks.advice --decisions 500 --keep build/advice.jsonl``. Each decision is a drawn
job with up to three answers. Finished decisions stay in the file, one a line; run it again to go
on.

Signs: the advised step (by bounds alone) and its runner-up. "Before" says that the runner-up costs
the difference of two lower bounds; "after" says what the comparison on the same machines says. The
reference works many more machines through to the end under both, with luck of their own: planned
anew after each finding by the bench's planner at the bench's effort (``--policy bench``), or by the
policy that looks before it repairs (``--policy plain``, the default: hundreds of times as fast).

Promises: one answer of the advised check is drawn. "Before" promises what the tree says of it and
then advises by bounds alone; "after" promises what was looked ahead, and then assesses the job
anew.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.replanning import Replanned
from counterpoise.catalog.loader import families, load_family
from counterpoise.reasoning.actions import action_of
from counterpoise.reasoning.planning.first_steps import FirstSteps
from counterpoise.reasoning.planning.forecast import MACHINES
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines
from counterpoise.workshop.diagnosis.analysis import EFFORT, measures_of
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.problem import index_of, plan_problem
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.assessments import LEAST_ANSWER, Assessments
from counterpoise.workshop.studies.world import World, draw_machine

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.reasoning.hypotheses import Floats
    from counterpoise.workshop.diagnosis.problem import PlannedProblem

LONG_AGO = "2000-01-01T00:00:00Z"
MOST_ANSWERED = 3
SURE = 2.0  # standard errors of the reference by which a sign must be off to be called wrong
NOTHING = 1.0  # minor units; a cost below this was said to be "as good"


def planned_of(case: JobCase) -> PlannedProblem:
    """The job planned as the bench page plans it, before any comparison."""
    return plan_problem(case.situation, case.settings, case.supply, EFFORT)


def answered(case: JobCase, check: str, outcome: str) -> JobCase:
    """The job with one more finding."""
    job = case.job
    entry = Entry(len(job.entries) + 1, LONG_AGO, "", Finding(check, outcome))
    return replace(case, job=Job(job.number, (*job.entries, entry)))


def drawn_outcome(chances: Floats, outcomes: tuple[str, ...], rng: np.random.Generator) -> str:
    """An outcome's id by its chances (O,)."""
    return outcomes[int(rng.choice(len(outcomes), p=chances / chances.sum()))]


def decision(number: int, seed: int) -> tuple[JobCase, PlannedProblem, np.random.Generator]:
    """A job at some stage, planned; the same seed and number give the same."""
    rng = np.random.default_rng([seed, 11, number])
    family = load_family(families()[number // 2 % len(families())])
    world = World.of(family, Settings())
    machine = draw_machine(world, rng)
    owner = "customer" if number % 2 else "workshop"
    intake = Intake(family.id, owner, "virtual", machine.complaints, machine.age_years)  # type: ignore[arg-type]
    case = JobCase(Job(number, (Entry(1, LONG_AGO, "", intake),)), family, Settings())
    planned = planned_of(case)
    for _ in range(int(rng.integers(0, MOST_ANSWERED + 1))):
        first = planned.look.result().first
        if first.kind != "check":
            break
        rows = all_rows(world.model, case.situation.kinds, case.situation.joint)
        entry = family.checks[first.id]
        chances = rows.table(entry)[:, machine.truth]
        case = answered(case, first.id, drawn_outcome(chances, rows.check(entry).outcomes, rng))
        planned = planned_of(case)
    return case, planned, rng


def sign(case: JobCase, planned: PlannedProblem, machines: int, policy: str) -> dict[str, Any]:
    """What is said of the runner-up before and after, and the reference, in minor units."""
    plan, problem = planned.look.result(), planned.problem
    first, rival = plan.action_bounds[0], plan.action_bounds[1]
    measures = measures_of(case.prices, problem)
    a, b = (index_of(problem, bounds.action) for bounds in (first, rival))
    drawn = DrawnMachines(problem, measures, MACHINES, planned.look.work)
    steps = FirstSteps(plan, drawn)
    advised = steps.advised().first.number
    after = next(each for each in steps.seen_from(a).others if each.number == b)
    judge = Replanned(problem, measures, machines, planned.look.work, policy)
    behind, error = judge.behind(b, a)
    row = {
        "first": first.action.id, "rival": rival.action.id,
        "before": first.lower - rival.lower,
        "after": after.behind, "error": after.error, "about_as_good": after.about_as_good,
        "truth": behind, "truth_error": error,
        "advised": action_of(problem, advised).id,
    }  # fmt: skip
    if advised != a:
        row["advised_gain"], row["advised_gain_error"] = judge.behind(a, advised)
    return row


def promise(
    case: JobCase, planned: PlannedProblem, rng: np.random.Generator
) -> dict[str, Any] | None:
    """What was promised after an answer and what came, before and after; None without a check."""
    row: dict[str, Any] = {}
    look, first = planned.look, planned.look.result().first
    if first.kind == "check":
        index = index_of(planned.problem, first)
        acts = look.results_of(index)
        chances = np.array([mass for mass, _ in acts])
        chances[chances < LEAST_ANSWER] = 0.0
        outcomes = planned.problem.checks[index].outcomes
        outcome = drawn_outcome(chances, outcomes, rng)
        at = outcomes.index(outcome)
        came = planned_of(answered(case, first.id, outcome)).look.result().first
        row["before"] = [action_of(planned.problem, acts[at][1]).id, came.id]
    kept = Assessments()
    promised = kept.promising(kept.of(case), case).next
    if promised is not None and promised.kind == "check":
        likely = [answer for answer in promised.answers if answer.leads_to]
        if likely:
            chances = np.array([answer.probability for answer in likely])
            chosen = likely[int(rng.choice(len(likely), p=chances / chances.sum()))]
            then = assess(answered(case, promised.id, chosen.outcome)).next
            row["after"] = [chosen.leads_to, then.title if then else ""]
    return row or None


def counted(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """The figures of the decisions so far."""
    signs = [row["sign"] for row in rows if "sign" in row]
    sure = [s for s in signs if abs(s["truth"]) > SURE * s["truth_error"] + NOTHING]
    said_before = [s for s in sure if s["before"] >= NOTHING]
    said_after = [s for s in sure if not s["about_as_good"]]
    moved = [s for s in signs if "advised_gain" in s]
    promises = [row["promise"] for row in rows if row.get("promise")]
    figures: dict[str, Any] = {
        "decisions": len(rows), "signs": len(signs), "reference_sure": len(sure),
        "before_said": len(said_before),
        "before_wrong": sum(s["truth"] < 0 for s in said_before),
        "after_said": len(said_after),
        "after_wrong": sum(s["truth"] * s["after"] < 0 for s in said_after),
        "after_about_as_good": sum(s["about_as_good"] for s in signs),
        "advised_changed": len(moved),
        "changed_better": sum(
            s["advised_gain"] > SURE * s["advised_gain_error"] + NOTHING for s in moved
        ),
        "changed_worse": sum(
            s["advised_gain"] < -SURE * s["advised_gain_error"] - NOTHING for s in moved
        ),
    }  # fmt: skip
    if signs:
        gains = np.array([s.get("advised_gain", 0.0) for s in signs])
        figures["gain_a_decision"] = float(gains.mean())
        figures["gain_error"] = float(gains.std() / np.sqrt(gains.size))
        off = np.array([s["after"] - s["truth"] for s in signs])
        figures["median_off_before"] = float(
            np.median([abs(s["before"] - s["truth"]) for s in signs])
        )
        figures["median_off_after"] = float(np.median(np.abs(off)))
    for when in ("before", "after"):
        pairs = [p[when] for p in promises if when in p]
        figures[f"promises_{when}"] = len(pairs)
        figures[f"kept_{when}"] = sum(promised == came for promised, came in pairs)
    return figures


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--decisions", type=int, default=500)
    parser.add_argument("--first", type=int, default=0, help="number of the first decision")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, required=True, help="file of finished decisions")
    parser.add_argument("--parts", default="sign,promise")
    parser.add_argument("--machines", type=int, default=2000, help="of the reference")
    parser.add_argument("--policy", choices=("plain", "bench"), default="plain")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after")
    given = parser.parse_args()
    rows = [json.loads(line) for line in _lines(given.keep) if line.endswith("}")]
    done, end = {row["number"] for row in rows}, time.monotonic() + given.seconds
    given.keep.parent.mkdir(parents=True, exist_ok=True)
    for number in range(given.first, given.first + given.decisions):
        if number in done or time.monotonic() > end:
            continue
        case, planned, rng = decision(number, given.seed)
        row: dict[str, Any] = {"number": number}
        parts: dict[str, Callable[[], Any]] = {
            "sign": lambda c=case, p=planned: sign(c, p, given.machines, given.policy),
            "promise": lambda c=case, p=planned, r=rng: promise(c, p, r),
        }
        # where nothing can be tried nothing is compared
        if len(planned.look.result().action_bounds) > 1:
            row |= {part: parts[part]() for part in given.parts.split(",")}
        rows.append(row)
        with given.keep.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")
    print(json.dumps(counted(rows), indent=2))


def _lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


if __name__ == "__main__":
    main()
