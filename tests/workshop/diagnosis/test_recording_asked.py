"""The planner weighs a recording of a spin like any other check, with the reader's groups."""

from counterpoise.catalog.loader import load_family
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.jobs.entries import Entry, Intake, Job
from counterpoise.workshop.jobs.settings import Settings


def test_a_recording_is_asked_for_where_the_machine_shakes():
    family = load_family("front_loader")
    check = family.checks["spin_recording"]
    assert set(check.outcomes) == set(GROUPS)
    assert check.minutes > 5
    intake = Intake("front_loader", "customer", "a fictional machine", ("shakes",), 6.0, {})
    plan = analyse(
        JobCase(Job(1, (Entry(1, "2026-01-01T00:00:00Z", "", intake),)), family, Settings())
    ).plan
    checks = [
        one
        for one in plan.action_bounds
        if one.action.kind == "check" and not one.action.id.startswith("ask_")
    ]
    assert checks[0].action.id == "spin_recording"
    assert (
        plan.lower
        >= checks[0].lower
        > max(one.lower for one in plan.action_bounds if one.action.kind == "repair")
    )
