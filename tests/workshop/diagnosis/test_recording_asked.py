"""The planner weighs a recording of a spin like any other check, with the reader's groups."""

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.information import mutual_information_bits
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.jobs.entries import Entry, Intake, Job
from counterpoise.workshop.jobs.settings import Settings


def test_a_recording_tells_most_of_a_machine_that_shakes_and_is_weighed_with_its_minutes():
    family = load_family("front_loader")
    check = family.checks["spin_recording"]
    assert set(check.outcomes) == set(GROUPS)
    assert check.minutes > 5
    intake = Intake("front_loader", "customer", "a fictional machine", ("shakes",), 6.0, {})
    case = JobCase(Job(1, (Entry(1, "2026-01-01T00:00:00Z", "", intake),)), family, Settings())
    analysis = analyse(case)
    problem = analysis.planned.problem
    bits = {
        check.id: mutual_information_bits(table, problem.prior)
        for check, table in zip(problem.checks, problem.tables, strict=True)
    }
    assert max(bits, key=bits.__getitem__) == "spin_recording"
    # it takes as long as ten looks, so what takes a minute and tells half as much goes first
    weighed = [bounds.action.id for bounds in analysis.plan.action_bounds]
    assert "spin_recording" in weighed
    assert family.checks[weighed[0]].minutes <= 1
