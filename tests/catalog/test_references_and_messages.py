"""Names of a file, and the words for what is wrong with one."""

from pathlib import Path
from typing import Annotated

import pytest
from pydantic import Field, ValidationError

from counterpoise.catalog.loader import inspect_family
from counterpoise.catalog.schema.messages import (
    Amount,
    Chance,
    Entry,
    Text,
    Word,
    instead,
    mistake,
    read_entry,
    refuse,
    row_mistakes,
    sentence,
    show,
    unknown,
)
from counterpoise.catalog.schema.references import Known, Sourced, named_twice
from counterpoise.catalog.schema.yaml_tree import Tree, parse_tree

KNOWN = Known(
    ids={"sources": ["from memory", "guide", "common practice"]},
    grades={"damper": ["early", "gone"], "belt": []},
)


class Sample(Entry):
    name: Word
    text: Text
    chance: Chance
    minutes: Amount = 1.0
    count: Annotated[int, Field(ge=1)] = 1
    switch: bool = False
    rows: dict[str, float] = Field(default_factory=dict)
    items: list[str] = Field(default_factory=list)


def mistakes_of(yaml):
    tree = parse_tree(f"entry: {yaml}\n".encode(), Tree("f"))
    read = read_entry(Sample, tree, ("entry",))
    return read, tree.report()


GOOD = "name: lid, text: Lid off, chance: 0.5"


def test_an_entry_without_mistakes_is_read():
    read, report = mistakes_of(f"{{{GOOD}, minutes: 2, items: [a]}}")
    assert report == []
    assert (read.name, read.minutes, read.items) == ("lid", 2.0, ["a"])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("chance: '0.5'", "entry.chance: '0.5' is not a number; write it without a unit"),
        ("chance: 1.5", "entry.chance: 1.5 is outside its limits; it must be 1 or less"),
        ("chance: -1", "entry.chance: -1 is outside its limits; it must be 0 or more"),
        ("chance: .nan", "entry.chance: nan is not a finite number; give one"),
        ("count: 0", "entry.count: 0 is outside its limits; it must be 1 or more"),
        ("count: 1.5", "entry.count: 1.5 is not a whole number"),
        ("count: two", "entry.count: 'two' is not a whole number"),
        ("switch: 1", "entry.switch: 1 is not true or false; write one of them"),
        ("rows: [1]", "entry.rows: a list is not a table"),
        ("items: a", "entry.items: 'a' is not a list"),
        ("text: ''", "entry.text: is empty; write something"),
        ("name: two words", "entry.name: 'two words' is not written as it must be"),
        ("minuets: 2", "unknown key minuets; did you mean minutes?"),
    ],
)
def test_a_mistake_says_where_what_and_what_to_do(change, words):
    key = change.split(":")[0]
    kept = ", ".join(part for part in GOOD.split(", ") if not part.startswith(f"{key}:"))
    read, report = mistakes_of(f"{{{kept}, {change}}}")
    assert read is None
    assert words in "\n".join(report)


def test_all_mistakes_are_told_at_once():
    _, report = mistakes_of("{name: a b, chance: 2, extra: 1}")
    assert len(report) == 4  # two wrong, one missing, one too many
    assert any("text is missing; add it" in line for line in report)


def test_a_number_may_be_a_name():
    read, report = mistakes_of("{name: 2, text: Two, chance: 0}")
    assert report == []
    assert read.name == "2"


def test_a_truth_value_is_no_name():
    read, _ = mistakes_of("{name: true, text: Two, chance: 0}")
    assert read is None


@pytest.mark.parametrize(
    ("row", "outcomes", "words"),
    [
        ({"bad": 0.5}, ["ok", "bad"], ""),
        ({"ok": 0.5, "bad": 0.5}, ["ok", "bad"], ""),
        (
            {"ok": 0.5, "bad": 0.4},
            ["ok", "bad"],
            "every outcome is named but the chances sum to 0.9",
        ),
        ({"bad": 0.7, "worse": 0.6}, ["ok", "bad", "worse"], "sum to 1.3"),
        ({"bda": 0.1}, ["ok", "bad"], "there is no outcome bda; did you mean bad?"),
        ({"anything": 0.4}, None, ""),  # broken outcomes are told elsewhere
        ({"anything": 1.4}, None, "sum to 1.4"),
    ],
)
def test_rows_of_chances(row, outcomes, words):
    found = [error.message() for _, _, error in row_mistakes(row, outcomes)]
    assert (words in "\n".join(found)) if words else not found


def test_three_thirds_are_one():
    third = 1 / 3
    assert row_mistakes({"a": third, "b": third, "c": third}, ["a", "b", "c"]) == []


def test_refusing_nothing_is_no_mistake():
    refuse([])
    with pytest.raises(ValidationError) as caught:
        refuse([(("a",), 1, mistake("one", "mend")), (("b",), 2, mistake("two", "mend"))])
    assert caught.value.error_count() == 2


def test_what_to_write_instead():
    assert instead("damperr", ["damper", "belt"]) == "did you mean damper?"
    assert instead("xyz", ["damper", "belt"]) == "known: belt, damper"
    assert instead("xyz", []) == "none is known here"
    assert instead("zzz", [f"name{i:02}" for i in range(20)]).endswith(" ...")
    assert sentence("did you mean lid?") == "Did you mean lid?"
    assert "there is no panel ldi" in unknown("panel", "ldi", ["lid"]).message()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "nothing"),
        (True, "true"),
        ({"a": 1}, "a table"),
        ([1], "a list"),
        ("word", "'word'"),
        (2.5, "2.5"),
    ],
)
def test_a_value_in_a_message(value, text):
    assert show(value) == text


def test_a_long_value_is_cut():
    assert len(show("x" * 500)) == 60
    assert show("x" * 500).endswith("...")


def test_a_bare_fault_stands_for_its_grades():
    assert KNOWN.expand("damper") == ["damper:early", "damper:gone"]
    assert KNOWN.expand("belt") == ["belt"]
    assert KNOWN.expand("damper:gone") == ["damper:gone"]
    assert set(KNOWN.fault_keys) == {"damper", "belt", "damper:early", "damper:gone"}


def test_a_grade_named_by_its_fault_and_alone_is_a_mistake():
    assert named_twice({"damper:early": 1, "belt": 1}, KNOWN) == []
    twice = named_twice({"damper": 1, "damper:gone": 1}, KNOWN)
    assert [loc for loc, _, _ in twice] == [("damper:gone",)]
    assert "damper:gone is given by damper and by damper:gone" in twice[0][2].message()


class Figure(Sourced):
    prior: float = 0.0
    age: float = 0.0


@pytest.mark.parametrize(
    ("source", "line"),
    [
        ("from memory", "from memory"),
        ({"prior": "guide", "otherwise": "from memory"}, "prior: guide; otherwise: from memory"),
    ],
)
def test_where_figures_are_from_in_one_line(source, line):
    read = Figure.model_validate({"source": source}, context=KNOWN)
    assert read.provenance == line


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("hearsay", "there is no source hearsay"),
        ({"piror": "guide"}, "there is no field piror; did you mean prior?"),
        ({}, "at least 1"),
    ],
)
def test_a_figure_from_nowhere_is_refused(source, words):
    with pytest.raises(ValidationError) as caught:
        Figure.model_validate({"source": source}, context=KNOWN)
    assert words in str(caught.value)


def test_a_family_is_not_validated_without_its_names():
    with pytest.raises(TypeError, match="names known to it"):
        Figure.model_validate({"source": "guide"})


@pytest.mark.parametrize(
    ("old", "new", "remedy"),
    [
        ("prior: 0.45", "prior: 45%", "write 0.45"),
        ("prior: 0.45", "prior: '0,45'", "write 0.45"),
        ("minutes: 2\n", "minutes: '1,5'\n", "write 1.5"),
        ("price_minor: 1600", "price_minor: '16.00'", "money is in minor units: write 1600"),
    ],
)
def test_a_number_written_another_way_is_told_as_it_must_be_written(tmp_path, old, new, remedy):
    text = (Path(__file__).parent / "files" / "spin_dryer.yaml").read_text()
    assert old in text
    path = tmp_path / "spin_dryer.yaml"
    path.write_text(text.replace(old, new, 1))
    assert any(remedy in problem for problem in inspect_family(path).problems)
