"""What each answer leads to is what comes: planned as it will be then, and kept until it is."""

import time
from dataclasses import replace

import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.jobs.entries import COULD_NOT_TELL, Finding, Intake
from counterpoise.workshop.services.assessments import LEAST_ANSWER
from counterpoise.workshop.services.workshop import Workshop

FRONT = load_family("front_loader")
TOP = load_family("top_loader")
JOBS = [
    Intake("front_loader", "customer", "third floor", ("shakes", "knocks"), 3.0),
    Intake("front_loader", "workshop", "hauled away", ("water_left",), 7.0),
    Intake("top_loader", "customer", "rented", ("shakes", "stops_unbalance"), 6.0),
]


class Counting:
    """The planner at little effort; counts how often it was asked."""

    def __init__(self):
        self.asked = 0

    def __call__(self, case):
        self.asked += 1
        return assess(case, Effort(growths=2))


@pytest.fixture
def planner():
    return Counting()


@pytest.fixture
def shop(store, planner):
    return Workshop(store, {"front_loader": FRONT, "top_loader": TOP}, planner)


def advised(shop, number):
    return shop.snapshot(number).assessment.next


@pytest.mark.parametrize("intake", JOBS, ids=lambda each: each.title)
def test_the_step_that_was_promised_is_the_step_that_comes(shop, planner, intake):
    number = shop.jobs.open(intake, "ada").number
    for turn in range(3):
        step = shop.snapshot(number).promising(ahead=True).next
        if step.kind != "check":
            break
        likely = [answer for answer in step.answers if answer.probability >= LEAST_ANSWER]
        assert all(answer.leads_to for answer in likely)
        assert not any(answer.leads_to for answer in step.answers if answer not in likely)
        answer = likely[turn % len(likely)]
        asked = planner.asked
        # a remark changes nothing that is computed
        shop.jobs.record(number, Finding(step.id, answer.outcome, note="by lamplight"), "bo")
        assert advised(shop, number).title == answer.leads_to
        assert planner.asked == asked


def test_a_check_that_was_done_does_not_come_again(shop):
    number = shop.jobs.open(JOBS[0], "ada").number
    done = set()
    for outcome in (None, COULD_NOT_TELL, None, None):
        step = advised(shop, number)
        if step.kind != "check":
            break
        assert step.id not in done
        done.add(step.id)
        likeliest = max(step.answers, key=lambda answer: answer.probability)
        shop.jobs.record(number, Finding(step.id, outcome or likeliest.outcome), "ada")
        assert not done & {rival.id for rival in shop.snapshot(number).assessment.rivals}
    assert len(done) > 1


def test_nothing_is_promised_that_was_not_planned(shop):
    number = shop.jobs.open(JOBS[0], "ada").number
    step = shop.snapshot(number).promising(ahead=False).next
    assert not any(answer.leads_to for answer in step.answers)
    shop.snapshot(number).promising(ahead=True)
    known = shop.snapshot(number).promising(ahead=False).next
    assert any(answer.leads_to for answer in known.answers)
    # another workshop's rate may lead elsewhere: what is known no longer holds
    shop.change_settings({"bench_rate_minor": 9999})
    step = shop.snapshot(number).promising(ahead=False).next
    assert not any(answer.leads_to for answer in step.answers)


def test_a_measured_answer_is_another_than_a_plain_one(shop, planner):
    number = shop.jobs.open(JOBS[0], "ada").number
    entry = next(check for check in FRONT.checks.values() if check.reading)
    outcome = next(iter(entry.outcomes))
    first = shop.snapshot(number)
    given = [Finding(entry.id, outcome), Finding(entry.id, outcome, reading=1.0, reading_sd=0.1)]
    answered = []
    for finding in given:
        last = first.job.entries[-1]
        entries = (*first.job.entries, replace(last, number=2, body=finding))
        answered.append(replace(first, job=replace(first.job, entries=entries)))
    for snapshot in answered:
        shop.assessments.of(snapshot)
    assert planner.asked == 2


def test_in_the_background_the_answers_are_planned_once_the_page_is_sent(shop, planner):
    number = shop.jobs.open(JOBS[0], "ada").number
    snapshot = shop.snapshot(number)
    likely = [a for a in snapshot.assessment.next.answers if a.probability >= LEAST_ANSWER]
    # not where a command looks once and ends
    snapshot.look_ahead()
    assert planner.asked == 1
    shop.assessments.ahead = True
    snapshot.look_ahead()
    end = time.monotonic() + 240.0
    while planner.asked < 1 + len(likely) and time.monotonic() < end:
        time.sleep(0.02)
    assert planner.asked == 1 + len(likely)
    while not any(a.leads_to for a in snapshot.promising(ahead=False).next.answers):
        assert time.monotonic() < end
        time.sleep(0.02)
    assert planner.asked == 1 + len(likely)


def test_what_fails_in_the_background_holds_up_no_other_job(store):
    asked = []

    def assessor(case):
        asked.append(case.job.number)
        if case.job.number == 1:
            raise RuntimeError("no solution")
        return assess(case, Effort(growths=0))

    shop = Workshop(store, {"front_loader": FRONT}, assessor)
    shop.assessments.ahead = True
    numbers = [shop.jobs.open(JOBS[0], "ada").number for _ in range(2)]
    for number in numbers:
        shop.snapshot(number).look_ahead()
        end = time.monotonic() + 60.0
        while number not in asked and time.monotonic() < end:
            time.sleep(0.02)
    assert set(asked) == set(numbers)
