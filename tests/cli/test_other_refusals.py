"""Settings, money, the yard, the catalog and files given what cannot be: said, nothing stored."""

import pytest
from tests.cli.refusals import (
    invoke,
    refused_as_json,
    refused_by_the_command_line,
    refused_by_the_program,
)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Files that are no job, and one of a job that is broken off, and of a later version."""
    folder = tmp_path_factory.mktemp("files")
    (folder / "story.txt").write_text("it shakes", encoding="utf-8")
    (folder / "broken.json").write_text('{"format": "counterpoise-job"', encoding="utf-8")
    (folder / "future.json").write_text(
        '{"format": "counterpoise-job", "version": 99, "number": 1, "entries": []}', "utf-8"
    )
    (folder / "empty").write_bytes(b"")
    return folder


@pytest.mark.parametrize(
    ("line", "field", "remedy"),
    [
        ("settings set peeple=2", "peeple", "Known are"),
        ("settings set people=two", "people", "in digits"),
        ("settings set people", "changes", "like labour_rate_minor=48.50"),
        ("settings set people=0", "people", "from 1 to 20"),
        ("settings set people=3 people=21", "people", "from 1 to 20"),
        ("settings set people=3 tax_percent=-1", "tax_percent", "Give a number from"),
        ("settings set people=3 labour_rate_minor=", "changes", "like labour_rate_minor=48.50"),
        ("ledger 2026-13", "month", "like 2026-03"),
        ("ledger soon", "month", "like 2026-03"),
        ("ledger 2026", "month", "like 2026-03"),
        ("ledger --csv @/no/where.csv", "file", "Give another file"),
        ("guarantee --family pram", "family", "Known are bench"),
        ("guarantee --family bench --age=-1", "age", "Give 0 to 70 years"),
        ("guarantee --family bench --age nan", "age", "Give 0 to 70 years"),
        ("guarantee --family bench --repair pray", "repair", "Name one of this family"),
        ("guarantee --family bench --price x", "price", "in digits"),
        ("guarantee --family bench --price=-1", "price", "0 or more"),
        ("import @/story.txt", "file", "Give a file written by export"),
        ("import @/empty", "file", ""),
        ("import @/broken.json", "file", ""),
        ("import @/future.json", "version", ""),
        ("import @/none.json", "file", ""),
        ("import @", "file", ""),
        ("import @/none.json --dry-run", "file", ""),
        ("export 1 @/story.txt", "file", "give --replace"),
        ("export 1 @/no/where.json", "file", ""),
    ],
)
def test_wrong_input_is_said_with_a_remedy(untouched, files, line, field, remedy):
    assert remedy in refused_by_the_program(untouched, line, files)
    problem = refused_as_json(untouched, line, files)
    assert problem["field"] == field
    assert remedy in problem["remedy"]


def test_an_export_never_writes_over_a_file_unasked(workshop, number, tmp_path):
    file = tmp_path / "story.txt"
    file.write_text("it shakes", encoding="utf-8")
    refused_by_the_program(workshop, "export 1 @/story.txt", tmp_path)
    assert file.read_text("utf-8") == "it shakes"
    assert invoke(workshop, "export 1 @/story.txt --replace", tmp_path).exit_code == 0
    assert file.read_text("utf-8").startswith("{")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("catalog show pram", "There is no family or file pram. Known: front_loader, spin_dryer, "),
        ("catalog show front_loader no_such_thing", "There is no entry no_such_thing"),
        ("catalog check @/none.yaml", "none.yaml. Known: front_loader, spin_dryer, "),
        ("catalog check @", "Known: front_loader, spin_dryer, "),
        ("cases no_such", "There is no case no_such. Known: "),
        ("cases no_such --run", "There is no case no_such. Known: "),
        ("export 7", "There is no job 7"),
    ],
)
def test_what_is_not_there(untouched, files, line, said):
    assert said in refused_by_the_program(untouched, line, files)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("settings set", "Missing argument 'NAME=VALUE...'"),
        ("settings show people", "Got unexpected extra argument (people)"),
        ("yard --hours=-1", "0<=x<=168"),
        ("yard --hours 169", "0<=x<=168"),
        ("yard --hours many", "'many' is not a valid float range"),
        ("ledger --csv @", "is a directory"),
        ("guarantee --age old", "'old' is not a valid float"),
        ("worth --age 5", "Missing option '--price'"),
        ("worth --price 5", "Missing option '--age'"),
        ("worth --age old --price 5", "'old' is not a valid float"),
        ("lives", "Missing argument 'FILE'"),
        ("lives @/none.csv", "none.csv' does not exist"),
        ("lives @", "is a directory"),
        ("plan @/none.yaml", "none.yaml' does not exist"),
        ("plan @", "is a directory"),
        ("import", "Missing argument 'FILE'"),
        ("export", "Missing argument 'JOB'"),
        ("export first", "'first' is not a valid integer"),
        ("export 1 @", "is a directory"),
        ("catalog check", "Missing argument 'FILE'"),
        ("catalog show", "Missing argument 'FAMILY'"),
        ("catalog sell", "No such command 'sell'"),
        ("calibrate --jobs 1", "x>=2"),
        ("study --workers 0", "x>=1"),
        ("jab list", "No such command 'jab'. Did you mean 'job'?"),
        ("--versio", "No such option '--versio'. Did you mean '--version'?"),
    ],
)
def test_words_that_are_no_command_line(untouched, files, line, said):
    assert said in refused_by_the_command_line(untouched, line, files)
