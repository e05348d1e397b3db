"""Where the parts of a job come from: list, shelf or catalog; what planner, estimate and parting out make of it."""

from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.price_files import FAMILIES, FRONT, TOP

from counterpoise.money.order import Task
from counterpoise.money.part_offers import Offer, share_of_worth
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.billing.costing import chosen_offers, cost
from counterpoise.workshop.billing.donor_yield import assembly_yields
from counterpoise.workshop.billing.ledger import closing_terms
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.diagnosis.analysis import analyse, measures_of
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.part_texts import ready_lines
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import parting_value
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Intake, RepairDone
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NO_SUPPLY, PartChoice, pieces_of
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.services.prices import PriceFile
from counterpoise.workshop.services.workshop import Workshop

PUMP = FRONT.repairs["replace_pump"]
OWN = Intake(
    "front_loader", "workshop", "Taldera T8", ("shakes",), 6.0, {"drive": "belt"}, "Taldera", "T8"
)
CUSTOMERS = replace(OWN, owner="customer")
USED = Receipt("front_loader", "drain_pump", "used", 1, "B2", maker="Taldera")


@pytest.fixture
def workshop(store):
    made = Workshop(store, FAMILIES)
    made.change_settings({"tax_percent": 10.0, "parts_markup_percent": 50.0})
    for intake in (OWN, CUSTOMERS, replace(OWN, maker="Osmarin")):
        made.jobs.open(intake, "ada")
    return made


def prices(workshop, number):
    job = workshop.jobs.get(number)
    return Prices.of(
        replay(FRONT, workshop.settings(), job), workshop.settings(), workshop.jobs.supply(job)
    )


def pump(workshop, number):
    """What the planner reckons the pump of a repair at, before mark-up and tax."""
    return prices(workshop, number).material_minor(PUMP) - PUMP.consumables_minor


def costed(workshop, number, repairs=(), **more):
    """The estimate of a job with what its parts can be had for."""
    job = workshop.jobs.get(number)
    return cost(
        JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job)),
        repairs,
        terms=Terms(**more),
    )


def listed(workshop, text, supplier="Nordlicht"):
    workshop.prices.take_in(
        PriceFile(supplier, "l.csv", ("part;price;kind;maker;pack\n" + text).encode()), "ada"
    )


def test_without_list_and_shelf_it_is_the_catalogs_figure(workshop):
    assert pump(workshop, 1) == FRONT.parts["drain_pump"].price_minor == 3800
    assert (
        Prices(FRONT, Settings(), "workshop", 6.0).material_minor(PUMP)
        == 3800 + PUMP.consumables_minor
    )


def test_the_newest_price_of_a_list_goes_before_the_catalogs(workshop):
    listed(workshop, "front_loader/drain_pump;41,00;new;;1\n")
    assert pump(workshop, 1) == 4100
    listed(workshop, "front_loader/drain_pump;36,00;new;;1\n")
    assert pump(workshop, 1) == 3600
    workshop.prices.take_back(2, "ada")
    assert pump(workshop, 1) == 4100
    listed(workshop, "front_loader/drain_pump;35,00;new;;1\n", "Südhafen")
    assert pump(workshop, 1) == 3500


def test_a_price_for_this_maker_goes_before_one_for_any(workshop):
    listed(workshop, "front_loader/drain_pump;36,00;new;;1\nfront_loader/drain_pump;45,00;new;taldera;1\n"
                 "front_loader/drain_pump;20,00;new;Osmarin;1\n")  # fmt: skip
    assert [pump(workshop, number) for number in (1, 3)] == [4500, 2000]


def test_a_part_to_pattern_where_it_is_cheaper_and_allowed(workshop):
    listed(workshop, "front_loader/drain_pump;24,00;pattern;;1\n")
    assert pump(workshop, 1) == 2400
    workshop.change_settings({"pattern_parts": False})
    assert pump(workshop, 1) == 3800


def test_a_pack_is_bought_whole(workshop):
    listed(workshop, "front_loader/damper_pin;4,00;new;;4\n")
    entry = next(r for r in FRONT.repairs.values() if r.parts == {"damper_pin": 2})
    assert prices(workshop, 1).material_minor(entry) == 400 + entry.consumables_minor
    job = workshop.jobs.get(1)
    found = cost(JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job)), [entry.id])
    line = next(one for one in found.estimate.lines if one.id == "damper_pin")
    assert (line.quantity, line.net_minor) == (4, 400)


def test_an_own_machine_gets_the_used_one_from_the_shelf_for_what_it_cost(workshop):
    before = prices(workshop, 1).repair_cost(PUMP)
    workshop.stock.receive(USED, "ada")
    assert pump(workshop, 1) == 0
    assert before - prices(workshop, 1).repair_cost(PUMP) == 3800
    workshop.change_settings({"used_own": False})
    assert pump(workshop, 1) == 3800


def test_a_customer_gets_it_only_where_it_was_agreed_and_pays_the_used_price(workshop):
    workshop.stock.receive(USED, "ada")
    assert pump(workshop, 2) == 3800
    workshop.jobs.record(2, replace(CUSTOMERS, used_parts=True), "ada")
    assert pump(workshop, 2) == FRONT.parts["drain_pump"].used_minor == 1400
    workshop.jobs.record(2, CUSTOMERS, "ada")
    workshop.change_settings({"used_customer": True})
    assert pump(workshop, 2) == 1400
    factor = prices(workshop, 2).parts_factor
    labour = PUMP.minutes * PUMP.people * prices(workshop, 2).repair_minute
    assert factor == pytest.approx(1.5 * 1.1)
    assert prices(workshop, 2).repair_cost(PUMP) == pytest.approx(
        labour + (1400 + PUMP.consumables_minor) * factor
    )


def test_a_price_asked_goes_before_the_catalogs_used_one(workshop):
    workshop.stock.receive(replace(USED, asked_minor=900), "ada")
    workshop.change_settings({"used_customer": True})
    assert (pump(workshop, 1), pump(workshop, 2)) == (0, 900)


def test_one_off_another_makers_machine_is_not_counted_on_but_told(workshop):
    workshop.stock.receive(USED, "ada")
    assert pump(workshop, 3) == 3800
    notes = ready_lines(FRONT, PUMP, workshop.jobs.supply(workshop.jobs.get(3)))
    assert notes[1] == (
        "Drain pump: a used one is on the shelf (B2), for Taldera: it may fit, hold it beside the old one."
    )
    workshop.stock.receive(replace(USED, maker=""), "ada")
    assert pump(workshop, 3) == 0


def test_one_reserved_for_another_job_is_not_counted_on(workshop):
    lot = workshop.stock.receive(USED, "ada").number
    workshop.stock.move(Move(lot, "reserved", 1, 3), "ada")
    assert pump(workshop, 1) == 3800
    workshop.stock.move(Move(lot, "released", 1, 3), "ada")
    workshop.stock.move(Move(lot, "reserved", 1, 1), "ada")
    assert pump(workshop, 1) == 0
    workshop.stock.move(Move(lot, "used", 1, 1), "ada")
    assert pump(workshop, 1) == 3800


def test_the_one_reserved_for_the_job_is_taken_first(workshop):
    workshop.stock.receive(USED, "ada")
    second = workshop.stock.receive(replace(USED, cost_minor=300, place="C1"), "ada").number
    workshop.stock.move(Move(second, "reserved", 1, 1), "ada")
    assert pump(workshop, 1) == 300
    assert (
        workshop.jobs.supply(workshop.jobs.get(1)).best(FRONT.parts["drain_pump"], 1).place == "C1"
    )
    assert workshop.stock.reserve(1, costed(workshop, 1, ["replace_pump"]), "ada") == ()


def test_the_page_says_what_the_shelf_saves(workshop):
    workshop.stock.receive(USED, "ada")
    assert ready_lines(FRONT, PUMP, workshop.jobs.supply(workshop.jobs.get(1))) == (
        "Have ready: 1 x Drain pump.",
        "Drain pump: a used one is on the shelf (B2), 0.00 EUR instead of 38.00 EUR.",
    )
    assert ready_lines(FRONT, PUMP, workshop.jobs.supply(workshop.jobs.get(2)))[1] == (
        "Drain pump: a used one is on the shelf (B2), 14.00 EUR instead of 38.00 EUR, if the customer agrees to it."
    )
    assert ready_lines(FRONT, PUMP, NO_SUPPLY) == ("Have ready: 1 x Drain pump.",)
    lot = workshop.stock.receive(
        replace(USED, kind="new", cost_minor=3800, place="A1"), "ada"
    ).number
    workshop.stock.move(Move(lot, "reserved", 1, 2), "ada")
    assert (
        ready_lines(FRONT, PUMP, workshop.jobs.supply(workshop.jobs.get(2)))[1]
        == "Drain pump: a new one is on the shelf (A1)."
    )


def test_two_are_needed_so_one_on_the_shelf_does_not_do(workshop):
    entry = next(r for r in FRONT.repairs.values() if r.parts == {"damper_pin": 2})
    pin = replace(USED, item="damper_pin", kind="new")
    workshop.stock.receive(pin, "ada")
    assert prices(workshop, 1).material_minor(entry) == 600 + entry.consumables_minor
    workshop.stock.receive(replace(pin, count=2, cost_minor=100), "ada")
    assert prices(workshop, 1).material_minor(entry) == 200 + entry.consumables_minor


@pytest.mark.parametrize("family", [FRONT, TOP], ids=lambda family: family.id)
def test_planner_and_estimate_reckon_every_repair_with_the_same_parts(family):
    reckoned = Prices(family, Settings(), "workshop", 6.0)
    for entry in family.repairs.values():
        task = Task(entry.id, entry.title, entry.minutes, parts=entry.parts)
        needed = chosen_offers(family, [task], PartChoice())
        parts = sum(offer.total_minor(count) for count, offer in needed.values())
        assert parts + entry.consumables_minor == reckoned.material_minor(entry), entry.id


def test_the_lines_of_an_estimate_are_what_the_planner_reckons_with(workshop):
    listed(workshop, "front_loader/damper_set;43,00;new;;1\n")
    workshop.stock.receive(replace(USED, item="control_board"), "ada")
    for repair in ("replace_dampers", "replace_board"):
        entry = FRONT.repairs[repair]
        lines = costed(workshop, 1, [repair]).estimate.lines
        net = sum(line.net_minor for line in lines if line.kind in {"part", "consumables"})
        assert net == prices(workshop, 1).material_minor(entry)


def test_plan_and_forecast_reckon_with_the_same_parts(workshop):
    listed(workshop, "front_loader/drain_pump;36,00;new;;1\n")
    job = workshop.jobs.get(1)
    seen = analyse(
        JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job)), Effort(growths=0)
    )
    reckoned = measures_of(seen.prices, seen.planned.problem)
    for index, repair in enumerate(seen.planned.problem.repairs):
        if repair.id in FRONT.repairs:
            entry = FRONT.repairs[repair.id]
            labour = entry.minutes * entry.people * seen.prices.repair_minute
            assert repair.cost == pytest.approx(labour + reckoned.repair_parts[index])


def test_parts_on_the_shelf_make_a_job_worth_more_unless_they_spoil_the_parting_out(workshop):
    job = workshop.jobs.get(1)

    def worth():
        return analyse(
            JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job)), Effort(growths=0)
        ).plan.lower

    workshop.change_settings({"plenty_on_shelf": 0})
    without = worth()
    for part in ("drain_pump", "control_board", "door_lock", "spring_pair", "upper_weight"):
        workshop.stock.receive(replace(USED, item=part), "ada")
    assert worth() > without


def test_an_estimate_takes_the_shelf_and_says_so_and_other_ways_can_be_chosen(workshop):
    workshop.stock.receive(USED, "ada")
    listed(
        workshop, "front_loader/drain_pump;24,00;pattern;;1\nfront_loader/drain_pump;36,00;new;;1\n"
    )

    def line(kind=""):
        found = costed(workshop, 1, ["replace_pump"], kinds=(("drain_pump", kind),) if kind else ())
        return next(one for one in found.estimate.lines if one.id == "drain_pump")

    assert (line().net_minor, line().detail) == (0, "used, tested; on the shelf (B2)")
    assert line("new").net_minor == 3600
    assert "Nordlicht, 2026-03-01" in line("new").detail
    assert line("pattern").net_minor == 2400


def test_a_piece_that_went_in_is_charged_as_what_it_is(workshop):
    lot = workshop.stock.receive(replace(USED, cost_minor=500), "ada").number
    workshop.jobs.record(2, RepairDone("replace_pump"), "ada", taken=[(lot, 1)])
    found = cost(
        JobCase(
            workshop.jobs.get(2),
            FRONT,
            workshop.settings(),
            workshop.jobs.supply(workshop.jobs.get(2)),
        )
    )
    line = next(one for one in found.estimate.lines if one.id == "drain_pump")
    assert line.net_minor == 1400 * 3 / 2
    assert line.detail.startswith("used, tested")
    assert next(one for one in found.own.lines if one.id == "drain_pump").net_minor == 500
    assert closing_terms(
        FRONT, workshop.settings(), workshop.jobs.get(2), workshop.jobs.supply(workshop.jobs.get(2))
    )["parts_minor"] == (500 + PUMP.consumables_minor)


def test_what_the_work_takes_is_reserved_once(workshop):
    workshop.stock.receive(USED, "ada")
    found = costed(workshop, 1, ["replace_pump"])
    assert [lot.held for lot in workshop.stock.reserve(1, found, "ada")] == [((1, 1),)]
    assert workshop.stock.reserve(1, costed(workshop, 1, ["replace_pump"]), "ada") == ()
    assert pump(workshop, 1) == 0


@pytest.mark.parametrize("family", [FRONT, TOP], ids=lambda family: family.id)
def test_every_assembly_is_put_on_the_shelf_as_something(family):
    for assembly in family.assemblies.values():
        pieces = pieces_of(family, assembly)
        assert pieces
        assert all(piece in family.parts or piece == assembly.id for piece in pieces)
    assert pieces_of(FRONT, FRONT.assemblies["drain"]) == ("drain_pump",)
    assert pieces_of(FRONT, FRONT.assemblies["motor_direct"]) == ("rotor", "stator")
    assert pieces_of(FRONT, FRONT.assemblies["door"]) == ("door",)


def test_parting_out_is_worth_less_where_there_are_plenty_on_the_shelf(workshop):
    job, shop = workshop.jobs.get(1), workshop.settings()
    situation = replay(FRONT, shop, job)

    rows = all_rows(situation.model, situation.kinds, situation.joint)

    def worth():
        now = prices(workshop, 1)
        return float(rows.prior @ parting_value(now, rows))

    board = FRONT.assemblies["board"]
    good = next(one.good for one in assembly_yields(JobCase(job, FRONT, shop)) if one.id == "board")
    minute = shop.bench_rate_minor / 60
    sold = shop.parts_sold_percent / 100
    start = worth()
    for there in range(1, 7):
        workshop.stock.put_on_shelf(1, {"control_board": 1}, "B2", "ada")
        share = share_of_worth(there, shop.plenty_on_shelf)
        now = max(0.0, share * sold * board.value_minor - board.minutes * minute)
        before = max(0.0, sold * board.value_minor - board.minutes * minute)
        assert start - worth() == pytest.approx(good * (before - now), abs=1e-6)
    found = {
        one.id: one
        for one in assembly_yields(
            JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job))
        )
    }
    assert (found["board"].stocked, found["board"].keep) == (6, False)
    workshop.change_settings({"plenty_on_shelf": 0})
    assert worth() == pytest.approx(start)


def test_a_motor_is_plenty_only_where_rotor_and_stator_are(workshop):
    job = workshop.jobs.open(replace(OWN, features={"drive": "direct"}), "ada")
    for _ in range(5):
        workshop.stock.put_on_shelf(job.number, {"rotor": 1}, "B2", "ada")
    stocked = {
        one.id: one.stocked
        for one in assembly_yields(
            JobCase(job, FRONT, workshop.settings(), workshop.jobs.supply(job))
        )
    }
    assert stocked["motor_direct"] == 0


def test_assessments_are_remembered_until_shelf_or_prices_change(workshop):
    asked = []
    counted = Workshop(workshop.store, FAMILIES, lambda *_: asked.append(1) or object())
    first = counted.snapshot(1)
    assert counted.snapshot(1).assessment is first.assessment
    counted.stock.receive(USED, "ada")
    later = counted.snapshot(1)
    assert later.assessment is not first.assessment
    assert later.supply.offers["drain_pump"][-1].lot == 1
    assert len(asked) == 2


def test_an_offer_of_a_choice_that_nobody_has_is_the_cheapest(workshop):
    part = FRONT.parts["belt"]
    assert PartChoice(NO_SUPPLY, used=True).offer(part, 1) == Offer("new", 1700, "catalog")
    assert PartChoice(NO_SUPPLY, used=True).offer(FRONT.parts["drain_pump"], 1) == Offer(
        "used", 1400, "catalog"
    )
    assert np.isfinite(NO_SUPPLY.best(part, 3).total_minor(3))
