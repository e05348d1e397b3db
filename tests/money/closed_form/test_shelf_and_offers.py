"""Pieces on a shelf and the offers for a part, counted by hand."""

from fractions import Fraction

import pytest

from counterpoise.errors import InputError
from counterpoise.money.part_offers import Offer, cheapest, share_of_worth
from counterpoise.money.shelf import Holding, effect

HELD = Holding(5, {4: 2, 7: 1})


@pytest.mark.parametrize(
    ("kind", "count", "job", "change"),
    [
        ("received", 3, None, (3, 0)), ("counted", 4, None, (-1, 0)), ("counted", 9, None, (4, 0)),
        ("moved", 0, None, (0, 0)), ("reserved", 2, 4, (0, 2)), ("released", 2, 4, (0, -2)), ("used", 1, 4, (-1, -1)),
        ("used", 4, 4, (-4, -2)), ("used", 2, 9, (-2, 0)), ("written_off", 2, None, (-2, 0)),
    ],
)  # fmt: skip
def test_what_a_movement_does(kind, count, job, change):
    assert effect(HELD, kind, count, job) == change


@pytest.mark.parametrize(
    ("kind", "count", "job"),
    [
        ("reserved", 3, 4),
        ("released", 3, 4), ("released", 1, 9), ("used", 5, 4), ("used", 3, 9), ("written_off", 3, None),
        ("counted", 2, None), ("received", 0, None), ("received", -1, None), ("reserved", 1, None),
        ("written_off", 1, 4),
        ("received", 10**6, None),
    ],
)  # fmt: skip
def test_what_a_movement_may_not_do(kind, count, job):
    with pytest.raises(InputError) as told:
        effect(HELD, kind, count, job)
    assert told.value.field
    assert told.value.remedy


def test_who_holds_the_pieces_is_said():
    with pytest.raises(
        InputError, match="5 on the shelf, 2 reserved for job 4, 1 reserved for job 7"
    ):
        effect(HELD, "reserved", 3, 9)


NEW = Offer("new", 3800, "catalog")
LISTED = Offer("new", 3650, "Nordlicht", "2026-03-05")
PATTERN = Offer("pattern", 2900, "Nordlicht", "2026-03-05")
SHELF = Offer("used", 0, "shelf", count=1, place="B2", lot=3)


def test_the_cheapest_that_is_allowed_and_enough():
    offers = (NEW, LISTED, PATTERN, SHELF)
    assert cheapest(offers, 1) == SHELF
    assert cheapest(offers, 2) == PATTERN
    assert cheapest(offers, 1, {"new"}) == LISTED
    assert cheapest(offers, 1, {"new", "pattern"}) == PATTERN
    assert cheapest((SHELF,), 2) is None
    assert cheapest((), 1) is None


def test_of_equal_ones_the_shelf_then_the_better_one_then_the_first():
    shelved = Offer("used", 2900, "shelf", count=5, lot=1)
    assert cheapest((PATTERN, shelved), 1) == shelved
    assert cheapest((PATTERN, Offer("new", 2900, "x")), 1).quality == "new"
    assert cheapest((Offer("new", 2900, "x"), Offer("new", 2900, "y")), 1).source == "x"


def test_what_is_reserved_for_the_job_goes_first():
    held = Offer("new", 5000, "shelf", count=2, lot=1, held=1)
    assert cheapest((PATTERN, held), 1) == held
    assert cheapest((PATTERN, held), 2) == PATTERN


def test_a_pack_is_paid_for_whole():
    bag = Offer("new", 1000, "Nordlicht", pack=4)
    assert [(bag.bought(n), bag.total_minor(n)) for n in (1, 4, 5)] == [
        (4, 1000),
        (4, 1000),
        (8, 2000),
    ]
    assert Offer("new", 1000, "x", pack=3).each_minor == Fraction(1000, 3)
    assert cheapest((bag, Offer("new", 300, "y")), 1).source == "y"
    assert cheapest((bag, Offer("new", 300, "y")), 4).source == "Nordlicht"


def test_worth_falls_evenly_until_there_are_plenty():
    assert [share_of_worth(n, 5) for n in (0, 1, 4, 5, 9)] == pytest.approx(
        [1.0, 0.8, 0.2, 0.0, 0.0]
    )
    assert share_of_worth(100, 0) == 1.0
    with pytest.raises(InputError):
        share_of_worth(-1, 5)


@pytest.mark.parametrize("wrong", [{"price_minor": -1}, {"pack": 0}, {"count": -1}])
def test_an_offer_that_cannot_be(wrong):
    with pytest.raises(InputError):
        Offer(**{"quality": "new", "price_minor": 1, "source": "x"} | wrong)
