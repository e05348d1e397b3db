"""The quote agrees with itself: price, chance, worth and other ways are of the same work."""

from dataclasses import replace

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP, job

from counterpoise.errors import InputError
from counterpoise.money.quote import out_of_ten
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.billing.quote import answered, fee_minor, quote_of
from counterpoise.workshop.diagnosis.assess import assess, suspects
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Finding, Proof, RepairDone

LOOSE = (Finding("look_upper_weight", "loose"), Finding("slow_turn_listen", "knocks_each_turn"))


def told(at, *repairs):
    situation = replay(FRONT, SHOP, at)
    found = Assessment(1, 0, 0, 0, 0.0, 0.0, None, "", "", (), suspects(situation), ())
    costing = cost(JobCase(at, FRONT, SHOP), repairs)
    return quote_of(JobCase(at, FRONT, SHOP), found, costing), costing, situation


@pytest.mark.parametrize(
    "repairs", [("replace_drum_support",), ("new_tub_assembly",), ("replace_belt",)]
)
def test_the_best_way_follows_from_price_and_chance(repairs):
    said, costing, situation = told(job(*LOOSE), *repairs)
    worth = Prices(FRONT, SHOP, "customer", situation.age_years).working
    gain = costing.works * worth - costing.estimate.payable_minor + fee_minor(costing)
    assert abs(gain) > 100
    assert said.alternatives[0].startswith(
        "Of the ways" if gain > 0 else "The repair is not the best way"
    )
    about = round(abs(gain) / 100)
    assert f"about {about} EUR {'worse' if gain > 0 else 'better'} for you" in said.alternatives[1]


def test_the_work_advised_is_weighed_as_on_every_page_and_a_check_still_due_makes_it_an_estimate():
    case = JobCase(job(*LOOSE), FRONT, SHOP)
    answer = assess(case)
    step = answer.next
    costing = cost(case, advised=step.id if step.kind == "repair" else "")
    said = quote_of(case, answer, costing)
    best = next(option for option in answer.options if option.best)
    assert said.alternatives[0].startswith(
        "Of the ways" if best.id == "repair_hand_back" else "The repair is not the best way"
    )
    assert bool(said.first) is (step.kind == "check")
    # the same quote while a check is advised: no promise, and it says which check
    checking = replace(answer, next=replace(step, kind="check", title="Look at the feet"))
    early = quote_of(case, checking, costing)
    assert "first estimate" in early.first[0]
    assert "Look at the feet" in early.first[0]
    assert "14 days" not in early.valid


def test_how_often_it_succeeds_and_comes_back_agree():
    """A machine comes back where the proof missed what the work left: never more often than it is left."""
    said, costing, situation = told(job(*LOOSE))
    left = situation.model.proof.fault_left(costing.works)
    assert left <= 1.0 - costing.works
    assert out_of_ten(costing.works) in said.cost[-1]
    assert "Once its proof spin ran true" in said.guarantee[0]


@pytest.mark.parametrize("repairs", [(), ("replace_belt",), ("new_tub_assembly",)])
def test_the_most_it_may_cost_is_near_the_price(repairs):
    estimate = told(job(*LOOSE), *repairs)[1].estimate
    most = estimate.gross_minor * (1.0 + SHOP.ceiling_over_percent / 100.0)
    assert estimate.payable_minor <= estimate.ceiling_minor < most + SHOP.ceiling_step_minor + 1


def test_a_no_owes_the_fee_with_tax_and_a_yes_the_price():
    costing = told(job(*LOOSE))[1]
    assert fee_minor(costing) == 3300
    no, yes = (
        answered(costing, "replace", " Mrs Ode "),
        answered(costing, "repair_hand_back", "Mrs Ode"),
    )
    assert (no.agreed_minor, no.ceiling_minor, no.agreed_by) == (
        fee_minor(costing),
        None,
        "Mrs Ode",
    )
    assert (yes.agreed_minor, yes.ceiling_minor) == (
        costing.estimate.payable_minor,
        costing.estimate.ceiling_minor,
    )
    assert yes.repairs == tuple(entry.id for entry in costing.repairs)


def test_there_is_nothing_to_quote_once_it_runs_true():
    with pytest.raises(InputError, match="the work is done"):
        told(job(RepairDone("tighten_upper_weight"), Proof(True)))


def test_the_workshop_quotes_itself_nothing():
    with pytest.raises(InputError, match="own"):
        told(job(*LOOSE, owner="workshop"))
