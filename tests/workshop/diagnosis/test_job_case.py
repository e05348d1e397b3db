"""A case: what is computed of a job is computed once, and what is passed down is what was read."""

import pytest
from tests.workshop.diagnosis.bench import FAMILY, SHOP, case, job, mildest

from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.billing.donor_yield import assembly_yields
from counterpoise.workshop.billing.quote import quote_of
from counterpoise.workshop.diagnosis import replay as replaying
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess, assessment_of
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.parts.offers import NO_SUPPLY

QUICK = Effort(growths=0)


@pytest.fixture
def replays(monkeypatch):
    real, seen = replaying.replay, []
    monkeypatch.setattr(replaying, "replay", lambda *read: seen.append(read) or real(*read))
    return seen


def test_every_answer_about_a_case_comes_of_one_replay(replays):
    asked = case(mildest("look_upper_weight"))
    assessment = assess(asked, QUICK)
    costing = cost(asked)
    quote_of(asked, assessment, costing)
    assembly_yields(asked)
    assert replays == [(FAMILY, SHOP, asked.job)]


def test_a_case_computes_nothing_before_it_is_asked(replays):
    asked = case()
    assert asked.job.number == 1
    assert not replays


def test_without_a_supply_parts_come_at_catalog_prices():
    plain, told = JobCase(job(), FAMILY, SHOP), JobCase(job(), FAMILY, SHOP, NO_SUPPLY)
    assert plain == told
    assert plain.prices.supply is NO_SUPPLY


def test_an_analysis_keeps_the_case_it_was_made_of():
    asked = case()
    analysis = analyse(asked, QUICK)
    assert analysis.case is asked
    assert analysis.job is asked.job
    assert analysis.situation is asked.situation
    assert assessment_of(analysis) == assess(asked, QUICK)
