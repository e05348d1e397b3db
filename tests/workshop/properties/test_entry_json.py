"""Whatever body can be made comes back from JSON as it was; whatever is read is a body or a named mistake."""

import json
from dataclasses import fields
from typing import get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import KINDS, Body
from counterpoise.workshop.jobs.entry_json import _READERS, body_from_json, body_to_json

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40)
NUMBER = st.floats(-1e9, 1e9, allow_nan=False)
WHOLE = st.integers(-(10**9), 10**9)
BY_TYPE = {
    "str": TEXT,
    "bool": st.booleans(),
    "int": WHOLE,
    "Owner": st.sampled_from(["customer", "workshop"]),
    "int | None": st.none() | WHOLE,
    "float | None": st.none() | NUMBER,
    "tuple[str, ...]": st.lists(TEXT, max_size=3).map(tuple),
    "tuple[float, ...]": st.lists(NUMBER, max_size=3).map(tuple),
    "Mapping[str, str]": st.dictionaries(TEXT, TEXT, max_size=3),
    "Mapping[str, float]": st.dictionaries(TEXT, NUMBER, max_size=3),
    "How": st.sampled_from(["told", "plate", "counted", "measured", "fitted"]),
}
BODIES = st.one_of(
    [
        st.builds(made, **{part.name: BY_TYPE[str(part.type)] for part in fields(made)})
        for made in KINDS.values()
    ]
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)
NAMES = sorted({part.name for made in KINDS.values() for part in fields(made)})


@given(BODIES)
def test_a_body_comes_back_from_json_as_it_was(body):
    assert body_from_json(json.loads(json.dumps(body_to_json(body)))) == body


@given(
    JSON
    | st.dictionaries(
        st.sampled_from([*NAMES, "kind"]), JSON | st.sampled_from(sorted(KINDS)), max_size=6
    )
)
def test_anything_else_is_a_named_mistake(data):
    try:
        body = body_from_json(data)
    except InputError:
        return
    assert isinstance(body, Body)


@pytest.mark.parametrize("made", KINDS.values())
def test_every_field_of_every_kind_can_be_read(made):
    assert get_type_hints(made)
    assert {str(part.type) for part in fields(made)} <= set(_READERS)
