"""Checks that wait for another: a second, closer look at what the first has shown."""

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings


def test_a_second_closer_look_is_planned_only_once_the_first_was_done():
    def planned(*bodies):
        intake = Intake("front_loader", "workshop", "Veltro 6", ("shakes",), 8.0, {})
        lines = enumerate((intake, *bodies), 1)
        job = Job(1, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in lines))
        family = load_family("front_loader")
        situation = replay(family, Settings(), job)
        return {check.id for check in build_problem(situation, Settings(), limited=False).checks}

    assert "spin_recording" in planned()
    assert "spin_test_load" not in planned()
    assert "spin_test_load" in planned(Finding("spin_recording", "nothing_found"))
