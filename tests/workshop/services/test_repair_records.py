import csv
import json
import re
from io import StringIO
from math import isfinite

import pytest
from click.testing import CliRunner
from tests.workshop.shared import repair_records
from tests.workshop.small import INTAKE

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.errors import InputError
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.services.job_import import read_file, take_in
from counterpoise.workshop.services.repair_records import COMPLAINTS, ENDINGS, read_repair_records
from counterpoise.workshop.services.workshop import Workshop

FRONT_LOADER = load_family("front_loader")


@pytest.fixture
def bench(store):
    return Workshop(store, {"front_loader": FRONT_LOADER})


@pytest.fixture(scope="module")
def records():
    return list(csv.DictReader(StringIO(repair_records().read_text(encoding="utf-8"))))


def test_every_real_record_becomes_a_job_that_the_catalog_accepts(bench, records):
    taken = take_in(bench, repair_records().read_bytes())
    assert len(taken.jobs) == len(records) == 50
    assert not any(remark.left_out for remark in taken.remarks)
    lines = {line.title: line for line in bench.jobs.lines()}
    for record in records:
        line = lines[f"Washing machine {record['id']}"]
        assert line.opened_at.startswith(record["event_date"])
        assert line.open == (record["repair_status"] in {"Repairable", "Unknown"})
        assert line.ending == ENDINGS[record["repair_status"].casefold()]
    assert bench.jobs.problems(taken.jobs[0].entries) == []


def test_complaint_and_age_are_those_of_the_record(records):
    jobs = {
        parcel.entries[0].body.title: parcel.entries[0].body
        for _, parcel in read_repair_records(_text(), FRONT_LOADER).jobs
    }
    for record in records:
        intake = jobs[f"Washing machine {record['id']}"]
        assert intake.complaints == COMPLAINTS[record["fault_group_keyword"]][0]
        if record["product_age"]:
            assert intake.age_years == float(record["product_age"])
        elif record["year_of_manufacture"].isdigit():
            assert intake.age_years == int(record["event_date"][:4]) - int(
                record["year_of_manufacture"]
            )
        else:
            assert intake.age_years is None


def _text():
    return repair_records().read_text(encoding="utf-8")


@pytest.mark.slow
def test_every_real_record_can_be_assessed(bench):
    """An assessment depends on nothing but the evidence, so records that say the same are computed once."""
    seen = {}
    settings = bench.settings()
    for job in take_in(bench, repair_records().read_bytes()).jobs:
        said = job.intake.complaints, job.intake.age_years, job.closed is None
        if said not in seen:
            seen[said] = assess(JobCase(job, FRONT_LOADER, settings), Effort(growths=0))
        found = seen[said]
        assert (found.next is None) == (job.closed is not None)
        assert sum(suspect.probability for suspect in found.suspects) > 0.5
        assert all(
            isfinite(value) for value in (found.lower_minor, found.value_minor, found.upper_minor)
        )
        assert found.lower_minor <= found.upper_minor
        assert found.options
        assert found.warnings == () or found.warnings[0].startswith("Check first")
    assert len(seen) > 15
    assert (
        bench.snapshot(1).assessment.next.kind == "check"
    )  # the first record is an open job; with the usual effort


def test_what_could_not_be_used_is_said_by_line(records):
    remarks = read_repair_records(_text(), FRONT_LOADER).remarks
    said = {(remark.line, remark.text) for remark in remarks}
    for line, record in enumerate(records, 2):
        about = " ".join(text for number, text in said if number == line)
        assert ("gives no age" in about) == (
            not re.search(r"\d", record["year_of_manufacture"] + record["product_age"])
        )
        assert ("'????' is no number" in about) == (record["year_of_manufacture"] == "????")
        assert ("stays open" in about) == (record["repair_status"] == "Unknown")
        assert (
            record["fault_group_keyword"] in about
        )  # every one of these groups is coarser than our complaints
    assert any("'Låg til vaskemaskine' may be a part" in text for _, text in said)


def test_the_same_table_a_second_time_adds_nothing(bench):
    take_in(bench, repair_records().read_bytes())
    again = take_in(bench, repair_records().read_bytes())
    assert again.jobs == ()
    assert len({remark.line for remark in again.remarks if remark.left_out}) == 50
    assert len(bench.jobs.lines()) == 50


HEADER = "id,product_category,year_of_manufacture,product_age,repair_status,event_date,fault_group_keyword,problem\n"


@pytest.mark.parametrize(
    ("row", "remark"),
    [
        (",Washing machine,,,Fixed,2020-01-01,heater,", "has no id"),
        ("a,Washing machine,,,Fixed,last week,heater,", "'last week' is no date"),
        ("a,Washing machine,,,Mended,2020-01-01,heater,", "'Mended' is none of fixed"),
        ("a,Toaster,,,Fixed,2020-01-01,heater,", "'Toaster' is no washing machine"),
        ("a", "event_date '' is no date"),
    ],
)
def test_a_line_of_no_use_is_left_out_and_the_others_are_taken(bench, row, remark):
    good = "b,Washing machine,2010,,Fixed,2020-01-01,heater,Too cold"
    taken = take_in(bench, f"{HEADER}{row}\n{good}\n".encode())
    assert [job.intake.title for job in taken.jobs] == ["Washing machine b"]
    (left,) = [one for one in taken.remarks if one.left_out]
    assert left.line == 2
    assert remark in left.text
    assert taken.jobs[0].intake.story.startswith("Too cold")


@pytest.mark.parametrize(
    ("made", "age", "remark", "expected"),
    [
        ("2030", "", "age of -10 years cannot be", None),
        ("1901", "", "age of 119 years cannot be", None),
        ("2010", "4", "do not agree: product_age taken", 4),
        ("2010", "10", "", 10),
        ("about 2010", "", "'about 2010' is no number", None),
        ("", "7.5", "", 7.5),
    ],
)
def test_ages_that_cannot_be_are_left_unknown(made, age, remark, expected):
    read = read_repair_records(
        f"{HEADER}a,Washing machine,{made},{age},Fixed,2020-06-01,drain_pump_leak,\n", FRONT_LOADER
    )
    assert read.jobs[0][1].entries[0].body.age_years == expected
    assert remark in " ".join(one.text for one in read.remarks)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "neither an exported job"),
        (b"a,b,c\n1,2,3\n", "neither an exported job"),
        (b"{not json", "is no JSON"),
        (b"[1, 2]", "not a job as exported"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"[" * 100_000, "is no JSON"),
    ],
)
def test_a_file_of_another_sort_is_refused(bench, data, message):
    with pytest.raises(InputError, match=message):
        read_file(bench, data)
    assert bench.jobs.lines() == []


def test_complaints_of_the_mapping_are_those_of_the_catalog():
    assert {one for complaints, _ in COMPLAINTS.values() for one in complaints} <= set(
        FRONT_LOADER.complaints
    )


def _run(*arguments):
    return CliRunner().invoke(main, [str(one) for one in arguments])


def test_export_and_import_by_the_terminal(tmp_path):
    store, other, file = tmp_path / "one.db", tmp_path / "two.db", tmp_path / "job.json"
    table = repair_records()
    dry = json.loads(_run("import", table, "--dry-run", "--json", "--store", store).output)
    assert (dry["stored"], dry["count"], dry["jobs"], dry["left_out"]) == (False, 50, [], [])
    said = _run("import", table, "--store", store).output
    assert "line 2: year_of_manufacture '????' is no number" in said
    assert said.endswith("50 jobs taken in, number 1 to 50.\n")
    assert _run("export", 3, file, "--store", store).exit_code == 0
    refused = _run("export", 3, file, "--store", store)
    assert (refused.exit_code, "exists already" in refused.stderr) == (2, True)
    assert json.loads(_run("import", file, "--json", "--store", other).output)["jobs"] == [1]
    sent, arrived = (
        json.loads(_run("export", n, "--store", s).output) for n, s in ((3, store), (1, other))
    )
    assert sent["entries"] == arrived["entries"]


def test_the_terminal_says_what_is_wrong_with_a_file(tmp_path, store):
    store.jobs.open(INTAKE)  # a family that is not shipped
    (tmp_path / "job.json").write_text(json.dumps(store.jobs.export_json(1)))
    refused = _run("import", tmp_path / "job.json", "--store", tmp_path / "other.db")
    assert refused.exit_code == 2
    assert "family: there is no 'small'" in refused.stderr
    assert (
        "cannot be read"
        in _run("import", tmp_path / "nothing.csv", "--store", tmp_path / "other.db").stderr
    )
    assert "There is no job 7" in _run("export", 7, "--store", tmp_path / "other.db").stderr
