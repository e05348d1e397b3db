"""A supplier's file: encodings, separators, heads and hostile bytes."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.workshop.parts.column_names import COLUMNS, column_of, plain_name
from counterpoise.workshop.parts.csv_cells import safe_cell, without_apostrophe
from counterpoise.workshop.parts.csv_sheet import (
    LONGEST_LINE,
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_LINES,
    SEPARATORS,
    cells_of,
    read_sheet,
)

HEADS = ("Artikelnr", "Bezeichnung", "Preis", "Währung")
CELL = st.text(st.characters(codec="cp1252", exclude_categories=["Cc"]), max_size=12)


def written(rows, separator=";", encoding="utf-8"):
    """A list as a table program writes it."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerows([HEADS, *rows])
    return out.getvalue().encode(encoding)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", SEPARATORS)
def test_the_way_a_list_is_written_is_found_out(separator, encoding):
    sheet = read_sheet(written([("A1", "Pumpe für Lauge", "38,00", "EUR")], separator, encoding))
    assert sheet.separator == separator
    assert sheet.heads == HEADS
    assert sheet.at == {"number": 0, "description": 1, "price": 2, "currency": 3}
    assert [row.cells for row in sheet.rows] == [("A1", "Pumpe für Lauge", "38,00", "EUR")]
    assert [row.line for row in sheet.rows] == [2]


@given(st.lists(st.tuples(CELL, CELL, CELL, CELL), max_size=5), st.sampled_from(list(SEPARATORS)))
def test_cells_come_back_as_they_were_written_but_for_blanks_around_them(rows, separator):
    rows = [row for row in rows if any(cell.strip(f"{separator} \t") for cell in row)]
    sheet = read_sheet(written(rows, separator), separator=separator)
    assert [row.cells for row in sheet.rows if not row.fault] == [
        tuple(cell.strip() for cell in row) for row in rows
    ]
    assert not [row.fault for row in sheet.rows if row.fault]


@given(st.binary(max_size=300))
def test_any_bytes_are_a_sheet_or_refused_with_a_remedy(data):
    try:
        sheet, mistake = read_sheet(data), None
    except InputError as error:
        sheet, mistake = None, error
    if mistake is None:
        assert sheet.at
        assert all(place < len(sheet.heads) for place in sheet.at.values())
    else:
        assert mistake.field
        assert mistake.remedy


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "it is empty"),
        (b"  \r\n \r\n", "it is empty"),
        (b"PK\x03\x04 the rest", "a workbook or a ZIP archive"),
        (b"%PDF-1.7", "a PDF"),
        (b"part;price\0\n", "no text"),
        (b"part;price\n" + bytes(range(1, 32)) * 3, "no text"),
        (b"x" * (MOST_BYTES + 1), "at most 5 MB"),
        (b"\n" * (MOST_LINES + 1) + b"x", f"more than {MOST_LINES} lines"),
        (b"Dear customer, thank you.\nYours", "no line names the columns"),
        (b"\xff\xfe\x00", "not written in utf-16"),
    ],
)
def test_what_is_no_list_is_refused_in_words(data, said):
    with pytest.raises(InputError, match=said):
        read_sheet(data)


def test_a_letter_above_the_heads_is_no_hindrance():
    letter = b"Farnholm Parts\r\nPrices of spring, in Euro\r\n\r\n"
    sheet = read_sheet(letter + written([("A1", "Pump", "38,00", "EUR")]))
    assert [row.line for row in sheet.rows] == [5]


def test_an_open_quotation_mark_spoils_one_line():
    data = written([("A1", "Pump", "1", "EUR")]) + b'A2;"Pump;2;EUR\r\nA3;Pump;3;EUR\r\n'
    rows = read_sheet(data).rows
    assert [bool(row.fault) for row in rows] == [False, True, False]
    assert "quotation mark" in rows[1].fault


def test_lines_of_nothing_are_no_lines():
    rows = read_sheet(written([]) + b"\r\n;;;\r\n   ;\t;;\r\nA1;Pump;3;EUR\r\n").rows
    assert [row.line for row in rows] == [5]


def test_columns_can_be_given_by_head_or_number():
    data = b"code;what;list\nA1;Pump;38\n"
    assert read_sheet(data, {"number": "code", "price": "LIST"}).at == {"number": 0, "price": 2}
    sheet = read_sheet(b"A1;Pump;38\nA2;Seal;12\n", {"number": "1", "price": "3"})
    assert (sheet.at, sheet.heads) == ({"number": 0, "price": 2}, ("1", "2", "3"))
    assert len(sheet.rows) == 2


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"colour": "1"}, "columns", "no column 'colour'"),
        ({"number": "code", "price": "none"}, "price", "no column is headed 'none'"),
        ({"number": "code", "price": "9"}, "price", "no column 9"),
        ({"number": "code", "price": "0"}, "price", "no column 0"),
    ],
)
def test_a_column_that_is_not_there_is_named(given, field, said):
    with pytest.raises(InputError, match=said) as caught:
        read_sheet(b"code;what;list;part\nA1;Pump;38;x\n", given)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("how", "field"), [({"separator": "dash"}, "separator"), ({"encoding": "ebcdic"}, "encoding")]
)
def test_a_way_to_write_that_nobody_knows_is_refused(how, field):
    with pytest.raises(InputError) as caught:
        read_sheet(b"part;price\nx;1\n", **how)
    assert caught.value.field == field


@pytest.mark.parametrize(("name", "mark"), [("semicolon", ";"), (";", ";"), ("tab", "\t")])
def test_a_separator_goes_by_name_or_as_it_is(name, mark):
    data = f"part{mark}price\npump{mark}38\n".encode()
    assert read_sheet(data, separator=name).separator == mark


def test_a_line_beyond_bounds_cannot_be_split():
    with pytest.raises(ValueError, match=f"{LONGEST_LINE + 1} characters"):
        cells_of("x" * (LONGEST_LINE + 1), ";")
    with pytest.raises(ValueError, match=f"{MOST_COLUMNS + 1} columns"):
        cells_of(";" * MOST_COLUMNS, ";")


@pytest.mark.parametrize(
    ("head", "column"),
    [("Artikel-Nr.", "number"), ("STÜCK", "pack"), ("Qualité", "kind"), ("Lieferzeit", "lead_days"),
     ("Net price", "price"), ("Omschrijving", "description"), ("whatever", "")],
)  # fmt: skip
def test_heads_are_known_by_their_letters(head, column):
    assert column_of(plain_name(head)) == column


def test_no_head_means_two_columns():
    names = [name for names in COLUMNS.values() for name in names]
    assert len(names) == len(set(names))
    assert all(plain_name(name) == name for name in names)


@given(st.text(max_size=12))
def test_a_cell_that_leaves_runs_nothing_and_comes_back(text):
    cell = safe_cell(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    # tabs and breaks are stripped with the blanks when a list is read
    if not text.startswith(("'", "\t", "\r")):
        assert without_apostrophe(cell) == text


def test_an_apostrophe_of_its_own_stays():
    assert without_apostrophe("'s-Hertogenbosch") == "'s-Hertogenbosch"
    assert without_apostrophe("") == ""
