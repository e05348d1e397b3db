import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.sensitivity import _minutes_text, _percent, two_ways
from counterpoise.workshop.jobs.entries import Closed, Entry, Intake, Job
from counterpoise.workshop.jobs.settings import Settings

FAMILY = load_family("front_loader")


def job_of(owner, complaints, *bodies):
    intake = Intake("front_loader", owner, "invented", complaints, 7.0)
    return Job(
        1,
        tuple(
            Entry(i, "2026-01-01T00:00:00Z", "ada", body)
            for i, body in enumerate([intake, *bodies], 1)
        ),
    )


@pytest.fixture(scope="module")
def analysis():
    return analyse(
        JobCase(job_of("workshop", ("shakes", "stops_unbalance")), FAMILY, Settings()),
        Effort(growths=4),
    )


def test_what_is_said_of_the_two_ways_sums_to_what_the_comparison_says(analysis):
    ways = two_ways(analysis)
    assert ways.lead.sum() == pytest.approx(analysis.comparison.others[0].behind)


def test_each_turning_lies_on_the_side_it_names_and_is_of_something_known():
    jobs = [
        job_of(owner, complaints)
        for owner in ("workshop", "customer")
        for complaints in (("knocks",), ("walks", "knocks"), ("shakes", "stops_unbalance"))
    ]
    assessed = [assess(JobCase(job, FAMILY, Settings()), Effort(growths=4)) for job in jobs]
    known = {"chance": FAMILY.faults, "price": FAMILY.parts, "worth": {"working"}}
    for found in assessed:
        if found.contest is None:
            continue
        # of two about as good nothing has to be true for the other to be better
        assert not found.rivals[0].about_as_good
        assert (found.contest.kind, found.contest.id) == (found.rivals[0].kind, found.rivals[0].id)
        assert 1 <= len(found.contest.turnings) <= 3
        for turning in found.contest.turnings:
            assert turning.more == (turning.at > turning.now)
            assert turning.id in known.get(turning.kind, {**FAMILY.checks, **FAMILY.repairs})
            assert "(now " in turning.text
    assert any(found.contest for found in assessed)


def test_a_closed_job_has_no_contest():
    closed = job_of("workshop", ("shakes",), Closed("scrap"))
    assert assess(JobCase(closed, FAMILY, Settings()), Effort(growths=1)).contest is None


@pytest.mark.parametrize(
    ("p", "up", "said"),
    [
        (0.4512, True, "46 %"),
        (0.4512, False, "45 %"),
        (0.0393, False, "3.9 %"),
        (0.0393, None, "3.9 %"),
        (0.92, True, "92.0 %"),
    ],
)
def test_a_threshold_is_rounded_so_that_what_is_said_is_true(p, up, said):
    assert _percent(p, up=up) == said


@pytest.mark.parametrize(
    ("minutes", "up", "said"),
    [
        (5.6, True, "6 minutes"),
        (5.6, False, "5.5 minutes"),
        (1, None, "1 minute"),
        (11.2, True, "12 minutes"),
    ],
)
def test_minutes_are_rounded_alike(minutes, up, said):
    assert _minutes_text(minutes, up=up) == said
