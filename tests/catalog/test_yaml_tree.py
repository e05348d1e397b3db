"""A file as plain data that remembers its lines: what is kept, what is a mistake, what never hangs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.catalog.schema import yaml_tree
from counterpoise.catalog.schema.yaml_tree import Tree, parse_tree, read_tree, spell


def tree_of(text):
    return parse_tree(text.encode() if isinstance(text, str) else text, Tree("a.yaml"))


def test_every_place_knows_its_line():
    tree = tree_of("a: 1\nb:\n  - 2\n  - c: 3\n")
    assert tree.data == {"a": 1, "b": [2, {"c": 3}]}
    assert [tree.line(loc) for loc in (("a",), ("b",), ("b", 0), ("b", 1, "c"))] == [1, 2, 3, 4]


def test_a_place_that_is_not_written_has_the_line_of_what_would_hold_it():
    tree = tree_of("a:\n  b:\n    c: 1\n")
    assert tree.line(("a", "b", "missing", "deeper")) == 2
    assert tree.line(("elsewhere",)) == 1


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1e-3", 0.001),  # YAML 1.1 readers take this for text
        ("1:20", "1:20"),  # and this for 80
        ("0o17", 15),
        ("yes", "yes"),  # a word, no truth value, in YAML 1.2
        ("true", True),
        ("null", None),
        ("~", None),
        ("2026-03-01", "2026-03-01"),  # days stay as written
        (".inf", float("inf")),
        ("'7'", "7"),
    ],
)
def test_scalars_are_those_of_yaml_1_2(text, value):
    assert tree_of(f"x: {text}\n").data["x"] == value


def test_a_key_given_twice_is_told_with_both_lines_and_the_first_holds():
    tree = tree_of("a: 1\nb: 2\na: 3\nb: 4\n")
    assert tree.data == {"a": 1, "b": 2}
    assert tree.report() == [
        "a.yaml:3: key a is given twice, first in line 1; leave one of them out",
        "a.yaml:4: key b is given twice, first in line 2; leave one of them out",
    ]


def test_a_key_inside_is_told_with_its_place():
    tree = tree_of("checks:\n  look: {minutes: 1, minutes: 2}\n")
    assert tree.report() == [
        "a.yaml:2: checks.look: key minutes is given twice, first in line 2; leave one of them out"
    ]


def test_a_key_that_is_a_list_is_refused_and_the_rest_is_read():
    tree = tree_of("? [a, b]\n: 1\nc: 2\n")
    assert tree.data == {"c": 2}
    assert "a key must be one word" in tree.report()[0]


def test_tags_are_not_carried_out():
    tree = tree_of("x: !!python/object/apply:os.system ['echo']\ny: !mine text\n")
    assert tree.data["y"] == "text"
    assert any("the tag !mine is not allowed" in line for line in tree.report())


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "is empty"),
        (b"# only a remark\n", "is empty"),
        (b"a: [1, 2\n", "is not YAML"),
        (b"a: b: c\n", "is not YAML"),
        (b"a: 1\n\xff\xfe\n", "is not UTF-8"),
    ],
)
def test_what_cannot_be_read_is_a_mistake_and_no_exception(raw, words):
    tree = tree_of(raw)
    assert words in tree.report()[0]
    assert "; " in tree.report()[0]  # with its remedy


def test_the_line_of_bytes_that_are_no_text_is_told():
    assert tree_of(b"a: 1\nb: 2\nc: \xff\n").report()[0].startswith("a.yaml:3:")


def test_a_byte_order_mark_is_no_part_of_the_first_key():
    assert tree_of("\N{ZERO WIDTH NO-BREAK SPACE}a: 1\n".encode()).data == {"a": 1}


def test_an_alias_of_itself_does_not_hang():
    tree = tree_of("a: &a [1, *a]\n")
    assert tree.data == {"a": [1, None]}
    assert "endless" in tree.report()[0]


def test_aliases_that_blow_a_file_up_are_stopped(monkeypatch):
    monkeypatch.setattr(yaml_tree, "MAX_NODES", 200)
    rows = "\n".join(f"k{i}: &k{i} [*k{i - 1}, *k{i - 1}]" for i in range(1, 30))
    tree = tree_of(f"k0: &k0 [1, 2]\n{rows}\n")
    assert sum("endless" in line for line in tree.report()) == 1


def test_a_file_too_large_is_not_parsed(monkeypatch):
    monkeypatch.setattr(yaml_tree, "MAX_BYTES", 10)
    tree = tree_of("a: 1234567890\n")
    assert tree.data is None
    assert "the limit is 10" in tree.report()[0]


def test_deep_nesting_is_told():
    tree = tree_of("[" * 5000 + "]" * 5000)
    assert tree.data is None
    assert tree.problems


def test_a_file_that_is_not_there_is_told(tmp_path):
    tree = read_tree(tmp_path / "gone.yaml")
    assert tree.report() == [
        "gone.yaml:1: cannot be read: No such file or directory; check the name and the rights"
    ]


def test_a_mistake_is_reported_once_and_in_file_order():
    tree = Tree("f", lines={("a",): 7, ("b",): 3})
    tree.add(("a",), "later", "mend")
    tree.add(("b",), "sooner", "mend")
    tree.add(("a",), "later", "mend")
    assert tree.report() == ["f:3: sooner; mend", "f:7: later; mend"]


def test_places_in_words():
    assert spell(("checks", "look", 0)) == "checks.look.0: "
    assert spell(()) == ""


@given(st.binary(max_size=300))
def test_any_bytes_are_answered(raw):
    tree = tree_of(raw)
    assert all(":" in line for line in tree.report())


PLAIN = st.recursive(
    st.integers(-1000, 1000) | st.booleans() | st.none(),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.from_regex(r"[a-z]{1,6}", fullmatch=True), inner, max_size=4)
    ),
    max_leaves=15,
)


@given(PLAIN)
def test_what_is_written_as_json_is_read_back(value):
    import json

    # JSON is YAML; true, null and numbers mean the same in both
    assert tree_of(json.dumps({"top": value})).data == {"top": value}
