"""The choice of the next machines against every possible choice."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.workshop.assessment import Assessment, OptionView, Step
from counterpoise.workshop.evidence import Entry, Intake, Job
from counterpoise.workshop.yard import Waiting, fitting, ranked, waiting


def one(number, gain, minutes):
    return Waiting(number, f"job {number}", "workshop", "look", gain, gain, minutes, round(gain * 60 / minutes))


JOBS = st.lists(st.tuples(st.integers(0, 9000), st.integers(1, 90)), max_size=9).map(
    lambda pairs: [one(i, gain, minutes) for i, (gain, minutes) in enumerate(pairs, 1)]
)


@given(JOBS, st.integers(0, 200))
def test_no_other_choice_gains_more(jobs, minutes):
    chosen = fitting(jobs, minutes)
    assert sum(job.minutes for job in chosen) <= minutes
    most = max(
        sum(job.gain_minor for job in some)
        for size in range(len(jobs) + 1)
        for some in combinations(jobs, size)
        if sum(job.minutes for job in some) <= minutes
    )
    assert sum(job.gain_minor for job in chosen) == most
    assert chosen == ranked(chosen)


@pytest.mark.parametrize("minutes", [-1, 7 * 24 * 60 + 1])
def test_a_time_that_cannot_be_meant(minutes):
    with pytest.raises(InputError, match="hours"):
        fitting([], minutes)


def found(value, minutes, kind, options):
    step = Step(kind, "x", "Do it", minutes, 1, (), (), (), ())
    ways = tuple(OptionView(key, key, worth, worth, worth, "", available=is_open) for key, worth, is_open in options)
    return Assessment(1, value, value, value, 0.0, minutes, step, "", "", (), (), ways)


JOB = Job(1, (Entry(1, "2026-03-01T09:00:00Z", "", Intake("small", "workshop", "Veltro", ("shakes",))),))


def test_what_can_be_had_without_the_bench_is_no_gain():
    ways = [("repair_resell", 9000, True), ("sell_as_is", 3000, True), ("scrap", -500, True), ("replace", 9900, False)]
    seen = waiting(JOB, found(9000, 90.0, "check", ways))
    assert (seen.gain_minor, seen.per_hour_minor, seen.minutes) == (6000, 4000, 90.0)


def test_where_only_a_decision_is_left_no_hour_is_counted():
    seen = waiting(JOB, found(3000, 0.0, "ending", [("sell_as_is", 3000, True)]))
    assert (seen.per_hour_minor, seen.minutes) == (None, 0.0)
    assert ranked([seen, one(2, 0, 30)])[-1] == seen
