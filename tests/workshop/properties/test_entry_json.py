"""Whatever body can be made comes back from JSON as it was; whatever is read is a body or a named mistake."""

import json
from collections.abc import Mapping
from dataclasses import fields
from types import NoneType, UnionType
from typing import Annotated, Literal, Union, get_args, get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import KINDS, Body
from counterpoise.workshop.jobs.entry_json import as_stored, body_from_json, body_to_json, reader
from counterpoise.workshop.jobs.fields import fields_of

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40)
NUMBER = st.floats(-1e9, 1e9, allow_nan=False)
WHOLE = st.integers(-(10**9), 10**9)


def values_of(hint):
    """Whatever a field of this type can hold, its limits left aside: stored entries may be older."""
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return values_of(args[0])
    if origin is Literal:
        return st.sampled_from(args)
    if origin in {Union, UnionType}:
        return st.one_of([values_of(arm) for arm in args])
    if origin is tuple:
        return st.lists(values_of(args[0]), max_size=3).map(tuple)
    if origin is Mapping:
        return st.dictionaries(TEXT, values_of(args[1]), max_size=3)
    return {str: TEXT, bool: st.booleans(), int: WHOLE, float: NUMBER, NoneType: st.none()}[hint]


BODIES = st.one_of(
    [
        st.builds(record, **{field.name: values_of(field.hint) for field in fields_of(record)})
        for record in KINDS.values()
    ]
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)
NAMES = sorted({field.stored_name for made in KINDS.values() for field in fields_of(made)})


@given(BODIES)
def test_a_body_comes_back_from_json_as_it_was(body):
    assert body_from_json(json.loads(json.dumps(body_to_json(body)))) == body


@given(BODIES)
def test_a_body_is_stored_as_it_will_be_read_back(body):
    assert as_stored(body) == body_from_json(json.loads(json.dumps(body_to_json(body))))


@given(
    JSON
    | st.dictionaries(
        st.sampled_from([*NAMES, "kind"]), JSON | st.sampled_from(sorted(KINDS)), max_size=6
    )
)
def test_anything_else_is_a_named_mistake(data):
    try:
        body, mistake = body_from_json(data), None
    except InputError as error:
        body, mistake = None, error
    if mistake is None:
        assert isinstance(body, Body)
        assert body_from_json(body_to_json(body)) == body
    else:
        # what is no set of fields at all has no field to name
        assert mistake.field or not isinstance(data, dict)
        assert mistake.message.startswith(mistake.field or "entry")


@pytest.mark.parametrize("record", KINDS.values())
def test_every_field_of_every_kind_can_be_read(record):
    assert [field.name for field in fields_of(record)] == [part.name for part in fields(record)]
    assert all(callable(reader(field.hint)) for field in fields_of(record))
