"""A field of an entry is declared once: its marks say the same to the checks and to pydantic."""

import math
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field
from typing import Annotated, Literal, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.choices import HowByHand
from counterpoise.workshop.jobs.entries import (
    KINDS,
    Closed,
    Decision,
    Figures,
    Finding,
    Intake,
    Note,
    Proof,
    RepairDone,
)
from counterpoise.workshop.jobs.entry_json import as_stored, reader
from counterpoise.workshop.jobs.field_checks import check_day, meant
from counterpoise.workshop.jobs.fields import (
    BY_PROGRAM,
    PLAIN_LETTERS,
    Choice,
    Count,
    Ident,
    Minutes,
    Range,
    SentAs,
    Short,
    StoredAs,
    Text,
    Whole,
    bare_type,
    fields_of,
    mark_of,
    sent_fields,
)

NUMBERS = st.floats(allow_nan=True, allow_infinity=True) | st.integers(-(10**12), 10**12).map(float)
RANGES = st.builds(
    lambda low, width: Range(low, low + width), st.floats(-1e6, 1e6), st.floats(0, 1e6)
)


@dataclass(frozen=True, slots=True)
class Sample:
    """A kind of entry of the tests, with every sort of field."""

    name: Ident
    title: Annotated[Short, SentAs("untitled")]
    minutes: Minutes | None = None
    colour: Annotated[
        Literal["red", "blue"],
        Choice("no colour", "Give red or blue"),
        SentAs(hint=Literal["red"]),
    ] = "red"
    tags: Annotated[tuple[Ident, ...], Count(2)] = ()
    by_name: Mapping[str, Annotated[float, Range(0, 1)]] = field(default_factory=dict)
    score: Annotated[float, BY_PROGRAM] = 0.0
    renamed: Annotated[str, StoredAs("older")] = ""


def accepted(hint, value):
    try:
        TypeAdapter(hint).validate_python(value)
    except ValidationError:
        return False
    return True


@given(RANGES, NUMBERS)
def test_a_range_says_the_same_to_the_check_and_to_pydantic(limits, value):
    assert accepted(Annotated[float, limits], value) == limits.holds(value)


@given(st.integers(-50, 50), st.integers(0, 50), st.integers(-120, 120))
def test_whole_numbers_too(low, width, value):
    limits = Whole(low, low + width)
    assert accepted(Annotated[int, limits], value) == limits.holds(value)


@given(st.floats(0, 1e6), NUMBERS)
def test_above_is_a_bound_that_is_not_reached(bound, value):
    limits = Range(above=bound, high=2e6)
    assert accepted(Annotated[float, limits], value) == limits.holds(value)
    assert not limits.holds(bound)


@pytest.mark.parametrize("limits", [Range(0, 10), Range(above=0, high=10), Range(), Whole(0, 10)])
def test_what_is_no_number_lies_nowhere(limits):
    assert limits.holds(5)
    if limits != Range():
        assert not limits.holds(math.nan)
        assert not limits.holds(math.inf)


@pytest.mark.parametrize(
    ("limits", "value", "said", "remedy"),
    [
        (Range(0, 1440), 1441.0, "x: 1441 cannot be", "Give a number from 0 to 1440"),
        (Range(0, 1440), math.nan, "x: nan cannot be", "Give a number from 0 to 1440"),
        (Range(above=0, high=9), 0.0, "x: 0 cannot be", "Give a number from 0 to 9"),
        (Whole(0, 10**11), -1, "x: -1 is below zero", "Give the amount without a minus"),
        (Whole(1, 9), 0, "x: 0 cannot be", "Give a number from 1 to 9"),
        (Range(low=3), 2.0, "x: 2 cannot be", "Give a number from 3 to 1e+09"),
    ],
)
def test_a_number_outside_is_named_with_its_limits(limits, value, said, remedy):
    with pytest.raises(InputError) as caught:
        limits.check(value, "x")
    assert (caught.value.message, caught.value.field, caught.value.remedy) == (said, "x", remedy)


@given(st.text(max_size=12), st.integers(0, 12))
def test_a_text_is_as_long_as_its_mark_says(text, longest):
    assert accepted(Annotated[str, Text(longest)], text) == (len(text) <= longest)


def test_blanks_around_a_text_do_not_count():
    stripped = Annotated[str, Text(3, PLAIN_LETTERS, stripped=True)]
    assert TypeAdapter(stripped).validate_python("  abc ") == "abc"
    assert not accepted(stripped, "abcd")
    assert not accepted(stripped, "a\x07")


@given(st.lists(st.integers(), max_size=5), st.integers(0, 4), st.integers(0, 2))
def test_a_list_holds_as_many_as_its_mark_says(items, most, least):
    hint = Annotated[tuple[int, ...], Count(most + least, least)]
    assert accepted(hint, items) == (least <= len(items) <= most + least)


def test_the_fields_of_a_kind_are_read_off_its_marks():
    known = {each.name: each for each in fields_of(Sample)}
    assert list(known) == [
        "name", "title", "minutes", "colour", "tags", "by_name", "score", "renamed",
    ]  # fmt: skip
    assert [name for name, each in known.items() if each.required] == ["name", "title"]
    assert [name for name, each in known.items() if each.optional] == ["minutes"]
    assert [name for name, each in known.items() if not each.sent] == ["score"]
    assert (known["title"].default, known["title"].sent_default) == (MISSING, "untitled")
    assert (known["name"].sent_default, known["minutes"].sent_default) == (MISSING, None)
    assert get_args(known["colour"].sent_hint) == ("red",)
    assert (known["renamed"].stored_name, known["tags"].stored_name) == ("older", "tags")
    assert (known["minutes"].bare, known["colour"].bare) == (float, Literal["red", "blue"])
    assert known["by_name"].default == {}
    assert [each.name for each in sent_fields(Sample)] == [
        name for name in known if name != "score"
    ]


def test_marks_are_found_inside_an_optional_number_but_not_inside_a_list():
    assert mark_of(Minutes | None, Range) == Range(0, 24 * 60)
    assert mark_of(Annotated[Minutes, "a word"] | None, Range) == Range(0, 24 * 60)
    assert mark_of(tuple[Minutes, ...], Range) is None
    assert mark_of(str, Range) is None
    assert bare_type(Annotated[Minutes | None, "a word"]) is float


def test_a_type_that_no_entry_can_have_is_a_mistake_of_ours():
    with pytest.raises(TypeError, match="No field of an entry can be of type"):
        reader(set[int])


@pytest.mark.parametrize("record", KINDS.values())
def test_what_may_be_sent_has_limits(record):
    """A text, a number or a list without any would take whatever the network brings."""
    for each in sent_fields(record):
        if each.bare is bool or mark_of(each.hint, Choice):
            continue
        inner = get_args(each.bare)
        marks = [mark_of(hint, kind) for hint in (each.hint, *inner) for kind in (Range, Text)]
        assert any(marks), f"{record.__name__}.{each.name}"


@pytest.mark.parametrize(
    ("body", "field_name"),
    [
        (Finding("play", "none", minutes=-0.1), "minutes"),
        (Finding("play", "none", minutes=1440.1), "minutes"),
        (RepairDone("mend", math.inf), "minutes"),
        (Proof(True, math.nan), "minutes"),
        (Intake("small", "customer", "x", (), 70.5), "age_years"),
        (Intake("small", "nobody", "x", ()), "owner"),
        (Decision("scrap", quoted_minor=-5), "quoted_minor"),
        (Closed("scrap", terms={"tax_percent": -1.0}), "terms.tax_percent"),
        (Figures({"mass": 2e9}), "values.mass"),
        (Figures({"mass": 70.0}, "guessed"), "how"),
    ],
)
def test_limits_hold_for_whoever_makes_the_entry(body, field_name):
    with pytest.raises(InputError) as caught:
        as_stored(body, limits=True)
    assert caught.value.field == field_name


@pytest.mark.parametrize(
    "body",
    [
        Finding("play", "none", minutes=0.0),
        Finding("play", "none", minutes=1440.0),
        Intake("small", "workshop", "x", (), 70.0),
        Intake("small", "workshop", "x", (), None),
        Closed("scrap", received_minor=-(10**11)),
        # lengths are for the network: the terminal takes longer texts
        Note("x" * 9000),
        Figures({"mass": 70.0}, "fitted", {"mass": 1.0}),
    ],
)
def test_what_stands_on_a_limit_or_holds_no_number_passes(body):
    assert as_stored(body, limits=True) == body


def test_a_fit_is_no_way_of_knowing_that_somebody_can_send():
    assert set(get_args(HowByHand)) == {"told", "plate", "counted", "measured"}


@pytest.mark.parametrize("day", ["", "2026-03-05", "2024-02-29", "0001-01-01"])
def test_a_day_is_as_it_is_written_or_not_given(day):
    check_day(day, "promised")


@pytest.mark.parametrize(
    "day",
    ["5.3.2026", "2026-3-5", "20260305", "2026-W10-4", "2026-02-29", "tomorrow", "2026-03-05 "],
)
def test_another_way_to_write_a_day_is_refused_with_an_example(day):
    with pytest.raises(InputError, match=r"promised: .* is no day") as caught:
        check_day(day, "promised")
    assert "2026-03-05" in caught.value.remedy


@given(st.floats(1, 100), st.sampled_from([0.1, 0.001, 10.0, 1000.0]))
def test_a_slip_is_undone_by_its_factor(value, slip):
    likely = meant(value / slip, (slip,), 1, 100.0001)
    assert likely is not None
    assert likely == pytest.approx(value)


def test_a_slip_never_leads_out_of_range_nor_to_nothing():
    assert meant(0.0, (10.0, 0.1), 0, 5) is None
    assert meant(-3.0, (10.0, 0.1), 0, 5) is None
    assert meant(math.nan, (10.0,), 0, 5) is None
    assert meant(50.0, (0.01, 0.1), 1, 20) == 5.0


def test_jobs_are_listed_without_pydantic_or_pictures():
    """Either takes longer to load than the list of jobs of a workshop may take altogether."""
    code = (
        "import sys; import counterpoise.workshop.store.store;"
        "print(sorted({'pydantic', 'PIL', 'fastapi', 'numba'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
