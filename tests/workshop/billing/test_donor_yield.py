"""What a machine yields, against the planner's own figure and against what was found."""

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP, job

from counterpoise.workshop.billing.donor_yield import assembly_yields
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import parting_value
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job


def test_the_yields_add_up_to_what_the_planner_reckons_with():
    features = {key: next(iter(feature.values)) for key, feature in FRONT.features.items()}
    intake = Intake("front_loader", "workshop", "Veltro 6", ("shakes",), 6.0, features)
    at = Job(1, (Entry(1, "2026-03-01T09:00:00Z", "", intake),))
    situation = replay(FRONT, SHOP, at)
    prices = Prices(FRONT, SHOP, "workshop", 6.0)
    rows = all_rows(situation.model, situation.kinds, situation.joint)
    expected = float(rows.prior @ parting_value(prices, rows))
    found = assembly_yields(JobCase(at, FRONT, SHOP))
    assert len(found) > 3
    assert sum(max(0, one.gain_minor) for one in found) == pytest.approx(expected, abs=len(found))


def test_a_spoiled_assembly_is_not_kept():
    sound = {one.id: one for one in assembly_yields(JobCase(job(), FRONT, SHOP))}
    knocked = {
        one.id: one
        for one in assembly_yields(JobCase(job(Finding("drum_by_hand", "on_its_own")), FRONT, SHOP))
    }
    fallen = [key for key, one in knocked.items() if one.good < sound[key].good - 0.2]
    assert fallen
    for key in fallen:
        assert any(
            fault.startswith(("drum_support", "bearing"))
            for fault in FRONT.assemblies[key].spoiled_by
        )
    assert all(one.good >= 0.5 and one.gain_minor > 0 for one in knocked.values() if one.keep)


def test_what_another_drive_has_is_not_offered():
    for drive in FRONT.features["drive"].values:
        for one in assembly_yields(JobCase(job(drive=drive), FRONT, SHOP)):
            assert FRONT.assemblies[one.id].needs.get("drive", drive) == drive
