import re
from pathlib import Path

import pytest

from counterpoise.catalog.cases import CaseIn
from counterpoise.catalog.schema.entries import SECTIONS, HeadModel, ProofModel
from counterpoise.catalog.schema.work import ReadingModel
from counterpoise.catalog.schema.yaml_tree import Tree, parse_tree

MANUAL = (Path(__file__).parents[2] / "docs" / "catalog.md").read_text()


@pytest.fixture(scope="module")
def examples():
    return [
        parse_tree(text.encode(), Tree("x")).data
        for text in re.findall(r"```yaml\n(.*?)```", MANUAL, re.DOTALL)
    ]


@pytest.mark.parametrize("section", SECTIONS)
def test_the_manual_names_every_key_of_an_entry_and_no_other(examples, section):
    keys = {key for entry in examples[0][section].values() for key in entry}
    assert keys == set(SECTIONS[section].model_fields)


def test_the_manual_names_every_key_of_the_file(examples):
    assert set(examples[0]) == {*HeadModel.model_fields, *SECTIONS}
    assert set(examples[0]["proof"]) == set(ProofModel.model_fields)
    assert set(examples[0]["checks"]["drum_by_hand"]["reading"]) == set(ReadingModel.model_fields)


def test_the_manual_names_every_key_of_a_case(examples):
    assert set(examples[1]["lurch_then_quiet"]) == set(CaseIn.model_fields)
