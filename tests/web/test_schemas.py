"""What can be sent follows from the entries: fields, limits, names; by form and as JSON alike."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import get_args, get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError
from starlette.datastructures import FormData, Headers, UploadFile

from counterpoise.errors import InputError
from counterpoise.web import schemas
from counterpoise.web.app import create_app
from counterpoise.web.forms import Form, parse, redirect
from counterpoise.web.schemas import (
    Answered,
    CloseIn,
    DecisionIn,
    FiguresIn,
    FindingIn,
    IntakeIn,
    NoteIn,
    ProofIn,
    RepairIn,
    RetractionIn,
    SentEntry,
)
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
    Retraction,
)
from counterpoise.workshop.jobs.fields import Range, Text, Whole, fields_of, mark_of, sent_fields

# The bodies of requests as version 0.1.0 described them. One figure differs: it offered ages to 80
# and then refused those above 70; the limit now stands once.
SENT_BEFORE = json.loads((Path(__file__).parent / "files" / "sent_0_1_0.json").read_text("utf-8"))
MODELS = {
    Intake: IntakeIn,
    Finding: FindingIn,
    RepairDone: RepairIn,
    Proof: ProofIn,
    Decision: DecisionIn,
    Closed: CloseIn,
    Note: NoteIn,
    Figures: FiguresIn,
    Retraction: RetractionIn,
}
# what is sent beside the fields of the entry, and what only the program says
BESIDE = {IntakeIn: {"answers", "figures"}, RepairIn: {"taken"}}
LEAST = {
    Intake: {},
    Finding: {"check": "play"},
    RepairDone: {"repair": "mend"},
    Proof: {"passed": True},
    Decision: {"option": "scrap"},
    Closed: {"ending": "scrap"},
    Note: {"text": "hello"},
    Figures: {"values": {"mass": 70.0}},
    Retraction: {"entry": 2},
}


@pytest.fixture(scope="module")
def described():
    return create_app(None).openapi()["components"]["schemas"]


# what can be sent since then: each may be left out, so that who sent before can go on as before
SENT_SINCE = {
    "IntakeIn": {"new_machine_minor", "nobody_to_ask", "language"},
    "NoteIn": {"new_machine_minor", "language"},
    # a machine that must not be run, or used, is run or handed on all the same
    **{key: {"acknowledged"} for key in ["FindingIn", "RepairIn", "ProofIn", "RecordingIn"]},
    "DecisionIn": {"safeguard"},
    # what was likely, what was not it and the minutes in all teach later jobs
    "CloseIn": {"safeguard", "likely", "ruled_out", "minutes"},
}
# and what one field takes beside what it took
TAKEN_SINCE = {("RecordingIn", "role"): {"tied"}}


@pytest.mark.parametrize("name", SENT_BEFORE)
def test_the_api_describes_the_same_fields_with_the_same_limits_as_before(described, name):
    added = SENT_SINCE.get(name, set())
    properties = dict(described[name]["properties"])
    assert all(properties.pop(field) for field in added)
    for (model, field), words in TAKEN_SINCE.items():
        if model == name:
            assert words < set(properties[field]["enum"])
            left = [word for word in properties[field]["enum"] if word not in words]
            properties[field] = properties[field] | {"enum": left}
    assert properties == SENT_BEFORE[name]["properties"]
    assert described[name].get("required", []) == SENT_BEFORE[name]["required"]
    assert described[name]["additionalProperties"] is False


def test_every_kind_of_entry_can_be_sent():
    assert set(MODELS) == set(KINDS.values())
    assert all(model.record is record for record, model in MODELS.items())


@pytest.mark.parametrize("record", MODELS)
def test_the_fields_sent_are_those_of_the_entry(record):
    model = MODELS[record]
    wanted = {field.name for field in sent_fields(record)} | BESIDE.get(model, set())
    assert set(model.model_fields) == wanted | {"by", "expected_last"}


@pytest.mark.parametrize("record", MODELS)
def test_what_only_the_program_says_cannot_be_sent(record):
    for field in fields_of(record):
        if not field.sent:
            with pytest.raises(ValidationError, match="Extra inputs"):
                MODELS[record](**LEAST[record], **{field.name: field.default})


@pytest.mark.parametrize("record", MODELS)
def test_the_least_that_can_be_sent_is_an_entry_with_its_defaults(record):
    body = MODELS[record](**LEAST[record]).body()
    assert type(body) is record
    for field in sent_fields(record):
        if field.name not in LEAST[record]:
            assert getattr(body, field.name) == field.sent_default


@pytest.mark.parametrize("record", MODELS)
def test_everything_that_is_required_is_missed(record):
    for name in LEAST[record]:
        rest = {key: value for key, value in LEAST[record].items() if key != name}
        with pytest.raises(ValidationError, match="Field required"):
            MODELS[record](**rest)


def limited():
    """Each number that can be sent with its kind of entry and its limits."""
    return [
        (record, field.name, mark_of(field.sent_hint, Range))
        for record in MODELS
        for field in sent_fields(record)
        if field.bare in {int, float}
    ]


@pytest.mark.parametrize(("record", "name", "limits"), limited())
def test_a_number_outside_its_limits_is_refused_on_either_side(record, name, limits):
    low, high = limits.span
    step = 1 if isinstance(limits, Whole) else 0.5
    least = low if limits.above is None else low + step
    for value in (least, high):
        MODELS[record](**LEAST[record] | {name: value})
    for value in (least - step if limits.above is None else low, high + step * 1000):
        with pytest.raises(ValidationError):
            MODELS[record](**LEAST[record] | {name: value})


def texts():
    """Each text that can be sent with its kind of entry and its limits."""
    return [
        (record, field.name, mark_of(field.sent_hint, Text))
        for record in MODELS
        for field in sent_fields(record)
        if field.bare is str
    ]


@pytest.mark.parametrize(("record", "name", "limits"), texts())
def test_a_text_that_is_too_long_or_holds_control_characters_is_refused(record, name, limits):
    MODELS[record](**LEAST[record] | {name: "x" * limits.longest})
    with pytest.raises(ValidationError):
        MODELS[record](**LEAST[record] | {name: "x" * (limits.longest + 1)})
    with pytest.raises(ValidationError):
        MODELS[record](**LEAST[record] | {name: "a\x1bb"})


def form(**fields):
    """A posted form with these fields; a list is several of one name."""
    pairs = [
        (name, one)
        for name, value in fields.items()
        for one in (value if isinstance(value, list) else [value])
    ]
    return Form(FormData(pairs))


def as_typed(field, value):
    """How somebody types a value on a page: {name of the form's field: text}."""
    name = field.name
    if value is None:
        return {}
    if name.endswith("_minor"):
        return {name.removesuffix("_minor"): f"{value // 100}.{value % 100:02}"}
    if field.bare is bool:
        return {name: "yes" if value else "no"}
    if get_origin(field.bare) is tuple:
        return {name: list(value)}
    if get_origin(field.bare) is Mapping:
        return {f"{name.removesuffix('s')}.{key}": text for key, text in value.items()}
    return {name: f"{value:g}" if isinstance(value, float) else str(value)}


def sendable(field):
    """Values of a field as somebody might send them."""
    kind, limits = field.bare, mark_of(field.sent_hint, Range)
    words = st.text("abcdefgh_", min_size=1, max_size=8)
    if field.name == "language":
        return st.sampled_from(("", "de", "tr"))
    if kind in {int, float}:
        low, high = (max(limits.span[0], -9000), min(limits.span[1], 9000))
        low = low + 1 if limits.above is not None else low
        whole = st.integers(int(max(low, 0)), int(high))
        return whole if kind is int else whole.map(float)
    if kind is bool:
        return st.booleans()
    if get_origin(kind) is tuple:
        return st.lists(words, max_size=3, unique=True).map(tuple)
    if get_origin(kind) is Mapping:
        return st.dictionaries(words, words, max_size=3)
    return st.sampled_from(get_args(kind)) if get_args(kind) else words


@st.composite
def sent_entries(draw):
    record = draw(st.sampled_from([record for record in MODELS if record is not Figures]))
    values = {field.name: draw(sendable(field)) for field in sent_fields(record)}
    return record, values


@given(sent_entries())
def test_a_form_and_json_with_the_same_values_make_the_same_entry(sent):
    record, values = sent
    typed = {}
    for field in sent_fields(record):
        typed |= as_typed(field, values[field.name])
    by_form = parse(MODELS[record], **form(by="ada", last="4", **typed).entry(record))
    by_json = MODELS[record](by="ada", expected_last=4, **values)
    assert by_form.body() == by_json.body()
    assert (by_form.hand, by_form.expected_last) == (by_json.hand, by_json.expected_last)


def test_an_empty_form_says_what_is_missing_in_the_field_s_name():
    for record, name in ((Proof, "passed"), (Retraction, "entry")):
        with pytest.raises(InputError) as caught:
            parse(MODELS[record], **form().entry(record))
        assert caught.value.field == name
        assert caught.value.remedy == "Correct it."


def test_what_a_page_gives_goes_before_what_was_typed():
    typed = form(check="play", outcome="", reading="12,5", photos=["not", "ids"], minutes=" 3 ")
    fields = typed.entry(Finding, photos=("f" * 32,))
    assert (fields["reading"], fields["minutes"], fields["photos"]) == (12.5, 3.0, ("f" * 32,))
    assert typed.entry(Finding, reading=None)["reading"] is None


@pytest.mark.parametrize(
    ("record", "typed", "field"),
    [
        (Finding, {"check": "play", "minutes": "1441"}, "minutes"),
        (Finding, {"check": "play", "reading": "much"}, "reading"),
        (Decision, {"option": "scrap", "agreed": "-3"}, "agreed"),
        (Intake, {"age_years": "71"}, "age_years"),
        (Retraction, {"entry": "1.5"}, "entry"),
        (Note, {"text": "x", "last": "two"}, "last"),
    ],
)
def test_what_was_typed_wrongly_is_named_by_the_field_of_the_page(record, typed, field):
    with pytest.raises(InputError) as caught:
        form(**typed).entry(record)
    assert caught.value.field == field


def test_only_what_a_closing_brought_may_be_below_zero():
    assert form(ending="scrap", received="-12.50").entry(Closed)["received_minor"] == -1250


def test_a_file_in_the_place_of_a_text_reads_as_none():
    sent = Form(FormData([("text", UploadFile(None, filename="a.txt", headers=Headers()))]))
    assert sent.text("text") == ""
    assert sent.texts("text") == []
    assert [file.filename for file in sent.files("text")] == ["a.txt"]


def test_line_breaks_of_a_browser_become_those_of_a_text():
    assert form(story=" one\r\ntwo ").text("story") == "one\ntwo"


@pytest.mark.parametrize(
    ("by", "kept"), [("Ada", "Ada"), ("Ödön; x=1", "dn x1"), ("a" * 99, "a" * 40)]
)
def test_a_cookie_carries_the_plain_letters_of_a_name(by, kept):
    answer = redirect("/jobs", by)
    assert answer.status_code == 303
    assert (
        f'hand="{kept}"' in answer.headers["set-cookie"]
        or f"hand={kept};" in answer.headers["set-cookie"]
    )


def test_an_answer_of_the_intake_is_a_finding():
    answer = Answered(check="play", outcome="some", reading=0.7)
    assert answer.finding() == Finding("play", "some", 0.7)
    with pytest.raises(ValidationError):
        Answered(check="play", minutes=3)


def test_no_model_says_again_what_the_entry_says():
    """A field that stands in the dataclass and in a class here would be two truths."""
    for model in vars(schemas).values():
        if isinstance(model, type) and issubclass(model, SentEntry) and model in MODELS.values():
            declared = model.__mro__[1]
            assert issubclass(declared, BaseModel)
            own = set(declared.__annotations__) - {"record"}
            assert own == BESIDE.get(model, set()), model.__name__
