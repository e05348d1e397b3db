"""What minutes, parts and endings are worth, worked out by hand from the settings."""

from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.diagnosis.bench import FAMILY, SHOP, case, now, rows_of

from counterpoise.reasoning.problem import MOST_ACTIONS
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import build_problem, ending_values
from counterpoise.workshop.jobs.entries import Note, Proof, RepairDone, Retraction

SET = replace(
    SHOP, bench_rate_minor=3000, labour_rate_minor=6000, tax_percent=20.0, parts_markup_percent=50.0
)


def prices(owner, **changes):
    return Prices(FAMILY, replace(SET, **changes), owner, 6.0)


def test_a_minute_costs_the_workshop_its_bench_and_the_customer_labour_with_tax():
    assert prices("workshop").repair_minute == prices("workshop").minute == 50.0
    assert prices("customer").minute == 50.0
    assert prices("customer").repair_minute == pytest.approx(120.0)
    assert prices("customer", tax_mode="included").repair_minute == pytest.approx(100.0)


def test_a_part_costs_a_customer_markup_and_tax():
    assert prices("workshop").parts_factor == 1.0
    assert prices("customer").parts_factor == pytest.approx(1.5 * 1.2)
    assert prices("customer", tax_mode="included").parts_factor == pytest.approx(1.5)


def test_a_repair_is_labour_and_material():
    entry = FAMILY.repairs["replace_pump"]
    material = FAMILY.parts["drain_pump"].price_minor + entry.consumables_minor
    own, customers = prices("workshop"), prices("customer")
    assert own.material_minor(entry) == material
    assert own.repair_cost(entry) == pytest.approx(entry.minutes * entry.people * 50 + material)
    assert customers.repair_cost(entry) == pytest.approx(
        entry.minutes * entry.people * 120 + material * 1.8
    )


def test_resale_falls_by_the_same_share_each_year():
    old, older = (replace(prices("workshop"), age_years=age).resale for age in (3.0, 4.0))
    assert older / old == pytest.approx(1.0 - SET.resale_fall_percent / 100)
    assert replace(prices("workshop"), age_years=0.0).resale == SET.resale_new_minor


def test_an_assembly_is_worth_less_the_more_lie_on_the_shelf():
    entry = FAMILY.assemblies["board"]
    pieces = [part for part, made in FAMILY.parts.items() if made.assembly == "board"] or ["board"]
    worth = [
        replace(
            prices("workshop"),
            supply=replace(
                prices("workshop").supply, on_shelf=dict.fromkeys([*pieces, "board"], n)
            ),
        ).assembly_minor(entry)
        for n in range(4)
    ]
    assert worth == sorted(worth, reverse=True)
    assert worth[0] > worth[-1]


def test_two_people_cost_twice_at_a_panel():
    by_id = {panel.id: panel for panel in prices("workshop").panels()}
    tipped = FAMILY.access["tipped"]
    assert tipped.people == 2
    assert by_id["tipped"].open == pytest.approx(tipped.open_min * 2 * 50)
    assert by_id["tipped"].close == pytest.approx(tipped.close_min * 2 * 50)


def test_a_customer_gains_nothing_by_being_left_with_a_broken_machine():
    customers = case()
    endings, values = ending_values(
        customers.situation, customers.prices, rows_of(customers.situation)
    )
    assert [ending.id for ending in endings] == ["replace", "hand_back"]
    # the fee for finding the fault, tax and all, is owed after both
    fee = SHOP.diagnosis_fee_minor * (1.0 + SHOP.tax_percent / 100.0)
    assert np.all(values[0] == -fee)
    assert np.all(values[1] == -fee - 1.0)
    # where the fee is charged beside a repair as well, it weighs nothing between the ways
    beside = case(shop=replace(SHOP, diagnosis_credited=False))
    rows = rows_of(beside.situation)
    assert np.all(ending_values(beside.situation, beside.prices, rows)[1][0] == 0.0)


def test_the_price_of_a_new_machine_said_for_a_job_takes_the_place_of_the_usual_one():
    usual, said = case(), case(new_machine_minor=124_000)
    assert usual.prices.replacement.new_minor == SHOP.new_machine_minor
    assert said.prices.working == pytest.approx(2.0 * usual.prices.working)
    # learned later, with a note; taken back, the intake's holds again
    later = case(Note("Asked at the shop", new_machine_minor=31_000), new_machine_minor=124_000)
    assert later.prices.working == pytest.approx(0.5 * usual.prices.working)
    back = case(
        Note("Asked at the shop", new_machine_minor=31_000),
        Retraction(2),
        new_machine_minor=124_000,
    )
    assert back.prices.working == said.prices.working


def test_scrap_is_worth_the_same_whatever_is_wrong_and_parts_are_not():
    own = case(owner="workshop")
    endings, values = ending_values(own.situation, own.prices, rows_of(own.situation))
    rows = dict(zip([ending.id for ending in endings], values, strict=True))
    assert np.unique(rows["scrap"]).tolist() == [float(SHOP.scrap_minor)]
    assert np.unique(rows["part_out"]).size > 10
    assert rows["part_out"].min() >= SHOP.scrap_minor


def test_what_was_done_is_not_offered_again_and_a_failed_proof_costs_the_way_anew():
    first = build_problem(now(), SHOP)
    repair = RepairDone("replace_front_weight")
    opened = build_problem(now(repair), SHOP)
    shut = build_problem(now(repair, Proof(False)), SHOP)
    assert "replace_front_weight" in [entry.id for entry in first.repairs]
    assert "replace_front_weight" not in [entry.id for entry in opened.repairs]
    bits = {name: 1 << i for i, name in enumerate(FAMILY.access)}
    assert opened.opened == bits["lid"] | bits["control_panel"] | bits["front_panel"]
    assert shut.opened == first.opened == 0


def test_tools_the_workshop_lacks_take_their_checks_and_repairs_away():
    without = build_problem(now(), replace(SHOP, tools=()))
    offered = {check.id for check in without.checks}
    bare_handed = {
        key
        for key, entry in FAMILY.checks.items()
        if not entry.tools
        and entry.needs.get("drive", "belt") == "belt"
        # what is known is not looked for
        and entry.tells not in now().known
    }
    # only what a plan has no room for is missing beside
    assert offered <= bare_handed
    assert len(offered) == min(len(bare_handed), MOST_ACTIONS - 1)
    assert all(not FAMILY.repairs[repair.id].tools for repair in without.repairs)
