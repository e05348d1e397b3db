"""The choice of the next machines against every possible choice."""

from datetime import date
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.workshop.diagnosis.assessment import Assessment, OptionView, Step
from counterpoise.workshop.jobs.entries import Entry, Intake, Job, Note
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.next_machine import (
    OpenJob,
    best_within,
    delay_cost,
    ranked,
    weigh_job,
)


def one(number, gain, minutes, delay=0, due=""):
    hourly = round((gain + delay) * 60 / minutes)
    return OpenJob(
        number, f"job {number}", "workshop", "look", gain, gain, minutes, hourly, "", delay, 0, due
    )


JOBS = st.lists(
    st.tuples(
        st.integers(0, 9000),
        st.integers(1, 90),
        st.integers(0, 2000),
        st.sampled_from(["", "", "2026-03-09"]),
    ),
    max_size=9,
).map(lambda rows: [one(i, *row) for i, row in enumerate(rows, 1)])


@given(JOBS, st.integers(0, 200))
def test_no_other_choice_gains_more(jobs, minutes):
    chosen = best_within(jobs, minutes)
    assert sum(job.minutes for job in chosen) <= minutes
    open_ones = [job for job in jobs if job.gain_minor > 0 and not job.parts_due]
    most = max(
        sum(job.now_minor for job in some)
        for size in range(len(open_ones) + 1)
        for some in combinations(open_ones, size)
        if sum(job.minutes for job in some) <= minutes
    )
    assert sum(job.now_minor for job in chosen) == most
    assert not any(job.parts_due for job in chosen)
    assert chosen == ranked(chosen)


@pytest.mark.parametrize("minutes", [-1, 7 * 24 * 60 + 1])
def test_a_time_that_cannot_be_meant(minutes):
    with pytest.raises(InputError, match="hours"):
        best_within([], minutes)


def found(value, minutes, kind, options):
    step = Step(kind, "x", "Do it", minutes, 1, (), (), (), ())
    ways = tuple(
        OptionView(key, key, worth, worth, worth, "", available=is_open)
        for key, worth, is_open in options
    )
    return Assessment(1, value, value, value, 0.0, minutes, step, "", "", (), (), ways)


SHOP = Settings(waiting_day_minor=100, late_day_minor=1200)
TODAY = date(2026, 3, 4)
JOB = Job(
    1, (Entry(1, "2026-03-01T09:00:00Z", "", Intake("small", "workshop", "Veltro", ("shakes",))),)
)


def test_what_can_be_had_without_the_bench_is_no_gain():
    ways = [
        ("repair_resell", 9000, True),
        ("sell_as_is", 3000, True),
        ("scrap", -500, True),
        ("replace", 9900, False),
    ]
    seen = weigh_job(JOB, found(9000, 90.0, "check", ways), SHOP, TODAY)
    assert (seen.gain_minor, seen.per_hour_minor, seen.minutes) == (6000, 4000, 90.0)


def test_where_only_a_decision_is_left_no_hour_is_counted():
    seen = weigh_job(JOB, found(3000, 0.0, "ending", [("sell_as_is", 3000, True)]), SHOP, TODAY)
    assert (seen.per_hour_minor, seen.minutes) == (None, 0.0)
    assert ranked([seen, one(2, 0, 30)])[-1] == seen


def customers(promised="", *more):
    intake = Intake("small", "customer", "Veltro", ("shakes",), promised=promised)
    bodies = (intake, *more)
    return Job(
        2, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in enumerate(bodies, 1))
    )


@pytest.mark.parametrize(
    ("promised", "cost"),
    [
        ("", 100),
        ("2026-03-01", 1300),
        ("2026-03-04", 1300),
        ("2026-03-05", 700),
        ("2026-03-15", 200),
    ],
)
def test_what_a_days_delay_costs(promised, cost):
    assert delay_cost(customers(promised), SHOP, TODAY) == cost
    assert delay_cost(JOB, SHOP, TODAY) == 0


def test_a_promise_moves_a_job_up_and_parts_to_come_move_it_out():
    way = [("repair_hand_back", 3000, True), ("hand_back", 0, True)]
    assessed = found(3000, 60.0, "repair", way)
    plain, due = (
        weigh_job(customers(), assessed, SHOP, TODAY),
        weigh_job(customers("2026-03-04"), assessed, SHOP, TODAY),
    )
    assert (plain.per_hour_minor, due.per_hour_minor, due.days_waiting) == (3100, 4300, 3)
    ordered = customers("2026-03-04", Note("springs", parts_due="2026-03-05"))
    waits = weigh_job(ordered, assessed, SHOP, TODAY)
    assert ranked([waits, plain, due]) == (due, plain, waits)
    assert best_within([waits], 600) == ()
    arrived = weigh_job(ordered, assessed, SHOP, date(2026, 3, 5))
    assert best_within([arrived], 600) == (arrived,)
