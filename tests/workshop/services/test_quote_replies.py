"""The answer to a quote: at the price that was read, in its words, reserved from the shelf."""

from dataclasses import replace

import pytest
from tests.workshop.billing.test_costing import FRONT

from counterpoise.errors import ConflictError, InputError
from counterpoise.workshop.diagnosis.assess import suspects
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.jobs.entries import Closed, Finding, Intake
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.services.quote_answers import (
    QuoteReply,
    decision_for,
    quote_job,
    record_answer,
)
from counterpoise.workshop.services.workshop import Workshop

INTAKE = Intake("front_loader", "customer", "Veltro 6", ("shakes",), 6.0, {"drive": "belt"})
LOOSE = (Finding("look_upper_weight", "loose"), Finding("slow_turn_listen", "knocks_each_turn"))
WORK = ("replace_belt",)


def by_suspects(case):
    """An assessment with suspects and no plan: the planner would take seconds."""
    found = suspects(case.situation)
    return Assessment(case.job.number, 0, 0, 0, 0.0, 0.0, None, "", "", (), found, ())


@pytest.fixture
def shop(store):
    made = Workshop(store, {"front_loader": FRONT}, by_suspects)
    made.change_settings({"labour_rate_minor": 6000, "tax_percent": 10.0})
    return made


@pytest.fixture
def number(shop):
    return shop.jobs.open(INTAKE, "ada", LOOSE).number


@pytest.fixture
def snapshot(shop, number):
    return shop.snapshot(number)


@pytest.fixture
def quoted(snapshot):
    return quote_job(snapshot, WORK)


def reply_to(quoted, option="repair_hand_back", **changes):
    reply = QuoteReply(option, "Mrs Ode", quoted.quote.price_minor, WORK)
    return replace(reply, **changes)


def test_the_entry_keeps_the_words_that_were_read(shop, number, snapshot, quoted):
    entry = record_answer(shop, snapshot, reply_to(quoted), "ada")
    decision = shop.jobs.get(number).entries[-1].body
    assert shop.jobs.get(number).entries[-1].number == entry
    assert decision.agreed_minor == decision.quoted_minor == quoted.quote.price_minor
    assert decision.repairs == WORK
    assert decision.quote_words[-1] == quoted.quote.valid
    headings = [words.partition(": ")[0] for words in decision.quote_words[:-1]]
    assert headings == [passage.title for passage in quoted.passages]


def test_no_heading_stands_over_nothing(quoted):
    passages = quoted.passages
    assert passages[0].title == "What is wrong"
    assert all(passage.sentences and all(passage.sentences) for passage in passages)
    assert len({passage.title for passage in passages}) == len(passages)


def test_an_answer_to_another_price_is_refused(shop, number, snapshot, quoted):
    for off in (-1, 1):
        stale = reply_to(quoted, price_minor=quoted.quote.price_minor + off)
        with pytest.raises(ConflictError, match="now it is"):
            record_answer(shop, snapshot, stale, "ada")
    assert len(shop.jobs.get(number).entries) == 3


def test_a_new_hourly_rate_makes_the_old_quote_void(shop, number, snapshot, quoted):
    reply = reply_to(quoted)
    shop.change_settings({"labour_rate_minor": 9000})
    with pytest.raises(ConflictError, match="Look at the quote again"):
        decision_for(shop.snapshot(number), reply)
    # read before the rate changed: it still speaks of the price that was quoted
    decision, costing = decision_for(snapshot, reply)
    assert decision.agreed_minor == costing.estimate.payable_minor == reply.price_minor


@pytest.mark.parametrize("option", ["replace", "hand_back"])
def test_a_no_owes_the_fee_and_reserves_nothing(shop, number, snapshot, quoted, option):
    shop.stock.receive(Receipt("front_loader", "belt", "new", 2, "A1"), "ada")
    record_answer(shop, snapshot, reply_to(quoted, option), "ada")
    decision = shop.jobs.get(number).entries[-1].body
    assert (decision.option, decision.agreed_minor) == (option, quoted.fee_minor)
    assert shop.stock.held_for(number) == ()


def test_a_yes_reserves_what_lies_on_the_shelf_and_release_lets_go(shop, number):
    lot = shop.stock.receive(Receipt("front_loader", "belt", "new", 2, "A1"), "ada")
    snapshot = shop.snapshot(number)
    record_answer(shop, snapshot, reply_to(quote_job(snapshot, WORK)), "ada")
    assert [held.number for held in shop.stock.held_for(number)] == [lot.number]
    assert shop.stock.book().lot(lot.number).free == 1
    # reserving again finds nothing left to reserve
    assert shop.stock.reserve(number, shop.snapshot(number).costing(WORK), "ada") == ()
    shop.stock.release(number, "ada")
    assert shop.stock.held_for(number) == ()
    assert shop.stock.book().lot(lot.number).free == 2
    shop.stock.release(number, "ada")
    assert shop.stock.book().lot(lot.number).free == 2


def test_an_answer_that_is_none_is_refused(shop, number, snapshot, quoted):
    wrong = (
        ({"option": "scrap"}, "answer"),
        ({"option": ""}, "answer"),
        ({"agreed_by": " "}, "agreed_by"),
    )
    for changes, field in wrong:
        with pytest.raises(InputError) as refusal:
            record_answer(shop, snapshot, reply_to(quoted, **changes), "ada")
        assert refusal.value.field == field
    assert len(shop.jobs.get(number).entries) == 3


def test_an_answer_is_refused_where_somebody_wrote_in_between(shop, number, snapshot, quoted):
    with pytest.raises(ConflictError):
        record_answer(shop, snapshot, reply_to(quoted), "ada", expected_last=1)
    assert shop.stock.held_for(number) == ()


def test_nothing_is_reserved_for_a_closed_job(shop, number, snapshot):
    costing = snapshot.costing(WORK)
    shop.jobs.record(number, Closed("hand_back"), "ada")
    with pytest.raises(InputError, match="is closed"):
        shop.stock.reserve(number, costing, "ada")
