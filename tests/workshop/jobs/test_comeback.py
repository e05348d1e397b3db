"""Machines that came back: which closings count, and until when the guarantee lasts."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.workshop.small import INTAKE

from counterpoise.workshop.jobs.comeback import (
    closings,
    guaranteed,
    months_later,
    since_comeback,
)
from counterpoise.workshop.jobs.entries import Closed, Entry, Finding, Job, Note, Retraction
from counterpoise.workshop.jobs.settings import Settings

SETTINGS = Settings(warranty_months=6)


def job(*entries):
    """A job whose entries are (day, body), after an intake on the first of January."""
    dated = [("2026-01-01", INTAKE), *entries]
    return Job(1, tuple(Entry(n, f"{day}T09:00:00Z", "", b) for n, (day, b) in enumerate(dated, 1)))


def handed_over(back, ending="repair_hand_back", terms=None, day="2026-01-10"):
    return job(
        (day, Closed(ending, terms=terms or {})), (back, Retraction(2, "knocks", comeback=True))
    )


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(0, 240))
def test_months_later_is_the_same_day_or_the_last_of_a_shorter_month(day, months):
    later = months_later(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later + timedelta(1)).day == 1
    assert later.day <= day.day


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(0, 60), st.integers(0, 60))
def test_a_longer_guarantee_ends_no_earlier(day, months, more):
    assert months_later(day, months) <= months_later(day, months + more)


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
        (date(2026, 5, 31), 6, date(2026, 11, 30)),
        (date(2026, 5, 31), 0, date(2026, 5, 31)),
    ],
)
def test_months_by_the_calendar(day, months, later):
    assert months_later(day, months) == later


@pytest.mark.parametrize(
    ("back", "within"), [("2026-01-10", True), ("2026-07-10", True), ("2026-07-11", False)]
)
def test_the_last_day_of_the_guarantee_still_counts(back, within):
    assert guaranteed(handed_over(back), SETTINGS) is within


def test_the_guarantee_is_that_of_the_day_it_was_given():
    promised = {"warranty_months": 12.0}
    assert guaranteed(handed_over("2026-12-24", terms=promised), SETTINGS)
    assert not guaranteed(handed_over("2026-02-24", terms={"warranty_months": 0.0}), SETTINGS)


@pytest.mark.parametrize("ending", ["hand_back", "scrap", "part_out", "sell_as_is", "replace"])
def test_what_was_not_repaired_is_not_guaranteed(ending):
    assert not guaranteed(handed_over("2026-01-11", ending), SETTINGS)


def test_a_machine_that_never_came_back_is_under_no_guarantee():
    assert not guaranteed(job(("2026-01-10", Closed("repair_hand_back"))), SETTINGS)
    mistake = job(("2026-01-10", Closed("repair_hand_back")), ("2026-01-10", Retraction(2)))
    assert not guaranteed(mistake, SETTINGS)
    assert mistake.came_back == 0


def test_a_closing_taken_back_as_a_mistake_never_happened_one_taken_back_by_a_comeback_did():
    twice = job(
        ("2026-01-10", Closed("scrap")),
        ("2026-01-10", Retraction(2, "wrong job")),
        ("2026-01-11", Closed("repair_hand_back")),
        ("2026-02-01", Retraction(4, "knocks again", comeback=True)),
        ("2026-02-02", Closed("repair_hand_back")),
    )
    assert [entry.number for entry in closings(twice)] == [4, 6]
    assert twice.came_back == 5
    assert twice.closed == Closed("repair_hand_back")


def test_what_is_worked_on_since_it_came_back():
    back = job(
        ("2026-01-02", Finding("play", "some")),
        ("2026-01-10", Closed("repair_hand_back")),
        ("2026-02-01", Retraction(3, comeback=True)),
        ("2026-02-02", Note("louder now")),
    )
    assert [entry.number for entry in since_comeback(back)] == [5]
    never = job(("2026-01-02", Finding("play", "some")))
    assert since_comeback(never) == never.standing
