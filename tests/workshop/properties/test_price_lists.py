"""Whatever the habits of a supplier, a price is read as it was meant; whatever is sent is answered in words."""

import contextlib
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.memory import peak_bytes
from tests.workshop.price_files import FAMILIES

from counterpoise.errors import InputError
from counterpoise.workshop.parts.number_formats import decimal_mark, read_price
from counterpoise.workshop.parts.price_list import ListFormat, PriceLine
from counterpoise.workshop.parts.price_list_reader import read_list
from counterpoise.workshop.parts.prices import PriceList
from counterpoise.workshop.store.prices import stand

AMOUNTS = st.integers(1, 9_999_999)
HABITS = ((".", ""), (",", ""), (".", ","), (",", "."), (",", " "), (".", "'"), (",", "\u00a0"))


def written(minor, mark, group, cents):
    whole, rest = divmod(minor, 100)
    left = f"{whole:,}".replace(",", group) if group else str(whole)
    return left + (f"{mark}{rest:02}" if cents or rest else "")


@given(AMOUNTS, st.sampled_from(HABITS),
       st.booleans(), st.sampled_from(["", " €", "EUR ", " EUR"]))  # fmt: skip
def test_an_amount_is_read_as_it_was_written(minor, habit, cents, sign):
    mark, group = habit
    text = written(minor, mark, group, cents)
    shown = sign + text if sign.endswith(" ") else text + sign
    assert read_price(shown, mark) == minor
    if decimal_mark([shown]):
        assert decimal_mark([shown]) == mark


@given(
    st.lists(AMOUNTS, min_size=1, max_size=30),
    st.sampled_from([(".", ","), (",", "."), (",", ""), (".", "")]),
)
def test_the_mark_of_a_list_is_found_or_left_open(minors, habit):
    assert decimal_mark([written(minor, *habit, True) for minor in minors]) == habit[0]


@given(st.text(max_size=30), st.sampled_from(["", ".", ","]))
def test_a_price_is_a_whole_positive_number_of_cents_or_refused(text, mark):
    minor = 1
    with contextlib.suppress(ValueError):
        minor = read_price(text, mark)
    assert isinstance(minor, int)
    assert 0 < minor <= 10_000_000


_PIECES = st.sampled_from(
    ["rotor", "drain_pump", "12,50", "1.250", "=1+2", '"', ";", ",", "\t", "\n", "\r", "x" * 50, "\x0b", "part",
     "price", "NaN", "-1", "\u2028", "ÿ", "'", "new", " "]
)  # fmt: skip


@settings(max_examples=300, suppress_health_check=list(HealthCheck), deadline=None)
@given(
    st.one_of(
        st.lists(_PIECES, max_size=60).map(
            lambda some: ("part;price;kind\n" + "".join(some)).encode()
        ),
        st.binary(max_size=400),
        st.binary(max_size=300).map(lambda some: b"part,price\n" + some),
    )
)
def test_whatever_is_sent_is_answered_in_words(data):
    try:
        read, mistake = read_list(data, FAMILIES, "EUR", ListFormat(), {}), None
    except InputError as error:
        read, mistake = None, error
    assert check_lines(read, data) if mistake is None else mistake.field and mistake.remedy


def check_lines(read, data):
    """What holds of every list that was read; true, so that it can stand in an assertion."""
    numbers = [line.line for line in read.lines] + [fault.line for fault in read.faults]
    count = data.replace(b"\r\n", b"\n").count(b"\n") + data.count(b"\r") + 1
    assert all(1 <= number <= count for number in numbers) or data.startswith(
        (b"\xff\xfe", b"\xfe\xff")
    )
    assert read.broken <= read.fault_count
    assert len({line.same for line in read.lines}) == len(read.lines)
    for line in read.lines:
        assert line.part in FAMILIES[line.family].parts
        assert line.price_minor > 0
    return True


_LINE = st.builds(
    PriceLine, st.just(0), st.just("f"), st.sampled_from("abc"), st.just("new"), AMOUNTS
)
_LINES = st.lists(_LINE, max_size=3)
_LISTS = st.lists(
    st.tuples(st.sampled_from("NS"), st.booleans(), st.booleans(), _LINES), max_size=7
)


@given(_LISTS)
def test_what_stands_is_the_newest_of_each_supplier(told):
    lists, lines = [], {}
    for number, (supplier, whole, gone, some) in enumerate(told, 1):
        kept = {one.part: one for one in some}  # a list names a thing once
        lines[number] = [replace(one, line=i) for i, one in enumerate(kept.values())]
        lists.append(PriceList(number, "", "", supplier, "", whole, len(kept), 0, gone))
    found = stand(lists, lines)
    expected = set()
    for supplier in "NS":
        ours = [one for one in lists if one.supplier == supplier and not one.gone]
        since = max([i for i, one in enumerate(ours) if one.whole], default=0)
        for part in "abc":
            named = [
                (one.number, line.line)
                for one in ours[since:]
                for line in lines[one.number]
                if line.part == part
            ]
            expected |= {named[-1]} if named else set()
    assert found == expected


def test_a_large_list_takes_little_memory():
    before = """
from tests.workshop.price_files import FAMILIES
from counterpoise.workshop.parts.price_list import ListFormat
from counterpoise.workshop.parts.price_list_reader import read_list
data = b"part;price\\n" + b"".join(b"front_loader/rotor;%d,00\\n" % i for i in range(5_000))
"""
    call = """
result = read_list(data, FAMILIES, "EUR", ListFormat(), {})
assert result.fault_count == 4_999 and len(result.faults) == 1000
"""
    assert peak_bytes(before, call) < 4e6
