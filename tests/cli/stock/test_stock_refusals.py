"""The shelf and the price lists given what cannot be: said with a remedy, nothing stored."""

import pytest
from tests.cli.refusals import (
    invoke,
    refused_as_json,
    refused_by_the_command_line,
    refused_by_the_program,
)
from tests.web.workbench import STOCKED, ForeseeableWorkshop


@pytest.fixture
def workshop(workshop):
    return ForeseeableWorkshop(workshop.store, {"bench": STOCKED})


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Three price lists: sound, with a broken line, no table."""
    folder = tmp_path_factory.mktemp("files")
    (folder / "sound.csv").write_text("part;price\npump;35,00\n", encoding="utf-8")
    (folder / "broken.csv").write_text("part;price\npump;35,00\npump;x\n", encoding="utf-8")
    (folder / "story.txt").write_text("it shakes", encoding="utf-8")
    return folder


@pytest.fixture
def folder(files, workshop, number):
    """The folder of the lists; two pumps lie on the shelf."""
    assert invoke(workshop, "stock receive bench/pump --count 2", files).exit_code == 0
    return files


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("stock count 9 1", "There is no lot 9"),
        ("stock move 9 B2", "There is no lot 9"),
        ("stock write-off 9", "There is no lot 9"),
        ("stock label 9 @/label.pdf", "There is no lot 9"),
        ("stock reserve 9 --job 1", "There is no lot 9"),
        ("stock use 9 --job 1", "There is no lot 9"),
        ("stock release 9 --job 1", "There is no lot 9"),
        ("stock undo 9", "There is no movement 9"),
        ("stock reserve 1 --job 7", "There is no job 7"),
        ("stock use 1 --job 7", "There is no job 7"),
        ("stock shelve 7", "There is no job 7"),
        ("stock shelve 7 pump", "There is no job 7"),
        ("stock show bench/pomp", "There is no part 'pomp'"),
        ("stock show pomp", "There is no part 'pomp' for 'bench'"),
        ("prices take-back 9", "There is no price list 9"),
        ("job repair 1 replace_dampers --from-shelf 9", "There is no lot 9"),
    ],
)
def test_what_is_not_there(untouched, files, line, said):
    assert said in refused_by_the_program(untouched, line, files)
    assert said in refused_as_json(untouched, line, files)["what"]


@pytest.mark.parametrize(
    ("line", "field", "remedy"),
    [
        ("receive bench/pomp", "item", "Did you mean pump?"),
        ("receive bench/pump --count 0", "count", "Give 1 to 1000"),
        ("receive bench/pump --count 1001", "count", "Give 1 to 1000"),
        ("receive bench/pump --count=-1", "count", "Give 1 to 1000"),
        ("receive bench/pump --cost=-1", "cost", "0 or more"),
        ("receive bench/pump --cost x", "cost", "in digits"),
        ("receive bench/pump --asked x", "asked", "in digits"),
        ("write-off 1 --count 3", "count", "take fewer"),
        ("use 1 --job 1 --count 3", "count", "take fewer"),
        ("reserve 1 --job 1 --count 3", "count", "take fewer"),
        ("release 1 --job 1", "count", "None is reserved for job 1"),
        ("shelve 1 pump=two", "pieces", "like foot=4"),
        ("label 1 @/no/where.pdf", "file", "Give another file"),
    ],
)
def test_wrong_pieces_are_said_with_a_remedy(untouched, files, line, field, remedy):
    assert remedy in refused_by_the_program(untouched, f"stock {line}", files)
    problem = refused_as_json(untouched, f"stock {line}", files)
    assert problem["field"] == field
    assert remedy in problem["remedy"]


@pytest.mark.parametrize(
    ("line", "field", "said"),
    [
        ("check @/none.csv --supplier Ode", "file", "none.csv cannot be read: No such file"),
        ("check @ --supplier Ode", "file", "cannot be read: Is a directory"),
        ("import @/none.csv --supplier Ode", "file", "none.csv cannot be read: No such file"),
        ("import @ --supplier Ode", "file", "cannot be read: Is a directory"),
        ("check @/story.txt --supplier Ode", "columns", "Say which column is which"),
        ("import @/story.txt --supplier Ode", "columns", "Say which column is which"),
        ("check @/sound.csv --supplier Ode --column price", "column", "is not name=value"),
        ("export @/no/where.csv", "file", "No such file or directory. Give another file"),
    ],
)
def test_lists_that_cannot_be_read_or_written(untouched, files, line, field, said):
    assert said in refused_by_the_program(untouched, f"prices {line}", files)
    problem = refused_as_json(untouched, f"prices {line}", files)
    assert problem["field"] == field
    assert untouched.prices.book().lists == ()


def test_one_broken_line_stops_the_whole_list(workshop, folder):
    line = "prices import @/broken.csv --supplier Ode"
    problem = refused_as_json(workshop, line, folder)
    assert "line 3, price" in problem["what"]
    assert "left out" in problem["remedy"]
    result = invoke(workshop, line, folder)
    assert (result.exit_code, "line 3, price" in result.stdout) == (2, True)
    assert workshop.prices.book().lists == ()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("stock receive", "Missing argument 'PART'"),
        ("stock receive bench/pump --count many", "'many' is not a valid integer"),
        ("stock receive bench/pump --kind old", "'old' is not one of 'new', 'pattern', 'used'"),
        ("stock count 1", "Missing argument 'THERE'"),
        ("stock count one 1", "'one' is not a valid integer"),
        ("stock count 1 1.5", "'1.5' is not a valid integer"),
        ("stock move 1", "Missing argument 'PLACE'"),
        ("stock use 1", "Missing option '--job'"),
        ("stock reserve 1", "Missing option '--job'"),
        ("stock release 1 --job x", "'x' is not a valid integer"),
        ("stock undo", "Missing argument 'MOVEMENT'"),
        ("stock label 1", "Missing argument 'FILE'"),
        ("stock label 1 @", "is a directory"),
        ("stock shelve", "Missing argument 'JOB'"),
        ("prices check @/sound.csv", "Missing option '--supplier'"),
        ("prices import @/sound.csv", "Missing option '--supplier'"),
        ("prices export @", "is a directory"),
        ("prices export", "Missing argument 'FILE'"),
        ("prices take-back first", "'first' is not a valid integer"),
        ("prices sell", "No such command 'sell'"),
    ],
)
def test_words_that_are_no_command_line(untouched, files, line, said):
    assert said in refused_by_the_command_line(untouched, line, files)


def test_more_cannot_be_let_go_than_is_held(workshop, folder):
    assert invoke(workshop, "stock reserve 1 --job 1", folder).exit_code == 0
    assert (
        refused_as_json(workshop, "stock release 1 --job 1 --count 2", folder)["field"] == "count"
    )
    assert invoke(workshop, "stock release 1 --job 1", folder).exit_code == 0
    assert refused_as_json(workshop, "stock release 1 --job 1", folder)["field"] == "count"


def test_a_price_list_is_taken_back_once(workshop, folder):
    assert invoke(workshop, "prices import @/sound.csv --supplier Ode", folder).exit_code == 0
    assert invoke(workshop, "prices take-back 1", folder).exit_code == 0
    assert "1" in refused_by_the_program(workshop, "prices take-back 1", folder)


def test_a_movement_is_undone_once(workshop, folder):
    assert invoke(workshop, "stock move 1 B2", folder).exit_code == 0
    assert invoke(workshop, "stock undo 2", folder).exit_code == 0
    assert refused_by_the_program(workshop, "stock undo 2", folder).startswith("Error: ")
