"""The quote of a job, and the customer's answer put down."""

from dataclasses import replace

import pytest
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.errors import ConflictError, InputError
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.entries import Proof, RepairDone
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.services.quote_answers import (
    QuoteReply,
    decision_for,
    quote_job,
    record_answer,
)

WORK = ("replace_dampers",)
USED = Receipt("bench", "damper_set", "used", 2, "B2", cost_minor=900, good=0.95)


@pytest.fixture
def bench(store):
    return ForeseeableWorkshop(store, {"bench": STOCKED})


@pytest.fixture
def number(bench):
    return bench.jobs.open(INTAKE, "ada").number


def reply(bench, number, option="repair_hand_back", **more):
    price = quote_job(bench.snapshot(number), WORK, more.get("terms", Terms())).quote.price_minor
    return QuoteReply(option, "Ms Ferrin", price, WORK, **more)


def test_a_quote_leaves_out_headings_with_nothing_under_them(bench, number):
    passages = quote_job(bench.snapshot(number), WORK).passages
    # a check is still advised, so it is headed as no more than a first estimate
    assert [passage.title for passage in passages[:2]] == ["First estimate", "What is wrong"]
    assert all(passage.sentences for passage in passages)
    assert len({passage.title for passage in passages}) == len(passages)


def test_yes_is_put_down_with_the_very_words_that_were_read(bench, number):
    quoted = quote_job(bench.snapshot(number), WORK)
    entry = record_answer(bench, bench.snapshot(number), reply(bench, number), "ada", 1)
    decision = bench.jobs.get(number).decision
    assert entry == 2
    assert (decision.option, decision.agreed_by) == ("repair_hand_back", "Ms Ferrin")
    assert decision.quoted_minor == decision.agreed_minor == quoted.quote.price_minor
    assert decision.ceiling_minor == quoted.quote.ceiling_minor
    assert decision.quote_words[-1] == quoted.quote.valid
    assert decision.quote_words[0].startswith("First estimate: ")
    assert decision.quote_words[1].startswith("What is wrong: ")
    assert len(decision.quote_words) == len(quoted.passages) + 1


def test_no_owes_the_fee_and_promises_no_ceiling(bench, number):
    record_answer(bench, bench.snapshot(number), reply(bench, number, "hand_back"), "ada")
    decision = bench.jobs.get(number).decision
    assert decision.agreed_minor == quote_job(bench.snapshot(number), WORK).fee_minor
    assert decision.ceiling_minor is None


def test_a_price_that_changed_meanwhile_is_refused_with_both_amounts(bench, number):
    old = reply(bench, number)
    bench.change_settings({"labour_rate_minor": 9900})
    with pytest.raises(ConflictError, match="now it is"):
        record_answer(bench, bench.snapshot(number), old, "ada")
    assert bench.jobs.get(number).decision is None


def test_somebody_who_wrote_in_between_is_not_overwritten(bench, number):
    snapshot, said = bench.snapshot(number), reply(bench, number)
    bench.jobs.record(number, RepairDone("replace_dampers"))
    with pytest.raises(ConflictError):
        record_answer(bench, snapshot, said, "ada", 1)


@pytest.mark.parametrize(
    ("option", "agreed_by", "field"),
    [("sing", "Ms Ferrin", "answer"), ("hand_back", "  ", "agreed_by")],
)
def test_an_answer_that_is_none_is_refused(bench, number, option, agreed_by, field):
    said = replace(reply(bench, number), option=option, agreed_by=agreed_by)
    with pytest.raises(InputError) as refused:
        decision_for(bench.snapshot(number), said)
    assert refused.value.field == field


def test_what_was_agreed_to_and_lies_on_the_shelf_is_reserved(bench, number):
    lot = bench.stock.receive(USED, "ada").number
    said = reply(bench, number, terms=Terms(used=True))
    record_answer(bench, bench.snapshot(number), said, "ada")
    assert bench.stock.book().lot(lot).held == ((number, 1),)
    assert bench.jobs.get(number).decision.used_parts
    bench.stock.release(number, "ada")
    assert bench.stock.held_for(number) == ()


def test_a_no_reserves_nothing(bench, number):
    bench.stock.receive(USED, "ada")
    said = reply(bench, number, "replace", terms=Terms(used=True))
    record_answer(bench, bench.snapshot(number), said, "ada")
    assert bench.stock.held_for(number) == ()


def test_reserving_twice_reserves_once(bench, number):
    lot = bench.stock.receive(USED, "ada").number
    for _ in range(2):
        costing = bench.snapshot(number).costing(WORK, Terms(used=True))
        bench.stock.reserve(number, costing, "ada")
    assert bench.stock.book().lot(lot).held == ((number, 1),)


def test_nothing_is_quoted_for_the_workshops_own_or_when_all_is_done(bench, number):
    own = bench.jobs.open(replace(INTAKE, owner="workshop")).number
    with pytest.raises(InputError, match="workshop's own"):
        quote_job(bench.snapshot(own), WORK)
    for body in (RepairDone("replace_dampers"), Proof(True)):
        bench.jobs.record(number, body)
    with pytest.raises(InputError, match="the work is done"):
        quote_job(bench.snapshot(number), WORK)
