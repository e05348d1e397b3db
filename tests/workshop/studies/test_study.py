import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.errors import InputError
from counterpoise.reasoning.kernels.bounds import hindsight
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies import study
from counterpoise.workshop.studies.checkpoints import POLICIES, StudyOrder
from counterpoise.workshop.studies.policies import DecisionMemory, policies
from counterpoise.workshop.studies.simulated_jobs import (
    SimulatedJob,
    draw_machine,
    problem_at_intake,
    value_if_known,
)
from counterpoise.workshop.studies.study import blocks, run_study
from counterpoise.workshop.studies.world import World


@pytest.fixture(scope="module")
def world():
    return World.of(load_family("front_loader"), Settings(people=2))


def test_a_machine_is_brought_in_with_a_fault_and_a_complaint(world):
    rng = np.random.default_rng(3)
    machines = [draw_machine(world, rng) for _ in range(40)]
    assert all(machine.truth > 0 and machine.complaints for machine in machines)
    assert len({machine.truth for machine in machines}) > 8


def test_what_is_believed_at_the_start_does_not_know_the_truth(world):
    machine = draw_machine(world, np.random.default_rng(5))
    other = replace(machine, truth=machine.truth + 1)
    first, second = (problem_at_intake(world.model, world.settings, m) for m in (machine, other))
    assert np.array_equal(first.prior, second.prior)
    assert first.prior.sum() == pytest.approx(1.0)


def test_knowing_what_is_wrong_is_worth_more_than_stopping(world):
    rng = np.random.default_rng(7)
    for _ in range(20):
        machine = draw_machine(world, rng)
        problem = problem_at_intake(world.model, world.settings, machine)
        assert (
            value_if_known(world, machine) >= problem.ending_values[:, machine.truth].max() - 1e-6
        )


def test_bench_minutes_and_money_agree_for_a_policy_that_only_looks(world):
    """A policy that opens the lid twice pays for the lid once."""
    machine = draw_machine(world, np.random.default_rng(11))
    problem = problem_at_intake(world.model, world.settings, machine)
    looks = [c for c in problem.checks if c.access == "lid"][:2]
    from counterpoise.reasoning.actions import Action

    todo = [Action("check", look.id) for look in looks] + [Action("ending", "scrap")]
    bench = SimulatedJob(world, problem, problem, machine, np.random.default_rng(1))
    played = bench.play(lambda _problem, history: todo[len(history) - 1])
    family = world.model.family
    lid = family.access["lid"]
    minutes = (
        lid.open_min
        + lid.close_min
        + sum(family.checks[c.id].minutes * family.checks[c.id].people for c in looks)
    )
    assert played.minutes == pytest.approx(minutes)
    assert played.net == pytest.approx(
        world.settings.scrap_minor - minutes * world.settings.bench_rate_minor / 60
    )


def test_a_repair_that_cures_everything_earns_the_working_value(world):
    machine = draw_machine(world, np.random.default_rng(2))
    hypotheses = problem_at_intake(world.model, world.settings, machine).hypotheses
    bolts = hypotheses.index[(hypotheses.fault_ids.index("transit_bolts"),)]
    machine = replace(machine, truth=bolts)
    problem = problem_at_intake(world.model, world.settings, machine)
    sure = [
        replace(r, cures={"transit_bolts": 1.0}) if r.id == "remove_transit_bolts" else r
        for r in problem.repairs
    ]
    from counterpoise.reasoning.actions import Action
    from counterpoise.reasoning.belief import transition_of

    problem = replace(
        problem, repairs=tuple(sure), transitions=tuple(transition_of(r, hypotheses) for r in sure)
    )
    bench = SimulatedJob(world, problem, problem, machine, np.random.default_rng(1))
    played = bench.play(lambda _problem, _history: Action("repair", "remove_transit_bolts"))
    cost = next(r.cost for r in sure if r.id == "remove_transit_bolts")
    assert not played.comeback
    assert played.net == pytest.approx(problem.working - cost - problem.retest.cost)


@pytest.mark.parametrize(("age", "wrongly"), [(1.0, 1.0), (60.0, 0.0)])
def test_parting_out_is_regretted_where_the_machine_was_worth_saving(world, age, wrongly):
    """Bolts left in: minutes to take out. A young machine was worth them, one of sixty years was not."""
    from counterpoise.reasoning.actions import Action

    machine = replace(draw_machine(world, np.random.default_rng(2)), age_years=age)
    hypotheses = problem_at_intake(world.model, world.settings, machine).hypotheses
    bolts = hypotheses.index[(hypotheses.fault_ids.index("transit_bolts"),)]
    machine = replace(machine, truth=bolts)
    problem = problem_at_intake(world.model, world.settings, machine)
    bench = SimulatedJob(world, problem, problem, machine, np.random.default_rng(1))
    played = bench.play(lambda _problem, _history: Action("ending", "part_out"))
    assert played.ended_wrongly == wrongly
    # what was thrown away is what one who knew would have earned over what it brought
    lost = value_if_known(world, machine) - played.net
    assert played.regret == pytest.approx(lost if wrongly else 0.0)


def test_ours_puts_a_hand_on_the_machine_before_it_is_parted_out(world):
    from counterpoise.workshop.diagnosis.ways.irreversible import BY_HAND, ENDINGS
    from counterpoise.workshop.studies.waiting import told_in

    order = StudyOrder("front_loader", 1, 9, growths=1)
    ours = study._planner(replace(order, seed=0)).policies["ours"]
    touched = 0
    for job in range(4):
        machine = draw_machine(world, np.random.default_rng([6, job]))
        problem = world.taken_in(machine)
        seen_last = []

        def watched(problem, history, seen_last=seen_last):
            action = ours(problem, history)
            seen_last[:] = [action, history]
            return action

        SimulatedJob(world, problem, problem, machine, np.random.default_rng([7, job])).play(
            watched
        )
        action, history = seen_last
        if action.id in ENDINGS:
            checks = told_in(history, world.model.family)
            touched += any(world.model.family.checks[name].kind in BY_HAND for name in checks)
    assert touched > 0


def test_every_way_ends_and_none_earns_more_than_a_sound_machine_is_worth(world):
    ways = policies(world.model.family, Effort(growths=1))
    for job in range(3):
        machine = draw_machine(world, np.random.default_rng([4, job]))
        problem = problem_at_intake(world.model, world.settings, machine)
        most = max(problem.working, problem.ending_values[:, machine.truth].max())
        for policy in ways.values():
            played = SimulatedJob(
                world, problem, problem, machine, np.random.default_rng([5, job])
            ).play(policy)
            assert played.net <= most
            assert played.minutes >= 0
            assert 0 <= played.comeback <= 1


def test_blocks_cover_every_job_once():
    pieces = blocks(StudyOrder("front_loader", 120, 1))
    assert [job for _, first, count in pieces for job in range(first, first + count)] == list(
        range(120)
    )


def test_the_same_seed_gives_the_same_study():
    order = StudyOrder("front_loader", 2, 9)
    assert run_study(order) == run_study(order)


def test_what_was_decided_before_changes_nothing_but_the_time(world):
    memory = DecisionMemory()
    ways = policies(world.model.family, Effort(growths=1), memory)
    machine = draw_machine(world, np.random.default_rng([4, 1]))
    problem = world.taken_in(machine)

    def play(name, ways):
        return SimulatedJob(world, problem, problem, machine, np.random.default_rng(8)).play(
            ways[name]
        )

    first = {name: play(name, ways) for name in ways}
    learned = memory.take_fresh()
    assert learned
    other = DecisionMemory()
    other.learn(learned)
    again = policies(world.model.family, Effort(growths=1), other)
    assert {name: play(name, again) for name in again} == first
    assert not other.take_fresh()


def test_one_who_knows_earns_as_much_with_the_checks_left_out(world):
    rng = np.random.default_rng(12)
    for _ in range(5):
        machine = draw_machine(world, rng)
        problem = world.taken_in(machine)
        row = np.zeros(problem.prior.size)
        row[machine.truth] = 1.0
        whole = float(hindsight(problem.arrays(), row, 0, 0, np.zeros(row.size)))
        assert value_if_known(world, machine) == pytest.approx(whole, abs=1e-9)


@pytest.fixture
def short_blocks(monkeypatch):
    monkeypatch.setattr(study, "BLOCK", 1)


def test_a_study_that_was_stopped_goes_on_where_it_was(tmp_path, short_blocks, monkeypatch):
    kept, order = tmp_path / "study.jsonl", StudyOrder("front_loader", 3, 9, growths=1)
    whole = run_study(order)
    run_study(replace(order, jobs=2), kept=kept)
    with kept.open("ab") as torn:
        torn.write(b'{"program": "cut short by')
    played = []
    real = study.play_block
    monkeypatch.setattr(study, "play_block", lambda *block: played.append(block[1]) or real(*block))
    noted = []
    assert run_study(order, note=noted.append, kept=kept) == whole
    assert played == [2]
    assert sum(noted) == 3
    assert len(kept.read_bytes().splitlines()) == 3


def test_the_careful_way_is_played_only_when_asked_for_and_changes_no_other(tmp_path, short_blocks):
    kept, order = tmp_path / "study.jsonl", StudyOrder("front_loader", 1, 9, growths=1)
    plain = run_study(order, kept=kept)
    careful = run_study(replace(order, careful=True), kept=kept)
    assert tuple(careful["policies"]) == (*POLICIES, "careful")
    assert {name: careful["policies"][name] for name in POLICIES} == plain["policies"]
    assert run_study(order, kept=kept) == plain


def test_another_seed_or_a_perturbed_study_in_the_same_file_is_kept_apart(tmp_path, short_blocks):
    kept, order = tmp_path / "study.jsonl", StudyOrder("front_loader", 1, 9, growths=1)
    first = run_study(order, kept=kept)
    other, off = replace(order, seed=10), replace(order, perturb=True)
    assert run_study(other, kept=kept) == run_study(other) != first
    assert run_study(off, kept=kept) == run_study(off) != first
    assert run_study(order, kept=kept) == first


def test_a_file_that_no_study_wrote_is_refused(tmp_path):
    kept = tmp_path / "notes.txt"
    kept.write_text("milk\n")
    answer = CliRunner().invoke(
        main, ["study", "--jobs", "1", "--workers", "1", "--resume", str(kept)]
    )
    assert answer.exit_code == 2, answer.output
    assert "line 1" in answer.output
    assert kept.read_text() == "milk\n"


def test_how_far_ours_is_ahead_is_told_on_the_same_machines():
    block = {
        "first": 0,
        "count": 4,
        "perfect": [10.0, 10.0, 10.0, 10.0],
        "played": {name: [(5.0 + i, 1.0, 0.0, 0.0, 0.0) for i in range(4)] for name in POLICIES},
    }
    block["played"]["ratio"] = [
        (3.0, 1.0, 0.0, 0.0, 0.0),
        (4.0, 1.0, 0.0, 0.0, 0.0),
        (4.0, 1.0, 0.0, 0.0, 0.0),
        (6.0, 1.0, 0.0, 0.0, 0.0),
    ]
    figures = study.summed([block], StudyOrder("front_loader", 4, 1))
    assert figures["ahead"]["one_step"] == {"net": 0.0, "error": 0.0}
    assert figures["ahead"]["ratio"]["net"] == pytest.approx(2.25)
    differences = [2.0, 2.0, 3.0, 2.0]
    assert figures["ahead"]["ratio"]["error"] == pytest.approx(np.std(differences, ddof=1) / 2)
    assert figures["policies"]["ours"]["error"] == pytest.approx(np.std([5, 6, 7, 8], ddof=1) / 2)


def test_jobs_that_share_a_catalog_are_not_counted_as_independent():
    blocks_ = [
        {
            "first": f,
            "count": 2,
            "perfect": [9.0, 9.0],
            "played": {name: [(v, 1.0, 0.0, 0.0, 0.0)] * 2 for name in POLICIES},
        }
        for f, v in ((0, 2.0), (2, 4.0), (4, 6.0))
    ]
    alike = study.summed(blocks_, StudyOrder("front_loader", 6, 1, perturb=True))
    assert alike["policies"]["ours"]["error"] == pytest.approx(
        np.std([2, 4, 6], ddof=1) / np.sqrt(3)
    )


def test_a_perturbed_catalog_stays_within_its_ranges_and_changes_everything():
    family = load_family("front_loader")
    other = perturbed(family, np.random.default_rng(1))
    for key, fault in family.faults.items():
        odds = fault.prior / (1 - fault.prior)
        moved = other.faults[key].prior / (1 - other.faults[key].prior)
        assert odds / 2 <= moved <= odds * 2
    for key, check in family.checks.items():
        assert 0.7 * check.minutes <= other.checks[key].minutes <= 1.3 * check.minutes
        for fault, row in other.checks[key].under.items():
            assert sum(row.values()) <= 1 + 1e-9
            if sum(check.under[fault].values()) <= 0.8:
                assert all(abs(row[o] - p) <= 0.1 + 1e-9 for o, p in check.under[fault].items())
    assert family_model(other).hypotheses.sets == family_model(family).hypotheses.sets


def test_the_names_of_the_ways_are_those_of_the_contract():
    # ours is the planner alone, held back before what cannot be undone
    alone = policies(load_family("front_loader"), Effort(growths=1))
    assert ("ours", *alone) == POLICIES


def test_the_command_prints_the_contract():
    answer = CliRunner().invoke(main, ["study", "--jobs", "2", "--workers", "1", "--json"])
    assert answer.exit_code == 0, answer.output
    figures = json.loads(answer.stdout)
    assert figures["jobs"] == 2
    assert set(figures["policies"]) == set(POLICIES)
    for row in figures["policies"].values():
        assert {"net", "minutes", "comebacks", "kept", "ended_wrongly", "regret"} <= set(row)
        assert 0.0 <= row["ended_wrongly"] <= 1.0
        assert row["regret"] >= 0.0
        assert row["kept"] == pytest.approx(row["net"] / figures["perfect"])


def test_no_jobs_is_refused():
    with pytest.raises(InputError):
        StudyOrder("front_loader", 0, 1)
    assert CliRunner().invoke(main, ["study", "--jobs", "0"]).exit_code == 2


def test_a_cluster_gives_the_same_figures_as_this_machine():
    from distributed import LocalCluster

    from counterpoise.workshop.studies.cluster import run_on_cluster

    order = StudyOrder("front_loader", 2, 9)
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        assert run_on_cluster(order, cluster.scheduler_address) == run_study(order)


def test_a_scheduler_that_does_not_answer_is_named():
    from counterpoise.workshop.studies.cluster import run_on_cluster

    with pytest.raises(InputError, match="no scheduler answers"):
        run_on_cluster(StudyOrder("front_loader", 1, 1), "not-an-address")


def test_a_world_answers_the_checks_of_the_plan_whatever_it_would_have_left_out_itself():
    family = load_family("front_loader")
    believing = World.of(family, Settings())
    world = World.of(perturbed(family, np.random.default_rng(3)), Settings())
    believed = believing.costed(7.0)
    real = world.answering(believed, 7.0)
    assert [check.id for check in real.checks] == [check.id for check in believed.checks]
    assert len(real.tables) == len(real.checks)
    for check, table in zip(real.checks, real.tables, strict=True):
        assert len(table) == len(check.outcomes)
