"""Estimates of jobs with the shipped catalog; expected figures are added up here by hand."""

from dataclasses import replace
from fractions import Fraction
from math import prod

import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.errors import InputError
from counterpoise.workshop.billing.costing import cost, estimate_of
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.billing.work import best_repair
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    Closed,
    Entry,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.settings import Settings

FRONT = load_family("front_loader")
SHOP = Settings(
    labour_rate_minor=6000,
    bench_rate_minor=3000,
    tax_percent=10.0,
    parts_markup_percent=50.0,
    people=2,
)


def job(*bodies, owner="customer", drive="belt"):
    intake = Intake("front_loader", owner, "Veltro 6", ("shakes",), 6.0, {"drive": drive})
    return Job(
        1,
        tuple(
            Entry(i, "2026-03-01T09:00:00Z", "", body)
            for i, body in enumerate((intake, *bodies), 1)
        ),
    )


def found(*repairs, **more):
    return cost(JobCase(more.pop("at", job()), FRONT, SHOP), repairs, **more)


def fault_chances(situation):
    return situation.model.fault_chances(situation.probabilities)


def lines(costing, kind):
    return {line.id: line for line in costing.estimate.lines if line.kind == kind}


def test_a_panel_that_two_repairs_share_is_charged_once():
    both = found("replace_front_weight", "tighten_front_weight")
    assert set(lines(both, "access")) == {"lid", "control_panel", "front_panel"}
    panels = [FRONT.access[key] for key in ("lid", "control_panel", "front_panel")]
    way = sum(panel.open_min + panel.close_min for panel in panels)
    work = (
        FRONT.repairs["replace_front_weight"].minutes
        + FRONT.repairs["tighten_front_weight"].minutes
    )
    all_of_it = way + work + FRONT.proof_minutes
    assert both.estimate.minutes == all_of_it
    assert (
        sum(line.net_minor for line in both.estimate.lines if line.unit == "min") == 100 * all_of_it
    )


def test_what_a_check_has_opened_is_not_charged_again():
    assert FRONT.checks["look_upper_weight"].access == "lid"
    opened = job(Finding("look_upper_weight", "loose"))
    shut = job(Finding("look_upper_weight", CANNOT_REACH))
    assert set(lines(found("tighten_upper_weight", at=opened), "access")) == set()
    assert set(lines(found("replace_front_weight", at=opened), "access")) == {
        "control_panel",
        "front_panel",
    }
    assert set(lines(found("tighten_upper_weight", at=shut), "access")) == {"lid"}


def test_what_a_repair_has_opened_is_charged_with_it():
    done = job(RepairDone("tighten_upper_weight", 14.0), Finding("look_upper_weight", "tight"))
    costing = cost(JobCase(done, FRONT, SHOP))
    assert costing.done == {"tighten_upper_weight"}
    assert set(lines(costing, "access")) == {"lid"}
    assert lines(costing, "labour")["tighten_upper_weight"].quantity == 14.0


def test_parts_come_in_sets_and_bring_others():
    dampers = lines(found("replace_dampers", "mend_damper_mount"), "part")
    assert {key: line.quantity for key, line in dampers.items()} == {
        "damper_set": 1, "damper_pin": 1, "damper_bracket": 1,
    }  # fmt: skip
    support = lines(found("replace_drum_support", "replace_bearings", "reset_drum_depth"), "part")
    assert {key: line.quantity for key, line in support.items()} == {
        "drum_support": 1, "bearing_kit": 1, "tub_gasket": 1,
    }  # fmt: skip
    weights = lines(found("tighten_upper_weight", "tighten_front_weight"), "part")
    assert weights["weight_bolts"].quantity == 2


def test_the_total_by_hand():
    entry, part = FRONT.repairs["replace_pump"], FRONT.parts["drain_pump"]
    costing = found("replace_pump")
    way = [FRONT.access[key] for key in lines(costing, "access")]
    minutes = (
        sum((a.open_min + a.close_min) * a.people for a in way)
        + entry.minutes * entry.people
        + FRONT.proof_minutes
    )
    net = Fraction(minutes) * 100 + Fraction(3, 2) * part.price_minor + entry.consumables_minor
    assert costing.estimate.net_minor == net
    assert costing.estimate.gross_minor == net * Fraction(11, 10)


def test_a_used_part_where_it_can_be_had():
    new, used = found("replace_dampers"), found("replace_dampers", terms=Terms(used=True))
    assert lines(used, "part") == lines(new, "part")
    pump = lines(found("replace_pump", terms=Terms(used=True)), "part")["drain_pump"]
    assert pump.net_minor == 1.5 * FRONT.parts["drain_pump"].used_minor


def test_its_own_machine_costs_the_workshop_its_bench_and_parts_alone():
    costing = found("replace_pump", at=job(owner="workshop"))
    assert costing.estimate.tax_minor == 0
    assert lines(costing, "part")["drain_pump"].net_minor == FRONT.parts["drain_pump"].price_minor
    assert (
        lines(costing, "labour")["replace_pump"].net_minor
        == FRONT.repairs["replace_pump"].minutes * 50
    )


def test_chance_to_be_right_is_that_of_every_fault_being_cured():
    situation = replay(FRONT, SHOP, job())
    for repairs in (("replace_dampers",), ("level_feet", "replace_dampers")):
        model, expected = situation.model, 0.0
        for faults, chance in zip(model.hypotheses.sets, situation.probabilities, strict=True):
            left = [
                prod(
                    1.0 - FRONT.repairs[r].cures.get(model.hypotheses.fault_ids[fault], 0.0)
                    for r in repairs
                )
                for fault in faults
            ]
            expected += chance * prod(1.0 - one for one in left)
        assert found(*repairs).works == pytest.approx(expected, abs=1e-9)


def test_without_a_name_the_leading_suspect_is_mended():
    at = job(Finding("look_upper_weight", "loose"), Finding("slow_turn_listen", "knocks_each_turn"))
    leading = next(iter(fault_chances(replay(FRONT, SHOP, at))))
    costing = cost(JobCase(at, FRONT, SHOP))
    assert leading == "upper_weight_loose"
    assert costing.repairs[0].cures[leading] > 0.5
    assert costing.estimate == estimate_of(JobCase(at, FRONT, SHOP))


def test_the_plans_repair_goes_first():
    costing = cost(JobCase(job(), FRONT, SHOP), advised="replace_belt")
    assert costing.repairs[0].id == "replace_belt"


def test_a_proven_machine_is_charged_for_what_was_done_only():
    done = job(RepairDone("replace_dampers", 30.0), Proof(True))
    costing = cost(JobCase(done, FRONT, SHOP))
    assert [entry.id for entry in costing.repairs] == ["replace_dampers"]
    failed = cost(JobCase(job(RepairDone("replace_dampers", 30.0), Proof(False)), FRONT, SHOP))
    assert len(failed.repairs) > 1
    assert failed.repairs[1].id != "replace_dampers"


def test_what_may_turn_out_worse_is_not_in_the_work_and_does_not_end_the_machine():
    costing = found("replace_dampers", at=job(Finding("slow_turn_listen", "knocks_each_turn")))
    chances = fault_chances(
        replay(FRONT, SHOP, job(Finding("slow_turn_listen", "knocks_each_turn")))
    )
    titles = {fault.title: key for key, fault in FRONT.faults.items()}
    assert costing.order.worse
    for worse in costing.order.worse:
        fault = FRONT.faults[titles[worse.title]]
        assert worse.chance == pytest.approx(chances[fault.id])
        assert worse.chance >= 0.05
        assert not fault.write_off
        assert all(cure not in costing.repairs[0].cures for cure in fault.keys)


def test_worse_adds_what_mending_it_too_would_add():
    at = job(Finding("slow_turn_listen", "knocks_each_turn"))
    situation, costing = replay(FRONT, SHOP, at), found("replace_dampers", at=at)
    worse = costing.order.worse[0]
    fault = next(f for f in FRONT.faults.values() if f.title == worse.title)
    both = found(
        "replace_dampers", best_repair(situation, Prices.of(situation, SHOP), fault).id, at=at
    )
    known = (
        FRONT.access | FRONT.repairs | {"proof": FRONT.repairs["level_feet"]}
    )  # one pair of hands
    hands = [
        sum(
            line.quantity * known[line.id].people
            for line in one.estimate.lines
            if line.unit == "min"
        )
        for one in (both, costing)
    ]
    assert worse.minutes == pytest.approx(hands[0] - hands[1])


@pytest.mark.parametrize(
    ("name", "said"), [("pray", "there is no 'pray'"), ("replace_belt", "does not fit")]
)
def test_a_repair_that_cannot_be_is_refused(name, said):
    with pytest.raises(InputError, match=said):
        found(name, at=job(drive="direct"))


def test_the_proof_spin_is_labour_at_the_minutes_it_took():
    assert lines(found("replace_belt"), "labour")["proof"].quantity == FRONT.proof_minutes
    spun = job(
        RepairDone("replace_belt", 20.0),
        Proof(False, 5.0),
        RepairDone("replace_dampers"),
        Proof(True, 17.0),
    )
    proof = lines(cost(JobCase(spun, FRONT, SHOP)), "labour")["proof"]
    assert (proof.quantity, proof.net_minor) == (17.0, 1700)


def test_what_is_agreed_for_one_job():
    agreed = Terms(discounts=("labour:10%", "drain_pump:2.50", "5%", "1"))
    at = job()
    away = Job(1, (replace(at.entries[0], body=replace(at.intake, away=True)),))
    costing = found("replace_pump", at=away, terms=agreed)
    less = {line.id: line for line in costing.estimate.lines if line.kind == "discount"}
    labour = sum(line.net_minor for line in costing.estimate.lines if line.kind == "labour")
    assert less["discount:labour"].net_minor == -labour // 10
    assert less["discount:drain_pump"].net_minor == -250
    assert lines(costing, "callout")["callout"].net_minor == SHOP.callout_minor
    assert "5 %" in [line.detail for line in costing.estimate.lines if line.id == "discount"]
    assert sum(line.net_minor for line in costing.estimate.lines) == costing.estimate.net_minor


@pytest.mark.parametrize("off", ["ten", "x%", "nothing:10%", "150%", "-5%", "replace_pump:9999"])
def test_a_discount_that_cannot_be_is_refused(off):
    with pytest.raises(InputError):
        found("replace_pump", terms=Terms(discounts=(off,)))


BACK = (
    RepairDone("replace_belt", 20.0),
    Proof(True, 12.0),
    Closed("repair_hand_back", ("belt_worn",), 9000),
    Retraction(4, "slips again", comeback=True),
)


def later(at, number, day):
    """The same job, with what follows an entry happening on a later day."""
    return Job(
        1, tuple(replace(e, at=f"{day}T09:00:00Z") if e.number >= number else e for e in at.entries)
    )


def test_what_comes_back_in_time_is_free_and_costs_the_workshop():
    at = later(job(*BACK, RepairDone("replace_pump", 30.0)), 5, "2026-08-30")
    costing = cost(JobCase(at, FRONT, SHOP))
    assert costing.free
    assert [entry.id for entry in costing.repairs][:1] == ["replace_pump"]
    assert "replace_belt" not in costing.done
    assert costing.estimate.payable_minor == costing.estimate.ceiling_minor == 0
    plain = found("replace_pump", at=at, terms=Terms(charged=True))
    assert plain.estimate.payable_minor > 0
    one = found("replace_pump", at=at)
    assert one.own.net_minor == round(
        sum(line.quantity * hands(line.id) for line in one.own.lines if line.unit == "min") * 50
        + FRONT.parts["drain_pump"].price_minor
        + FRONT.repairs["replace_pump"].consumables_minor
    )


def hands(key):
    entry = FRONT.access.get(key) or FRONT.repairs.get(key)
    return entry.people if entry else 1


@pytest.mark.parametrize(("day", "free"), [("2026-09-01", True), ("2026-09-02", False)])
def test_the_guarantee_ends_to_the_day(day, free):
    assert cost(JobCase(later(job(*BACK), 5, day), FRONT, SHOP), ["replace_belt"]).free is free


def test_a_machine_that_came_back_is_believed_faulty_and_shut():
    before, after = replay(FRONT, SHOP, job(*BACK[:3])), replay(FRONT, SHOP, job(*BACK))
    assert (before.proven, after.proven, after.opened) == (True, False, frozenset())
    assert after.probabilities[0] < before.probabilities[0]
