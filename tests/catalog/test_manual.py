import re
from pathlib import Path

import pytest

from counterpoise.catalog.cases import CaseIn
from counterpoise.catalog.loader import Catalog
from counterpoise.catalog.schema.changes import KEYS, FigureChange
from counterpoise.catalog.schema.entries import SECTIONS, HeadModel, ProofModel
from counterpoise.catalog.schema.work import ReadingModel
from counterpoise.catalog.schema.yaml_tree import Tree, parse_tree

GUIDE = (Path(__file__).parents[2] / "docs" / "adding-a-family.md").read_text()
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
    assert set(examples[2]["lurch_then_quiet"]) == set(CaseIn.model_fields)


def test_the_manual_names_every_key_of_a_file_of_changes_and_its_example_is_sound(
    examples, tmp_path
):
    assert set(examples[1]) == set(KEYS)
    (figure,) = examples[1]["figures"].values()
    assert set(figure) == set(FigureChange.model_fields)
    # looked over as it stands on the page, and on the page of the guide
    for manual in (MANUAL, GUIDE):
        (text,) = re.findall(r"```yaml\n(changes: .*?)```", manual, re.DOTALL)
        path = tmp_path / "front_loader.changes.yaml"
        path.write_text(text)
        report = Catalog().inspect(path)
        assert report.problems == ()
        assert report.warnings == ()
