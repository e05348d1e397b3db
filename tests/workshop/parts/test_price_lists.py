"""Suppliers' lists: looked at, taken in whole or not at all, dated, taken back."""

import csv
import io
import sqlite3

import pytest
from tests.workshop.price_files import BROKEN, FAMILIES, long_list

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.workshop.parts.csv_sheet import MOST_BYTES
from counterpoise.workshop.parts.price_list import ListFormat
from counterpoise.workshop.services.prices import PriceFile
from counterpoise.workshop.services.workshop import Workshop


@pytest.fixture
def workshop(store):
    return Workshop(store, FAMILIES)


def sent(text, supplier="Nordlicht", **habits):
    return PriceFile(
        supplier, "list.csv", text.encode() if isinstance(text, str) else text, ListFormat(**habits)
    )


def standing(workshop, family="front_loader"):
    book = workshop.prices.book()
    return {
        (p.line.part, p.line.kind, p.line.maker): p.line.price_minor for p in book.standing(family)
    }


PUMP = "part,price\nfront_loader/drain_pump,38.50\n"


def test_a_thousand_lines_with_twenty_broken_are_told_line_by_line_and_nothing_is_kept(workshop):
    found = workshop.prices.preview(sent(long_list()))
    assert (found.taken, found.broken, found.new, found.not_ours) == (980, 20, 980, 0)
    assert [fault.line for fault in found.faults] == sorted(BROKEN)
    for fault in found.faults:
        column, _, said = BROKEN[fault.line]
        assert (fault.column, said in fault.what) == (column, True), fault
        assert fault.remedy
    assert workshop.prices.book().lists == ()


def test_one_broken_line_stops_the_list_and_says_why(workshop):
    with pytest.raises(
        InputError, match=r"20 lines are broken.*line 7, part: there is no part"
    ) as told:
        workshop.prices.take_in(sent(long_list()), "ada")
    assert "980 lines can be taken in" in told.value.remedy
    assert workshop.prices.book().prices == ()


def test_the_rest_is_taken_in_on_request(workshop):
    done = workshop.prices.take_in(sent(long_list()), "ada", leave_out=True)
    assert (done.lines, done.left_out, done.by) == (980, 20, "ada")
    lines = {price.line.line for price in workshop.prices.book().prices}
    assert lines == set(range(2, 1002)) - set(BROKEN)


def test_prices_are_those_of_the_lines(workshop):
    workshop.prices.take_in(sent(long_list(broken={})), "ada")
    for price in workshop.prices.book().prices:
        assert price.line.price_minor == 500 + 7 * price.line.line


def test_a_list_that_fails_half_way_leaves_nothing(workshop, monkeypatch):
    from counterpoise.workshop.store import prices

    monkeypatch.setattr(prices, "_AT_ONCE", 10)
    found = [*range(25)]
    real = prices._row

    def failing(number, line):
        found.pop()
        return real(number, line) | ({"family": None} if not found else {})

    monkeypatch.setattr(prices, "_row", failing)
    with pytest.raises(Exception, match=r"(?i)null"):
        workshop.prices.take_in(
            sent(long_list(24, {}) + b"front_loader/belt;N9;x;9,00;1;new;3;Q\n"), "ada"
        )
    assert workshop.prices.book().lists == ()


def test_a_newer_list_of_the_same_supplier_counts_and_the_old_one_is_kept(workshop):
    workshop.prices.take_in(sent(PUMP), "ada")
    found = workshop.prices.preview(sent(PUMP.replace("38.50", "41.00")))
    assert (found.new, found.changed, found.same, found.changes[0].before_minor) == (0, 1, 0, 3850)
    workshop.prices.take_in(sent(PUMP.replace("38.50", "41.00"), supplier="NORDLICHT"), "bo")
    assert standing(workshop) == {("drain_pump", "new", ""): 4100}
    history = workshop.prices.book().of("front_loader", "drain_pump")
    assert [(p.line.price_minor, p.stands) for p in history] == [(4100, True), (3850, False)]
    assert history[0].at > history[1].at
    assert history[0].supplier == "Nordlicht"
    assert workshop.prices.preview(sent(PUMP.replace("38.50", "41.00"))).same == 1


def test_prices_of_two_suppliers_and_two_kinds_stand_beside_each_other(workshop):
    workshop.prices.take_in(sent("part,price,kind\nrotor,80,\nrotor,60,pattern\n"), "ada")
    workshop.prices.take_in(sent("part,price\nrotor,75\n", "Südhafen"), "ada")
    rotors = workshop.prices.book().standing("front_loader")
    assert [(p.supplier, p.line.kind, p.line.price_minor) for p in rotors] == [
        ("Nordlicht", "new", 8000), ("Nordlicht", "pattern", 6000), ("Südhafen", "new", 7500),
    ]  # fmt: skip


def test_a_whole_list_takes_the_place_of_all_before_it(workshop):
    workshop.prices.take_in(sent("part,price\nrotor,80\nstator,90\n"), "ada")
    workshop.prices.take_in(sent("part,price\nrotor,81\n"), "ada", whole=True)
    assert standing(workshop) == {("rotor", "new", ""): 8100}
    with pytest.raises(InputError, match="1 line is broken"):
        workshop.prices.take_in(
            sent("part,price\nrotor,82\nstator,nothing\n"),
            "ada",
            whole=True,
            leave_out=True,
        )


def test_a_list_taken_back_lets_the_former_price_stand_again(workshop):
    workshop.prices.take_in(sent(PUMP), "ada")
    workshop.prices.take_in(sent(PUMP.replace("38.50", "3850")), "ada")
    workshop.prices.take_back(2, "ada")
    assert standing(workshop) == {("drain_pump", "new", ""): 3850}
    assert [one.gone for one in workshop.prices.book().lists] == [False, True]
    with pytest.raises(InputError, match="taken back already"):
        workshop.prices.take_back(2, "ada")
    with pytest.raises(NotFoundError):
        workshop.prices.take_back(9, "ada")


def test_a_preview_that_is_stale_is_refused(workshop):
    last = workshop.prices.preview(sent(PUMP)).last
    workshop.prices.take_in(sent("part,price\nrotor,80\n"), "bo")
    with pytest.raises(ConflictError):
        workshop.prices.take_in(sent(PUMP), "ada", expected_last=last)


def test_the_suppliers_number_is_remembered(workshop):
    workshop.prices.take_in(sent("part,number,price\nrotor,R-17,80\n"), "ada")
    found = workshop.prices.preview(sent("number,price\nr-17,82\nX-99,5\n"))
    assert (found.taken, found.not_ours, found.changes[0].part) == (1, 1, "rotor")
    assert workshop.prices.preview(sent("number,price\nR-17,82\n", "Südhafen")).taken == 0
    with pytest.raises(InputError, match="no line is about a part of ours"):
        workshop.prices.take_in(sent("number,price\nX-99,5\n"), "ada")


def test_a_price_far_from_the_last_is_asked_about_and_shown_first(workshop):
    found = workshop.prices.preview(sent("part;price\nrotor;89,00\nstator;12500,00\n"))
    assert (found.odd, found.changes[0].part, found.broken) == (1, "stator", 0)


def test_the_same_thing_twice_in_a_list_is_a_fault(workshop):
    (fault,) = workshop.prices.preview(sent("part,price\nrotor,80\nrotor,81\n")).faults
    assert (fault.line, fault.what) == (3, "the same as in line 2")


def test_what_stands_leaves_as_a_table_without_formulas_and_comes_back_the_same(workshop):
    text = 'part;number;description;price;maker\nrotor;=1+2;"+cmd|""x""";80,00;@Taldera\nfoot;-5;x;3;\n'
    workshop.prices.take_in(sent(text), "ada")
    table = workshop.prices.as_csv()
    for row in csv.reader(io.StringIO(table)):
        assert not any(cell.startswith(("=", "+", "-", "@", "\t")) for cell in row)
    before = standing(workshop)
    found = workshop.prices.preview(sent(table))
    assert (found.taken, found.same, found.broken) == (2, 2, 0)
    assert before == {("rotor", "new", "@Taldera"): 8000, ("foot", "new", ""): 300}


@pytest.mark.parametrize(
    ("text", "habits", "columns"),
    [
        (
            "Preisliste 2026;;;\n\nUnsere Nr;Bezeichnung;EK netto;VPE\nrotor;Läufer;80,00;1\n",
            {},
            {"price": "EK netto"},
        ),
        ("sep=;\nPart;Price\nrotor;80,00\n", {}, {"part": "Part"}),
        ("our part\tnet price\nrotor\t80.00\n", {}, {"price": "net price"}),
        ("part|price\nrotor|80\n", {}, {}),
        (
            "Teil;Bestellnr;Liste;Rabattpreis\nrotor;77;99,00;80,00\n",
            {"columns": {"price": "Rabattpreis"}},
            {},
        ),
        (
            "rotor;Running wheel;80,00\nstator;x;90,00\n",
            {"columns": {"part": "1", "price": "3"}},
            {"price": "3"},
        ),
        ('part,price\nrotor,"80,00"\n', {}, {}),
        ("part;price\nRotor with magnets;80,00 €\n", {}, {}),
        ("part;price\nrotor;80,-\n", {}, {}),
        ("part;price;currency\nrotor;EUR 80;€\n", {}, {}),
    ],
)
def test_habits_of_suppliers(workshop, text, habits, columns):
    for data in (text.encode(), text.encode("utf-8-sig"), text.encode("utf-16")):
        found = workshop.prices.preview(
            PriceFile("Nordlicht", "list.csv", data, ListFormat(**habits))
        )
        assert {(one.part, one.price_minor) for one in found.changes} - {("stator", 9000)} == {
            ("rotor", 8000)
        }
        assert found.columns.items() >= columns.items()
    if all(ord(letter) < 256 for letter in text):
        assert workshop.prices.preview(
            PriceFile("N", "l", text.encode("latin-1"), ListFormat(**habits))
        ).taken


def test_a_pack_has_one_price(workshop):
    found = workshop.prices.preview(sent("part;price;VPE\nfoot;10,00;4 Stk\n"))
    assert (found.changes[0].price_minor, found.changes[0].pack) == (1000, 4)


def test_thousands_or_cents_is_asked_where_it_is_not_plain(workshop):
    text = "part;price\nrotor;1.250\n"
    (fault,) = workshop.prices.preview(sent(text)).faults
    assert "thousands" in fault.what
    assert workshop.prices.preview(sent(text, decimal="comma")).changes[0].price_minor == 125_000
    (fault,) = workshop.prices.preview(sent(text, decimal="point")).faults[:1] or (None,)
    assert fault is None
    assert workshop.prices.preview(sent(text, decimal="point")).changes[0].price_minor == 125


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (b"PK\x03\x04rest", "workbook"),
        (b"\xd0\xcf\x11\xe0rest", "old workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"\x1f\x8b\x08", "packed"),
        (bytes(range(256)) * 40, "no text"),
        (b"part,price\nrotor,8\x000\n", "no text"),
        (b"hello\nworld\n", "no line names the columns"),
        (b"part,description\nrotor,x\n", "there is no price"),
        (b"description,price\nx,80\n", "there is no part"),
        (b"part,price\n" + b"rotor,80\n" * 60_000, "more than 50000 lines"),
        (b"part,price\n" + b"x" * MOST_BYTES, "MB"),
        (b"\xff\xfepar", "not written in utf-16"),
    ],
)
def test_what_is_no_list_is_said(workshop, data, said):
    with pytest.raises(InputError, match=said) as told:
        workshop.prices.preview(sent(data))
    assert told.value.remedy
    assert told.value.field


@pytest.mark.parametrize(
    ("habits", "field"),
    [
        ({"separator": "dot"}, "separator"), ({"encoding": "rot13"}, "encoding"), ({"decimal": "dot"}, "decimal"),
        ({"family": "fridge"}, "family"), ({"columns": {"prise": "1"}}, "columns"),
        ({"columns": {"pack": "9"}}, "pack"), ({"columns": {"pack": "VE"}}, "pack"),
        ({"columns": {"price": "EK"}}, "columns"),
    ],
)  # fmt: skip
def test_what_is_told_wrongly_is_said(workshop, habits, field):
    with pytest.raises(InputError) as told:
        workshop.prices.preview(sent(PUMP, **habits))
    assert told.value.field == field


@pytest.mark.parametrize("name", ["", " ", "x" * 81, "a\x00b", "a\nb\x1b"])
def test_a_supplier_needs_a_name(workshop, name):
    with pytest.raises(InputError) as told:
        workshop.prices.preview(sent(PUMP, supplier=name))
    assert told.value.field == "supplier"


def test_a_family_that_is_told_settles_which_part_is_meant(workshop):
    text = "part,price\ndrain_pump,40\n"
    assert workshop.prices.preview(sent(text)).broken == 1
    assert (
        workshop.prices.preview(sent(text, family="top_loader")).changes[0].family == "top_loader"
    )


def test_lists_and_prices_cannot_be_changed_even_by_hand(sqlite_store, tmp_path):
    workshop = Workshop(sqlite_store, FAMILIES)
    workshop.prices.take_in(sent(PUMP), "ada")
    sqlite_store.close()
    with sqlite3.connect(tmp_path / "workshop.db") as raw:
        for table in ("prices", "price_lists"):
            for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET supplier = 'x'" if "_" in table else
                              f"UPDATE {table} SET price_minor = 1"):  # fmt: skip
                with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                    raw.execute(statement)
    raw.close()
