"""Figures, names of parts, books of prices and lots: small records with rules of their own."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.workshop.price_files import FAMILIES, FRONT

from counterpoise.errors import NotFoundError
from counterpoise.workshop.parts.number_formats import (
    MOST_PRICE_MINOR,
    bare,
    decimal_mark,
    is_currency,
    read_price,
    read_whole,
)
from counterpoise.workshop.parts.part_names import CellError, PartNames
from counterpoise.workshop.parts.price_list import PriceLine, far_off
from counterpoise.workshop.parts.prices import Price, PriceBook, PriceList
from counterpoise.workshop.parts.stock import Lot, StockBook
from counterpoise.workshop.store.prices import stand


def typed(minor, mark, grouped):
    """A price as somebody in one country or another writes it."""
    thousands = "." if mark == "," else ","
    whole = f"{minor // 100:,}".replace(",", thousands) if grouped else str(minor // 100)
    return f"{whole}{mark}{minor % 100:02}"


@given(st.integers(1, MOST_PRICE_MINOR), st.sampled_from(",."), st.booleans(),
       st.sampled_from(["{}", "{} EUR", "EUR {}", "€ {}", "{} €", " {} "]))  # fmt: skip
def test_a_price_is_read_as_it_was_meant(minor, mark, grouped, around):
    assert read_price(around.format(typed(minor, mark, grouped)), mark) == minor


@given(st.lists(st.integers(1, MOST_PRICE_MINOR), min_size=1), st.sampled_from(",."), st.booleans())
def test_the_mark_of_a_list_is_found_out(prices, mark, grouped):
    assert decimal_mark(typed(minor, mark, grouped) for minor in prices) == mark


@pytest.mark.parametrize("prices", [[], ["12", "7"], ["1.500", "2.250"], ["on request", ""]])
def test_a_list_that_does_not_show_its_mark_is_not_guessed(prices):
    assert decimal_mark(prices) == ""


@pytest.mark.parametrize(
    ("text", "mark", "minor"),
    [("12,-", ",", 1200), ("12.–", ".", 1200), ("1'234.50", ".", 123450), (".5", ".", 50),
     ("7", "", 700), ("0,010", ",", 1), ("$ 3", ".", 300)],
)  # fmt: skip
def test_habits_of_several_countries(text, mark, minor):
    assert read_price(text, mark) == minor


@pytest.mark.parametrize(
    ("text", "mark", "said"),
    [("", ",", "no price"), ("1.500", "", "thousands or parts"), ("1,2,3", ",", "wrong places"),
     ("1.23,4.5", ",", "wrong places"), ("12.34", ",", "where this list writes"),
     ("0.001", ".", "parts of a cent"), ("1" * 21, ".", "is no price"), ("١٢", ".", "is no price"),
     ("1e3", ".", "is no price"), ("100000.01", ".", "too much")],
)  # fmt: skip
def test_what_cannot_be_a_price_says_why(text, mark, said):
    with pytest.raises(ValueError, match=said):
        read_price(text, mark)


def test_signs_and_codes():
    assert bare("EUR 1 234,50") == ("1234,50", "EUR")
    assert bare("£3") == ("3", "GBP")
    assert is_currency("$", "CAD")
    assert not is_currency("$", "EUR")
    assert is_currency("EUR", "EUR")


@pytest.mark.parametrize(
    ("text", "number"), [("10", 10), ("10 pcs", 10), ("3,0 days", 3), ("1 Stk.", 1)]
)
def test_a_whole_number_may_have_a_unit(text, number):
    assert read_whole(text, 1, 1000) == number


@pytest.mark.parametrize("text", ["", "ten", "1.5", "-3", "0", "1001", "1 2", "5 to 7 days"])
def test_anything_else_is_no_whole_number(text):
    with pytest.raises(ValueError, match="no whole number from 1 to 1000"):
        read_whole(text, 1, 1000)


def test_a_part_goes_by_id_by_title_by_family_or_by_a_number_that_is_known():
    names = PartNames(FAMILIES, "front_loader", {"n7": ("front_loader", "drain_pump")})
    pump = ("front_loader", "drain_pump")
    assert names.find("drain_pump", "") == pump
    assert names.find(FRONT.parts["drain_pump"].title.upper(), "") == pump
    assert names.find("top_loader/drain_pump", "") == ("top_loader", "drain_pump")
    assert names.find("", "N7") == pump
    assert names.find("", "N8") is None
    assert names.find("", "") is None


def test_a_name_that_fits_two_kinds_of_machines_or_none_is_a_fault_with_a_way_out():
    names = PartNames(FAMILIES, "", {})
    with pytest.raises(CellError) as two:
        names.find("drain_pump", "")
    assert "front_loader/drain_pump or top_loader/drain_pump" in two.value.remedy
    with pytest.raises(CellError) as none:
        names.find("front_loader/drian_pump", "")
    assert (none.value.column, none.value.remedy) == ("part", "Did you mean drain_pump?")


def test_looking_for_what_was_meant_ends_where_every_line_is_wrong():
    names = PartNames(FAMILIES, "front_loader", {})
    remedies = set()
    for index in range(400):
        with pytest.raises(CellError) as caught:
            names.find(f"nothing like it {index}", "")
        remedies.add(caught.value.remedy)
    assert any("leave it empty" in remedy for remedy in remedies)


@pytest.mark.parametrize(
    ("minor", "pack", "before", "odd"),
    [(1000, 1, 0, False), (1000, 1, 1000, False), (5000, 1, 1000, False), (5001, 1, 1000, True),
     (200, 1, 1000, False), (199, 1, 1000, True), (10_000, 10, 1000, False)],
)  # fmt: skip
def test_a_price_five_times_the_one_before_or_a_fifth_of_it_is_asked_about(
    minor, pack, before, odd
):
    assert far_off(PriceLine(2, "f", "p", "new", minor, pack), before) is odd


def line(part="pump", number="N1", at=2, **more):
    return PriceLine(at, "small", part, "new", 1000, number=number, **more)


def price_list(number, supplier="Farnholm", whole=False, gone=False):
    return PriceList(number, "2026-03-01T09:00:00Z", "ada", supplier, "", whole, 1, 0, gone)


def test_lines_speak_of_the_same_thing_whatever_the_capitals():
    assert line(maker="Taldera").same == line(maker="TALDERA", number="n1").same
    assert line().same != line(number="N2").same
    assert line().same != line(part="seal").same


def test_newer_lists_replace_line_by_line_whole_ones_all_of_it():
    lines = {1: [line(), line("seal", at=3)], 2: [line(at=7)], 3: [line("belt")]}
    parts = [price_list(1), price_list(2)]
    # the pump of the first list is overtaken, its seal is not
    assert stand(parts, lines) == {(1, 3), (2, 7)}
    whole = [*parts, price_list(3, whole=True)]
    assert stand(whole, lines) == {(3, 2)}
    assert stand([*parts, price_list(3, whole=True, gone=True)], lines) == stand(parts, lines)
    other = [*parts, price_list(3, "Osmarin", whole=True)]
    assert stand(other, lines) == stand(parts, lines) | {(3, 2)}


def test_a_book_of_prices_knows_history_numbers_and_what_stands():
    old, new = (Price(n, "2026-03-01", "Farnholm", line(), n == 2) for n in (1, 2))
    book = PriceBook(2, (), (old, new))
    assert book.standing("small") == (new,)
    assert book.standing("other") == ()
    assert book.of("small", "pump") == (new, old)
    assert book.known_numbers("Farnholm") == {"n1": ("small", "pump")}
    assert book.known_numbers("Osmarin") == {}
    assert book.before("Farnholm") == {line().same: line()}


def lot(number=1, **more):
    fields = {
        "family": "small", "item": "pump", "kind": "used", "cost_minor": 0, "asked_minor": None,
        "maker": "", "model": "", "donor": None, "good": None, "at": "2026-03-01T09:00:00Z",
        "place": "B2", "pieces": 3, "held": ((1, 1), (2, 2)), "used": (), "last": 4,
    }  # fmt: skip
    return Lot(number, **fields | more)


def test_pieces_that_are_promised_are_free_for_those_they_are_promised_to():
    assert lot().free == 0
    assert (lot().free_for(1), lot().free_for(2), lot().free_for(3)) == (1, 2, 0)
    assert lot(held=()).free_for(3) == 3


def test_a_book_of_lots_finds_them_by_item_and_number():
    book = StockBook(1, (lot(1), lot(2, item="seal"), lot(3)))
    assert [each.number for each in book.of("small", "pump")] == [1, 3]
    assert book.lot(2).item == "seal"
    with pytest.raises(NotFoundError, match="no lot 4"):
        book.lot(4)
