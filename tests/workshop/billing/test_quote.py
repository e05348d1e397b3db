"""The quote agrees with itself: price, chance, worth and other ways are of the same work."""

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP, job

from counterpoise.errors import InputError
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.billing.quote import answered, fee_minor, quote_of
from counterpoise.workshop.diagnosis.assess import suspects
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
    "repairs", [(), ("replace_drum_support",), ("new_tub_assembly",), ("replace_belt",)]
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
