"""What comes onto the shelf: refusals by field, all of a delivery or none of it."""

from dataclasses import replace
from math import inf, nan

import pytest
from tests.workshop.billing.test_costing import FRONT

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.jobs.entries import Closed, Intake
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.services.stock import MOST_AT_ONCE
from counterpoise.workshop.services.workshop import Workshop

PUMP = Receipt("front_loader", "drain_pump", "used", 3, "B2")
INTAKE = Intake("front_loader", "workshop", "Taldera T8", ("shakes",), 6.0, {"drive": "belt"})


@pytest.fixture
def shop(store):
    return Workshop(store, {"front_loader": FRONT})


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"family": "front_lodaer"}, "family"),
        ({"item": "drain_pmup"}, "item"),
        ({"item": "x" * 5000}, "item"),
        ({"kind": "stolen"}, "kind"),
        ({"count": 0}, "count"),
        ({"count": -3}, "count"),
        ({"count": MOST_AT_ONCE + 1}, "count"),
        ({"good": -0.1}, "good"),
        ({"good": 1.1}, "good"),
        ({"good": nan}, "good"),
        ({"good": inf}, "good"),
    ],
)
def test_a_receipt_that_cannot_be_is_refused_by_its_field(shop, changes, field):
    with pytest.raises(InputError) as refusal:
        shop.stock.receive(replace(PUMP, **changes), "ada")
    assert (refusal.value.field, bool(refusal.value.remedy)) == (field, True)
    # a mistyped paste must not fill the page
    assert "x" * 61 not in str(refusal.value)
    assert shop.stock.book().lots == ()


@pytest.mark.parametrize("good", [None, 0.0, 1.0, 0.25])
@pytest.mark.parametrize("count", [1, MOST_AT_ONCE])
def test_the_ends_of_what_can_be_are_taken(shop, count, good):
    lot = shop.stock.receive(replace(PUMP, count=count, good=good), "ada")
    assert (lot.pieces, lot.free, lot.good) == (count, count, good)


def test_one_wrong_line_keeps_the_whole_delivery_out(shop):
    with pytest.raises(InputError):
        shop.stock.receive_all([PUMP, replace(PUMP, item="belt"), replace(PUMP, count=0)], "ada")
    assert shop.stock.items() == ()


def test_a_delivery_of_nothing_is_no_lot(shop):
    assert shop.stock.receive_all([], "ada") == ()


def test_the_shelf_adds_lots_of_one_item_and_sorts_by_title(shop):
    receipts = [
        PUMP,
        replace(PUMP, kind="new", count=2, place="A1"),
        replace(PUMP, item="belt", count=1, place=""),
        replace(PUMP, count=1),
    ]
    shop.stock.receive_all(receipts, "ada")
    items = shop.stock.items()
    assert [item.title for item in items] == sorted(item.title for item in items)
    pump, belt = sorted(items, key=lambda item: -item.pieces)
    assert (belt.item, pump.item) == ("belt", "drain_pump")
    assert (belt.pieces, belt.places) == (1, ())
    assert (pump.pieces, pump.free, len(pump.lots)) == (6, 6, 3)
    assert (pump.places, pump.kinds) == (("B2", "A1"), ("new", "used"))
    assert pump.pieces == sum(lot.pieces for lot in pump.lots)


def test_an_empty_lot_leaves_the_shelf_and_stays_on_its_sheet(shop):
    lot = shop.stock.receive(PUMP, "ada")
    shop.stock.move(Move(lot.number, "written_off", 3), "ada")
    assert shop.stock.items() == ()
    sheet = shop.stock.item("front_loader", "drain_pump")
    assert [kept.number for kept in sheet.lots] == [lot.number]
    assert [movement.kind for movement in sheet.movements] == ["written_off", "received"]


def test_an_undone_movement_gives_back_what_it_took(shop):
    lot = shop.stock.receive(PUMP, "ada")
    shop.stock.move(Move(lot.number, "written_off", 2), "ada")
    (latest, _) = shop.stock.movements([lot.number])
    assert shop.stock.undo(latest.number, "bo").pieces == 3
    with pytest.raises(InputError):
        shop.stock.undo(latest.number, "bo")


@pytest.mark.parametrize("kind", ["received", "undone"])
def test_what_makes_a_lot_is_no_move(shop, kind):
    lot = shop.stock.receive(PUMP, "ada")
    with pytest.raises(InputError, match="saved otherwise"):
        shop.stock.move(Move(lot.number, kind, 1), "ada")
    assert shop.stock.book().lot(lot.number).pieces == 3


@pytest.mark.parametrize(
    ("family", "item"), [("front_loader", "flux_capacitor"), ("boat", "drain_pump"), ("", "")]
)
def test_there_is_no_sheet_of_what_neither_catalog_nor_shelf_knows(shop, family, item):
    with pytest.raises(NotFoundError):
        shop.stock.item(family, item)


def test_the_sheet_of_a_part_never_stocked_has_the_prices_of_the_catalog(shop):
    part = FRONT.parts["drain_pump"]
    sheet = shop.stock.item("front_loader", "drain_pump")
    assert (sheet.lots, sheet.movements, sheet.prices) == ((), (), ())
    assert (sheet.catalog_minor, sheet.used_minor) == (part.price_minor, part.used_minor)
    assert (sheet.title, sheet.currency) == (part.title, "EUR")


def test_closing_a_job_lets_its_pieces_go_and_it_takes_no_more(shop):
    job = shop.jobs.open(INTAKE, "ada").number
    lot = shop.stock.receive(PUMP, "ada")
    shop.stock.move(Move(lot.number, "reserved", 2, job), "ada")
    assert shop.stock.book().lot(lot.number).free == 1
    shop.jobs.record(job, Closed("scrap"), "ada")
    for kind in ("reserved", "used"):
        with pytest.raises(InputError, match="is closed"):
            shop.stock.move(Move(lot.number, kind, 1, job), "ada")
    assert shop.stock.book().lot(lot.number).free == 3
    assert shop.stock.held_for(job) == ()


@pytest.mark.parametrize("counts", [{}, {"flux_capacitor": 1}, {"drain_pump": 1, "moon": 1}])
def test_pieces_that_the_machine_does_not_yield_stay_off_the_shelf(shop, counts):
    job = shop.jobs.open(INTAKE, "ada").number
    with pytest.raises(InputError) as refusal:
        shop.stock.put_on_shelf(job, counts, "B2", "ada")
    assert refusal.value.field == "pieces"
    assert shop.stock.book().lots == ()


def test_pieces_of_a_donor_know_their_machine(shop):
    job = shop.jobs.open(replace(INTAKE, maker="Taldera", model="T8"), "ada").number
    (lot,) = shop.stock.put_on_shelf(job, {"drain_pump": 1}, "B2", "ada")
    assert (lot.donor, lot.maker, lot.model, lot.kind) == (job, "Taldera", "T8", "used")
    assert 0.0 < lot.good <= 1.0
