"""The price of a guarantee by repair and age: by hand, by playing it, and moved by closed jobs."""

from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.billing.test_costing import BACK, FRONT, SHOP, job, later

from counterpoise.workshop.billing.guarantee import (
    TRUSTED,
    HandedOver,
    catalog_returns,
    guarantee_terms,
    handed_over,
    whole_machine,
)
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief
from counterpoise.workshop.diagnosis.proof_spin import ProofSpin
from counterpoise.workshop.jobs.entries import Closed, Job, Proof, RepairDone

MENDED = job(
    RepairDone("replace_belt", 20.0), Proof(True, 12.0), Closed("repair_hand_back", (), 9000)
)
CAME_BACK = later(job(*BACK), 5, "2026-03-20")


def of(repair, age=6.0, jobs=(), price=None, shop=SHOP):
    return next(
        one for one in guarantee_terms(FRONT, shop, age, jobs, price) if one.repair == repair
    )


def test_a_slip_by_hand():
    """Of 100: 80 sound, of which 0.8 fail their proof; 20 faulty, of which it misses 0.8."""
    assert ProofSpin(0.04, 0.01).fault_left(0.8) == pytest.approx(0.8 / (80 * 0.99 + 0.8))
    proof = ProofSpin(0.1, 0.025)
    assert (proof.fault_left(1.0), proof.fault_left(0.0)) == (0.0, 1.0)
    assert ProofSpin(0.0, 0.0).fault_left(0.0) == 1.0


@pytest.mark.parametrize("repair", ["replace_dampers", "replace_belt", "replace_bearings"])
def test_how_often_a_repair_comes_back_against_playing_it(repair):
    """200,000 machines of 8 years with something for it to cure, mended and proven once each."""
    model, entry, rng = family_model(FRONT), FRONT.repairs[repair], np.random.default_rng(5)
    transition = model.transitions[repair]
    cures = np.bincount(
        transition.source, weights=transition.chance, minlength=len(model.hypotheses.sets)
    )
    weight = np.exp(prior_belief(model, 8.0, entry.needs)) * cures
    drawn = rng.multinomial(200_000, weight / weight.sum())
    handed = back = 0
    for truth in np.flatnonzero(drawn):
        here = transition.source == truth
        chances = transition.chance[here]
        ends = rng.multinomial(drawn[truth], [*chances, max(0.0, 1.0 - chances.sum())])
        for left, count in zip([*transition.target[here], truth], ends, strict=True):
            passed = rng.binomial(
                count, FRONT.proof_misses if left else 1.0 - FRONT.proof_misses / 4
            )
            handed += passed
            back += passed * bool(left)
    believed = catalog_returns(FRONT, entry, 8.0)
    assert handed > 10_000
    assert back / handed == pytest.approx(believed, abs=4 * np.sqrt(believed / handed))


def test_a_guarantee_costs_the_work_again_and_what_a_comeback_costs():
    one = of("replace_pump")
    entry = FRONT.repairs["replace_pump"]
    parts = FRONT.parts["drain_pump"].price_minor + entry.consumables_minor
    hands = entry.minutes * entry.people + FRONT.proof_minutes
    assert one.again_minor >= SHOP.comeback_minor + parts + hands * 50
    assert list(one.cost_minor) == sorted(one.cost_minor)
    assert one.cost_minor[-1] <= one.returns * one.again_minor + 1
    for cost, price in zip(one.cost_minor, one.price_minor, strict=True):
        assert 1.25 * cost - 1 <= price <= 1.25 * cost + 2


def test_how_long_for_a_price():
    assert of("replace_belt", price=0).longest_months == 0
    assert of("replace_belt", price=100_000).longest_months == 60
    assert of("replace_belt").longest_months is None


def test_ones_own_jobs_move_the_chance():
    assert handed_over(FRONT, [MENDED, CAME_BACK]) == {"replace_belt": HandedOver(2, 1)}
    plain, moved = of("replace_belt"), of("replace_belt", jobs=[MENDED, CAME_BACK])
    assert moved.returns == pytest.approx((plain.returns * TRUSTED + 1) / (TRUSTED + 2), rel=1e-6)
    assert (moved.jobs, moved.comebacks) == (2, 1)
    other = Job(
        2,
        (
            replace(MENDED.entries[0], body=replace(MENDED.intake, family="top_loader")),
            *MENDED.entries[1:],
        ),
    )
    assert handed_over(FRONT, [other]) == {}


def test_the_whole_machine_costs_more_the_older_it_is():
    prices = [whole_machine(FRONT, SHOP, age).price_minor[2] for age in (0, 5, 10, 15)]
    assert prices == sorted(prices)
    assert prices[-1] > 3 * prices[0]
