"""A customer's own in the terminal: given out, and taken away with the job kept."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from tests.web.workbench import INTAKE

from counterpoise.workshop.jobs.entries import Closed


@pytest.fixture
def jobs(workshop):
    """Two jobs of Mrs Ode, one of them opened by mistake, and one of somebody else."""
    hers = replace(INTAKE, contact="Mrs Ode, 555 0143")
    numbers = [workshop.jobs.open(each, "ada").number for each in (hers, INTAKE, hers)]
    workshop.jobs.record(numbers[2], Closed("opened_by_mistake"), "ada")
    return numbers


def test_all_jobs_of_a_customer_are_given_out(jobs, ask, run, tmp_path):
    code, answer = ask("customer", "out", "ode", "--to", tmp_path / "ode")
    assert (code, answer["jobs"]) == (0, [jobs[0], jobs[2]])
    kept = json.loads(Path(answer["files"][0]).read_text("utf-8"))
    assert kept["entries"][0]["body"]["contact"] == "Mrs Ode, 555 0143"
    assert ask("customer", "out", "nobody")[1] == {"jobs": [], "files": []}
    # what is there is not written over, and no word is not everybody
    assert ask("customer", "out", "ode", "--to", tmp_path / "ode")[0] == 2
    assert ask("customer", "out", " ")[1]["field"] == "words"
    assert "2 jobs." in run("customer", "out", "ode")[1]


def test_it_is_taken_away_only_when_that_is_said(jobs, ask, run, workshop):
    code, said = run("customer", "away", jobs[0])
    assert (code, "give --yes" in said) == (0, True)
    assert workshop.jobs.get(jobs[0]).intake.contact
    code, answer = ask("customer", "away", jobs[0], jobs[2], "--yes", "--by", "ada")
    assert (code, answer["taken"], len(answer["jobs"])) == (0, True, 2)
    assert workshop.jobs.get(jobs[0]).intake.contact == ""
    assert ask("customer", "out", "ode")[1]["jobs"] == []
    assert workshop.jobs.get(jobs[1]).intake == INTAKE
    assert workshop.jobs.get(jobs[0]).entries[-1].by == "ada"


def test_a_slip_in_one_number_takes_nothing_away(jobs, ask, workshop):
    assert ask("customer", "away", jobs[0], 99, "--yes")[0] == 2
    assert workshop.jobs.get(jobs[0]).intake.contact


def test_backups_that_still_hold_it_are_named(jobs, ask, run, workshop):
    file = workshop.store.database.engine.url.database
    code, made = ask("store", "backup", "--store", file)
    assert code == 0
    answer = ask("customer", "away", jobs[0], "--yes")[1]
    assert answer["copies"] == [made["file"]]
    assert made["file"] in run("customer", "away", jobs[0])[1]
