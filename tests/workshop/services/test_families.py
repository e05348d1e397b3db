"""Families by id, and what the catalog calls a piece on the shelf."""

import pytest
from tests.web.workbench import OTHER, STOCKED
from tests.workshop.small import FAMILY

from counterpoise.errors import InputError
from counterpoise.workshop.services.families import Families

FAMILIES = Families({"small": FAMILY, "bench": STOCKED, "other": OTHER})


def test_they_are_a_mapping():
    assert list(FAMILIES) == ["small", "bench", "other"]
    assert len(FAMILIES) == 3
    assert FAMILIES["small"] is FAMILY
    assert FAMILIES.get("none") is None
    with pytest.raises(KeyError):
        FAMILIES["none"]


@pytest.mark.parametrize("key", ["benhc", "", "x" * 500])
def test_an_unknown_one_is_refused_in_words(key):
    with pytest.raises(InputError) as refused:
        FAMILIES.named(key)
    assert refused.value.field == "family"


@pytest.mark.parametrize(
    ("family", "item", "title"),
    [
        ("bench", "damper_set", "Set of dampers"),
        ("bench", "drum", "Drum"),
        ("bench", "gone_from_catalog", "gone_from_catalog"),
        ("gone", "damper_set", "damper_set"),
    ],
)
def test_a_piece_keeps_a_name_whatever_became_of_the_catalog(family, item, title):
    assert FAMILIES.title_of(family, item) == title
