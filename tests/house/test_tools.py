"""The tools that measure and draw the house, on houses made on purpose."""

import ast
from graphlib import CycleError

import pytest
from tools import house, kernel_digests, picture


def tree(text):
    return ast.parse(text)


@pytest.mark.parametrize(
    ("text", "counted"),
    [
        ("x = 1\n", (0, 1)),
        ("# why\nx = 1\n", (1, 1)),
        ("x = 1  # why\n", (1, 1)),
        ("x = 1  # type: ignore\n", (0, 1)),
        ("x = (\n    1,\n\n    2,\n)\n", (0, 4)),  # blank lines are no code
        ('"""Doc."""\n\nx = 1\n', (0, 1)),  # docstrings are no code
        ('def f():\n    """Doc.\n\n    More.\n    """\n    return 1\n', (0, 2)),
        ('x = "text"\n', (0, 1)),  # a text that is used is code
        ("", (0, 0)),
    ],
)
def test_comments_and_code(text, counted):
    assert house.comments_and_code(text) == counted


@pytest.mark.parametrize(
    ("docstring", "named"),
    [
        ("Raises InputError where it cannot be.", True),
        ("(H,) log belief.", True),
        ("Minutes at the bench.", False),  # the unit is only taken from running words
        ("How long it takes, in minutes.", True),
        ("Cost in minor units.", True),
        ("None where nobody knows.", True),
        ("The next step.", False),
        ("A page.", False),
    ],
)
def test_a_docstring_that_names_unit_shape_or_error(docstring, named):
    assert bool(house.NAMED.search(docstring)) == named


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("def f(told): pass", ["told"]),
        ("def f(x, *, seen=1): pass", ["seen"]),
        ("def found(): pass", ["found"]),
        ("def f():\n    one = 1\n    return one", ["one"]),
        ("class A:\n    told: int = 0\n    seen = 1", ["told"]),
        ("lambda one: one", ["one"]),
        ("for one in range(3): print(one)", []),  # a loop's own variable stays its affair
        ("def f(founder): return founder", []),
    ],
)
def test_banned_names(text, names):
    assert [name for _, name in house.banned_names(tree(text))] == names


def test_the_length_of_a_function_leaves_its_docstring_out():
    (function,) = tree('def f():\n    """One.\n\n    Two.\n    """\n    x = 1\n    return x\n').body
    assert house.length(function) == 3


def test_loose_types_are_counted():
    assert house.loose_types(tree("x: Any = 1\ndef f(y: dict[str, Any]) -> Any: pass")) == 3


@pytest.fixture
def small_house(tmp_path):
    source, tests = tmp_path / "src", tmp_path / "tests"
    source.mkdir()
    tests.mkdir()
    (source / "a.py").write_text(
        'def f(x):\n    """Length in mm."""\n    # a reason\n    return x\n'
    )
    (tests / "test_a.py").write_text("def test():\n    assert True\n")
    return tmp_path


def test_figures_of_a_small_house(small_house):
    figures = house.measure([small_house / "src"], [small_house / "tests"])
    assert (figures.files, figures.code_lines, figures.file_max) == (1, 2, 4)
    assert (figures.comments_to_code, figures.docstrings_named, figures.tests_to_code) == (
        0.5,
        1.0,
        0.5,
    )
    assert house.broken_bounds(figures) == ["tests_to_code is 0.5, at least 0.6"]


def test_a_broken_bound_is_said(small_house):
    (small_house / "src" / "a.py").write_text(
        "def f(told):\n" + "    x = 1\n" * 320 + f"# {'x' * 120}\n"
    )
    wrong = house.broken_bounds(house.measure([small_house / "src"], [small_house / "tests"]))
    for words in ("file_max is 322", "function_max is 321", "banned_names is 1", "long_lines is 1"):
        assert any(words in line for line in wrong), wrong


def test_a_crowded_folder_is_named(small_house):
    for number in range(21):
        (small_house / "tests" / f"page{number}.html").write_text("")
    assert house.crowded(small_house) == ["tests: 22 files"]


def test_rows_of_the_picture_put_importers_above():
    rows = picture.layered("abcd", {("a", "b"), ("b", "c"), ("a", "d")})
    assert rows == [["a"], ["b", "d"], ["c"]]


def test_a_circle_of_imports_cannot_be_drawn():
    with pytest.raises(CycleError):
        picture.layered("ab", {("a", "b"), ("b", "a")})


def test_an_arrow_that_a_longer_way_says_is_left_out():
    arrows = {("a", "b"), ("b", "c"), ("a", "c"), ("a", "d")}
    assert picture.reduced(arrows) == {("a", "b"), ("b", "c"), ("a", "d")}


def test_the_rooms_are_those_of_the_packages():
    rooms, arrows = picture.rooms_and_arrows()
    assert {"workshop.jobs", "workshop.store", "reasoning.kernels", "money", "web.pages"} <= set(
        rooms
    )
    assert ("workshop.store", "workshop.jobs") in arrows
    assert not any(start == end for start, end in arrows)


@pytest.fixture
def kernels(tmp_path, monkeypatch):
    folder = tmp_path / "counterpoise" / "reasoning" / "kernels"
    folder.mkdir(parents=True)
    (folder / "below.py").write_text("x = 1\n")
    above = 'from counterpoise.reasoning.kernels.below import x\nSOURCE_DIGEST = ""\n'
    (folder / "above.py").write_text(above)
    top = 'from counterpoise.reasoning.kernels import above\nSOURCE_DIGEST = ""\n'
    (folder / "top.py").write_text(top)
    monkeypatch.setattr(kernel_digests, "SOURCE", tmp_path)
    monkeypatch.setattr(kernel_digests, "FOLDERS", ("reasoning",))
    return folder


def test_digests_are_written_until_none_is_stale(kernels):
    assert len(kernel_digests.stale()) == 2
    kernel_digests.write()
    assert kernel_digests.stale() == {}


def test_a_change_below_reaches_the_top(kernels):
    kernel_digests.write()
    before = (kernels / "top.py").read_text()
    (kernels / "below.py").write_text("x = 2\n")
    assert [file.stem for file in kernel_digests.stale()] == ["above"]
    kernel_digests.write()
    assert (kernels / "top.py").read_text() != before


def test_a_kernel_without_the_line_is_named(kernels):
    (kernels / "top.py").write_text("from counterpoise.reasoning.kernels import above\n")
    with pytest.raises(SystemExit, match="SOURCE_DIGEST"):
        kernel_digests.write()
