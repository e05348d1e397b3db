"""Forms as browsers send them: texts, read with care, and never more said than was typed."""

from io import BytesIO

import pytest
from pydantic import BaseModel
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import InputError
from counterpoise.web.forms import Form, parse, redirect
from counterpoise.web.schemas import DecisionIn, FindingIn, IntakeIn
from counterpoise.workshop.jobs.entries import Decision, Finding, Intake


def form(*pairs, **fields):
    return Form(FormData([*pairs, *fields.items()]))


def upload(name, data=b""):
    return UploadFile(BytesIO(data), filename=name)


def test_a_text_comes_without_blanks_and_with_plain_line_breaks():
    assert form(note="  two\r\nlines \n").text("note") == "two\nlines"
    assert form().text("note") == ""


def test_a_field_that_is_ticked_twice_gives_both_in_order():
    sent = form(("faults", "b"), ("faults", ""), ("faults", "a"))
    assert sent.texts("faults") == ["b", "a"]
    assert form().texts("faults") == []


@pytest.mark.parametrize(("typed", "read"), [("1.5", 1.5), ("1,5", 1.5), (" 2 ", 2.0), ("", None)])
def test_a_number_takes_either_mark(typed, read):
    assert form(reading=typed).number("reading", 0, 10) == read


@pytest.mark.parametrize("typed", ["11", "-1", "nan", "inf", "1e999", "much", "1.2.3"])
def test_a_number_that_cannot_be_names_its_field(typed):
    with pytest.raises(InputError) as refused:
        form(reading=typed).number("reading", 0, 10)
    assert refused.value.field == "reading"


@pytest.mark.parametrize(("typed", "read"), [("3", 3), ("3,0", 3), ("0", 0), ("", None)])
def test_a_whole_number(typed, read):
    assert form(count=typed).whole("count") == read


@pytest.mark.parametrize("typed", ["1.5", "-1", "1000000001"])
def test_what_is_not_whole_or_beyond_all_numbers_of_ours_is_refused(typed):
    with pytest.raises(InputError) as refused:
        form(count=typed).whole("count")
    assert refused.value.field == "count"


@pytest.mark.parametrize(
    ("typed", "minor"), [("12", 1200), ("12,5", 1250), ("0.01", 1), ("", None)]
)
def test_money_is_typed_in_whole_units_and_read_in_minor_ones(typed, minor):
    assert form(price=typed).money("price") == minor


def test_money_below_zero_only_where_it_can_be():
    assert form(received="-10").money("received", negative=True) == -1000
    with pytest.raises(InputError):
        form(price="-10").money("price")


def test_an_empty_file_field_is_no_file():
    sent = form(("photos", upload("")), ("photos", upload("a.png", b"x")), ("photos", "text"))
    assert [file.filename for file in sent.files("photos")] == ["a.png"]


def test_fields_by_prefix_leave_out_what_was_not_answered():
    sent = form(**{"check.level": "yes", "check.floor": " ", "checks": "no", "figure.drum": "3"})
    assert sent.starting("check.") == {"level": "yes"}


def test_who_sends_it_and_what_they_had_seen():
    assert form(by="Ada", last="7").sender() == {"by": "Ada", "expected_last": 7}
    assert form().sender() == {"by": "", "expected_last": None}


def test_money_of_an_entry_is_the_field_without_its_unit():
    sent = parse(DecisionIn, **form(option="scrap", agreed="12,50").entry(Decision))
    assert sent.body().agreed_minor == 1250
    # the name of the JSON field means nothing on a page: 12 would be taken for twelve cents
    sent = parse(DecisionIn, **form(option="scrap", agreed_minor="12").entry(Decision))
    assert sent.body().agreed_minor is None


def test_a_set_of_fields_is_read_by_its_parts():
    fields = {"family": "bench", "owner": "customer", "feature.drive": "belt", "feature.tub": ""}
    sent = parse(IntakeIn, **form(("complaints", "shakes"), **fields).entry(Intake))
    assert sent.intake().features == {"drive": "belt"}
    assert sent.intake().complaints == ("shakes",)


def test_an_answer_and_its_minutes_make_a_finding():
    sent = form(check="play", outcome="some", minutes="2,5", by="Ada").entry(Finding)
    finding = parse(FindingIn, **sent).body()
    assert (finding.check, finding.outcome, finding.minutes) == ("play", "some", 2.5)


class Two(BaseModel):
    """Two numbers, for the order in which mistakes are named."""

    first: int
    second: int


def test_of_two_mistakes_the_first_is_named():
    with pytest.raises(InputError) as refused:
        parse(Two, second="x", first="y")
    assert refused.value.field == "first"
    assert str(refused.value).startswith("first: ")


def test_a_redirect_is_never_sent_again_and_remembers_who_wrote():
    answer = redirect("/jobs/3", "Ada K.")
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/3")
    cookie = answer.headers["set-cookie"]
    for part in ('hand="Ada K."', "HttpOnly", "SameSite=strict", f"Max-Age={90 * 86400}"):
        assert part in cookie


def test_who_says_nothing_is_not_remembered():
    assert "set-cookie" not in redirect("/jobs").headers
