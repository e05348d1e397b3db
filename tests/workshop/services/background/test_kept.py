"""Kept figures of the open jobs: never shown as fresh when they are not, renewed where they are old."""

import threading
import time
from dataclasses import replace
from types import SimpleNamespace

import pytest
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.report.views.next_machine import yard
from counterpoise.workshop.diagnosis.assessment import Assessment, Step
from counterpoise.workshop.jobs.entries import Closed, Finding, Note
from counterpoise.workshop.parts.price_list import PriceLine
from counterpoise.workshop.services.background import kept as module
from counterpoise.workshop.services.workshop import Workshop

STEP = Step("check", "drum_by_hand", "Move the drum by hand", 5.0, 1, (), (), (), ())


class Assessor:
    """Counts what it is asked; a job is worth a hundred for each of its entries."""

    def __init__(self):
        self.asked = []

    def __call__(self, case):
        self.asked.append(case.job.number)
        worth = 100 * len(case.job.entries)
        return Assessment(case.job.number, worth, worth, worth, 0.0, 30.0, STEP, "", "", (), (), ())


@pytest.fixture
def assessor():
    return Assessor()


@pytest.fixture
def shop(store, assessor):
    return Workshop(store, {"small": FAMILY}, assessor)


@pytest.fixture
def numbers(shop):
    return [shop.jobs.open(INTAKE, "ada").number for _ in range(3)]


def again(shop, assessor, **families):
    """The workshop as another process opens it: nothing is remembered but what the store keeps."""
    assessor.asked.clear()
    return Workshop(shop.store, families or {"small": FAMILY}, assessor)


def test_what_is_kept_is_not_worked_out_again(shop, numbers, assessor):
    first = shop.kept.open_jobs()
    assert sorted(assessor.asked) == numbers
    assert [line.number for line in first.lines] == numbers[::-1]
    second = again(shop, assessor).kept.open_jobs()
    assert (second.figures, second.pending, assessor.asked) == (first.figures, (), [])


def test_a_job_that_moved_on_is_worked_out_again_and_no_other(shop, numbers, assessor):
    shop.kept.open_jobs()
    shop.jobs.record(numbers[1], Finding("drum_by_hand", "with_tub"), "ada")
    found = again(shop, assessor).kept.open_jobs()
    assert assessor.asked == [numbers[1]]
    assert [found.figures[n].value_minor for n in numbers] == [100, 200, 100]


def test_a_closed_job_is_none_of_them_until_it_comes_back(shop, numbers):
    shop.jobs.record(numbers[0], Closed("scrap", ()), "ada")
    assert {line.number for line in shop.kept.open_jobs().lines} == set(numbers[1:])
    shop.jobs.reopen(numbers[0], "knocks again", "ada")
    assert {line.number for line in shop.kept.open_jobs().lines} == set(numbers)
    assert {line.number for line in shop.jobs.open_lines()} == set(numbers)


def test_settings_catalog_and_program_make_all_old(shop, numbers, assessor, monkeypatch):
    shop.kept.open_jobs()
    shop.change_settings({"bench_rate_minor": 9999})
    again(shop, assessor).kept.open_jobs()
    assert sorted(assessor.asked) == numbers
    changed = replace(FAMILY, digest="another")
    again(shop, assessor, small=changed).kept.open_jobs()
    assert sorted(assessor.asked) == numbers
    monkeypatch.setattr(module, "_program", lambda: "9.9")
    again(shop, assessor, small=changed).kept.open_jobs()
    assert sorted(assessor.asked) == numbers


def test_a_price_of_nothing_that_a_job_needs_costs_a_look_and_no_plan(shop, numbers, assessor):
    shop.kept.open_jobs()
    line = PriceLine(1, "small", "no_such_part", "new", 100, 1, None, "", "", "")
    shop.store.prices.add("Odo", "list.csv", [line], "ada")
    shop = again(shop, assessor)
    shop.kept.at_once_s = 0.0
    assert {line.number for line in shop.kept.open_jobs().pending} == set(numbers)
    assert shop.kept.renew_old(lambda: False)
    assert assessor.asked == []
    assert not shop.kept.open_jobs().pending
    assert not shop.kept.renew_old(lambda: False)


def test_the_yard_ranks_what_is_there_and_says_what_is_still_to_come(shop, numbers):
    shop.kept.renew(numbers[2])
    shop.kept.at_once_s = 0.0
    found = yard(shop)
    assert [job.number for job in found.bench] == [numbers[2]]
    assert {each.number for each in found.pending} == set(numbers[:2])
    assert [job.number for job in yard(shop, 0.6).fits] == [numbers[2]]


def test_what_fails_is_said_and_holds_up_no_other(shop, numbers, assessor):
    def failing(case):
        if case.job.number == numbers[1]:
            raise RuntimeError("no solution")
        return assessor(case)

    shop = Workshop(shop.store, {"small": FAMILY}, failing)
    assert shop.kept.renew_old(lambda: False)
    assert set(assessor.asked) == {numbers[0], numbers[2]}
    # what cannot be worked out is not tried for ever
    assert not shop.kept.renew_old(lambda: False)
    shop = Workshop(shop.store, {}, assessor)
    assert set(shop.kept.open_jobs().failed) == set(numbers)


def until(holds):
    end = time.monotonic() + 30.0
    while not holds() and time.monotonic() < end:
        time.sleep(0.01)
    assert holds()


def test_what_is_written_is_worked_ahead_of_and_the_newest_goes_first(shop, numbers, assessor):
    shop.written(numbers[0])
    assert assessor.asked == []
    shop.work_ahead(0.0)
    shop.written(numbers[1])
    until(lambda: not shop.kept.open_jobs().pending)
    assert sorted(assessor.asked) == numbers
    assert assessor.asked[0] == numbers[1]
    shop.jobs.record(numbers[2], Note("by lamplight"), "ada")
    shop.written(numbers[2])
    until(lambda: not shop.kept.open_jobs().pending)
    assert assessor.asked[3:] == [numbers[2]]


def test_what_two_ask_for_at_once_is_computed_once(store):
    begun, go, asked = threading.Event(), threading.Event(), []

    def slow(case):
        asked.append(case.job.number)
        begun.set()
        go.wait(20)
        return SimpleNamespace(next=None)

    shop = Workshop(store, {"small": FAMILY}, slow)
    number = shop.jobs.open(INTAKE, "ada").number
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(shop.snapshot(number).assessment))
        for _ in range(3)
    ]
    for thread in threads:
        thread.start()
    assert begun.wait(20)
    go.set()
    for thread in threads:
        thread.join(20)
    assert (asked, len(found), len({id(each) for each in found})) == ([number], 3, 1)
