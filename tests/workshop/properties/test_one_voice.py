"""Money speaks with one voice: laws that the figures of a page keep, over drawn jobs of both owners."""

import math
from functools import cache

import numpy as np
import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.problem import panels_needed
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assessment_of
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.ways.going_on import going_on
from counterpoise.workshop.jobs.entries import (
    Decision,
    Entry,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
)
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.world import World, draw_machine

SHOP = Settings()
AT = "2026-03-01T09:00:00Z"
# customers' machines where the number is odd, the workshop's own where it is even
JOBS = [("front_loader", 0), ("front_loader", 1), ("front_loader", 3), ("top_loader", 4), ("top_loader", 5)]  # fmt: skip
# jobs that go on with a check
ASKING = [("front_loader", 7), *(job for job in JOBS if job != ("front_loader", 1))]


@cache
def family(name):
    return load_family(name)


@cache
def drawn(name, number):
    """A drawn job analysed, some of its advised checks answered as its machine would answer them."""
    rng = np.random.default_rng([11, number])
    machine = draw_machine(World.of(family(name), SHOP), rng)
    owner = "customer" if number % 2 else "workshop"
    intake = Intake(name, owner, "virtual", machine.complaints, machine.age_years)
    analysis = analyse(JobCase(Job(number, (Entry(1, AT, "", intake),)), family(name), SHOP))
    for _ in range(number % 3):
        if analysis.plan.first.kind != "check":
            break
        chances = answers(analysis)
        outcome = list(chances)[int(rng.choice(len(chances), p=list(chances.values())))]
        analysis = analyse(after(analysis, Finding(analysis.plan.first.id, outcome)))
    return analysis


def after(analysis, *bodies):
    job = analysis.job
    last = job.entries[-1].number
    entries = tuple(Entry(last + i, AT, "", body) for i, body in enumerate(bodies, 1))
    case = analysis.case
    return JobCase(Job(job.number, (*job.entries, *entries)), case.family, case.settings)


def answers(analysis):
    """The outcomes of the advised check with their chances, those that hardly come left out."""
    problem = analysis.planned.problem
    index = [check.id for check in problem.checks].index(analysis.plan.first.id)
    mass = problem.tables[index] @ problem.prior
    likely = {o: p for o, p in zip(problem.checks[index].outcomes, mass, strict=True) if p > 1e-6}
    return {outcome: p / sum(likely.values()) for outcome, p in likely.items()}


@pytest.mark.parametrize(("name", "number"), JOBS)
def test_the_best_way_is_the_advised_one_and_every_range_holds_its_value(name, number):
    answer = assessment_of(drawn(name, number))
    best = [option for option in answer.options if option.best]
    assert len(best) == 1
    if answer.next.kind == "ending":
        assert best[0].id == answer.next.id == answer.likely_end
        assert best[0].value_minor == answer.value_minor
    elif answer.next.kind == "repair":
        assert best[0].id.startswith("repair")
        # the way that is advised is the way that is marked: one figure for both
        assert abs(best[0].value_minor - answer.value_minor) <= 1
    elif drawn(name, number).held is None:
        # going on is advised, so nothing that could be done at once is worth more
        assert answer.value_minor + 2 * answer.error_minor + 100 >= best[0].value_minor
    assert answer.lower_minor <= answer.value_minor <= answer.upper_minor
    for option in answer.options:
        assert option.low_minor <= option.value_minor <= option.high_minor
        for sentence in option.hinges:
            # where it turns within the rounding, that is what is said
            then, told, now = sentence.partition(" (now ")
            assert not told or not then.endswith(now.split(")")[0])
            assert told or "only a little" in then


@pytest.mark.parametrize(("name", "number"), ASKING)
def test_what_is_expected_now_is_the_mean_of_what_will_be_expected(name, number):
    """The mean over the answers of the value after, less the check, is the value now: a martingale.

    Within its error, and not by much more than planning anew can add. An ending's value moves by the
    belief alone: there it holds to the last coin.
    """
    analysis = drawn(name, number)
    assert analysis.plan.first.kind == "check"
    problem = analysis.planned.problem
    check = next(each for each in problem.checks if each.id == analysis.plan.first.id)
    missing = panels_needed(problem.access, check.access) & ~problem.opened
    cost = check.cost + sum(
        panel.open + panel.close for i, panel in enumerate(problem.access) if missing >> i & 1
    )
    now = going_on(analysis)
    mean = variance = 0.0
    endings = np.zeros(len(problem.endings))
    for outcome, chance in answers(analysis).items():
        later = analyse(after(analysis, Finding(check.id, outcome)))
        value = going_on(later)
        mean += chance * value.value
        variance += (chance * value.error) ** 2
        endings += chance * (later.planned.problem.ending_values @ later.planned.problem.prior)
    error = math.sqrt(variance + now.error**2)
    assert abs(mean - cost - now.value) <= 4.0 * error + 100.0
    # what is left out as too rare differs from answer to answer, and is worth little
    means = problem.ending_values @ problem.prior
    assert endings == pytest.approx(means, abs=0.02 * np.abs(means).max() + 1.0)


def test_the_value_at_a_proof_is_the_mean_of_its_two_answers_and_a_proven_machine_takes_no_work():
    analysis = drawn("front_loader", 1)
    repair = analysis.planned.problem.repairs[0].id
    due = analyse(after(analysis, RepairDone(repair)))
    passed, failed = (
        analyse(after(analysis, RepairDone(repair), Proof(answer))) for answer in (True, False)
    )
    situation = due.situation
    true = float(situation.probabilities @ situation.model.proof.passes(situation.model.sound))
    spin = situation.family.proof_minutes * due.prices.repair_minute
    mean = true * going_on(passed).value + (1.0 - true) * going_on(failed).value
    assert going_on(due).value == pytest.approx(mean - spin)
    proven = assessment_of(passed)
    assert proven.minutes_expected == 0.0
    assert next(option for option in proven.options if option.best).id == proven.next.id


def test_a_decision_is_worth_what_was_decided_and_takes_no_bench():
    analysis = drawn("front_loader", 0)
    answer = assessment_of(analyse(after(analysis, Decision("scrap"))))
    assert answer.value_minor == SHOP.scrap_minor
    assert answer.minutes_expected == 0.0
    assert [option.id for option in answer.options if option.best] == ["scrap"]


def test_a_fault_is_said_to_end_the_machine_only_where_its_figures_say_so():
    """Two years old and a bearing: worth mending to its owner, so nothing warns of it."""
    intake = Intake("front_loader", "customer", "Veltro 6", ("rumbles",), 2.0, {"tub": "bolted"})
    said = (Finding("ask_since_when", "crept_up"), Finding("ask_grey_spots", "plain"))
    for age, ends in ((2.0, False), (20.0, True)):
        body = Intake(*[getattr(intake, n) for n in ("family", "owner", "title", "complaints")], age, intake.features)  # fmt: skip
        lines = enumerate((body, *said), 1)
        job = Job(1, tuple(Entry(i, AT, "", each) for i, each in lines))
        answer = assessment_of(analyse(JobCase(job, family("front_loader"), SHOP)))
        bearing = next(each for each in answer.suspects if each.title == "Main bearing worn")
        assert bearing.write_off is ends
        assert any("writes this machine off" in text for text in answer.warnings) is ends
