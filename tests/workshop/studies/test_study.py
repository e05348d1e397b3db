import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.errors import InputError
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.hazards import BY_HAND
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed
from counterpoise.workshop.diagnosis.ways.first_step import told_since_repair
from counterpoise.workshop.diagnosis.ways.irreversible import ENDINGS
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies import study
from counterpoise.workshop.studies.bench_world import BenchMachine, BenchWorld
from counterpoise.workshop.studies.checkpoints import ASKED_FOR, POLICIES, StudyOrder
from counterpoise.workshop.studies.policies import DecisionMemory, policies
from counterpoise.workshop.studies.simulated_jobs import SimulatedJob, value_if_known
from counterpoise.workshop.studies.study import blocks, run_study
from counterpoise.workshop.studies.world import World, draw_machine, problem_at_intake


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


def test_knowing_what_is_wrong_is_worth_more_than_stopping(bench):
    rng = np.random.default_rng(7)
    for _ in range(10):
        machine = bench.draw(rng)
        endings = bench.real(machine).ending_values[:, machine.faults]
        assert value_if_known(bench, machine) >= endings.max() - 1e-6


BOLTED = {"drive": "belt", "motor": "brushed", "tub": "bolted"}
WELDED = {**BOLTED, "tub": "welded"}


@pytest.fixture(scope="module")
def bench():
    return BenchWorld.of(load_family("front_loader"), Settings(people=2))


def machine_with(bench, *faults, features=BOLTED, age=7.0, put_down=None):
    """A machine with these faults, of which nothing need be put down."""
    hypotheses = bench.model.hypotheses
    number = hypotheses.index[tuple(sorted(hypotheses.fault_ids.index(key) for key in faults))]
    kind = [dict(each) for each in bench.kinds.machines].index(features)
    return BenchMachine(kind, number, age, ("shakes",), number, put_down or {})


def worked_on(bench, machine, *steps, repeat_share=0.0):
    """The job after these steps, and what came of it."""
    work = SimulatedJob(bench, bench.family, machine, (1,), repeat_share)
    done = iter(steps)
    return work, work.play(lambda _stand, _history: next(done))


def check(name):
    return Action("check", name)


def test_bench_minutes_and_money_agree_for_a_policy_that_only_looks(bench):
    """A policy that opens the lid twice pays for the lid once."""
    family = bench.family
    looks = [c.id for c in family.checks.values() if c.access == "lid"][:2]
    machine = machine_with(bench, "short_foot")
    _, played = worked_on(bench, machine, *map(check, looks), Action("ending", "scrap"))
    lid = family.access["lid"]
    minutes = (
        lid.open_min
        + lid.close_min
        + sum(family.checks[name].minutes * family.checks[name].people for name in looks)
    )
    assert played.minutes == pytest.approx(minutes)
    assert played.net == pytest.approx(
        money_of(bench.family, bench.settings).scrap_minor
        - minutes * bench.settings.bench_rate_minor / 60
    )


def test_a_check_done_twice_is_paid_twice_and_both_readings_are_put_down(bench):
    machine, steps = machine_with(bench, "short_foot"), (check("rock_corners"), Action("ending", "scrap"))  # fmt: skip
    (_, alone), (work, twice) = (
        worked_on(bench, machine, *steps, repeat_share=share) for share in (0.0, 1.0)
    )
    assert twice.minutes == pytest.approx(2.0 * alone.minutes)
    assert len(work.stand().case.situation.evidence.readings["rock_corners"]) == 2
    assert len(work.stand().as_before().case.situation.evidence.readings["rock_corners"]) == 1
    # who asks twice hears the same
    asked = (check("ask_floor"), Action("ending", "scrap"))
    assert len(worked_on(bench, machine, *asked, repeat_share=1.0)[0].history) == 3


def test_a_repair_that_cures_earns_the_working_value(bench):
    machine = machine_with(bench, "transit_bolts")
    bolts = Action("repair", "remove_transit_bolts")
    work, played = worked_on(bench, machine, bolts, Action("ending", "scrap"))
    assert work.history[-1] == "remove_transit_bolts=passed"
    real = bench.real(machine)
    cost = next(r.cost for r in real.repairs if r.id == "remove_transit_bolts")
    assert not played.comeback
    assert played.net == pytest.approx(real.working - cost - real.retest.cost)


def test_a_repair_of_another_kind_of_machine_costs_its_time_and_tells_the_kind(bench):
    machine = machine_with(bench, "bearing_worn:gone", features=WELDED)
    entry = bench.family.repairs["replace_bearings"]
    work, played = worked_on(bench, machine, Action("repair", entry.id), Action("ending", "scrap"))
    assert work.stand().case.situation.known["tub"] == "welded"
    assert played.minutes >= entry.minutes * entry.people
    assert not any(line.endswith("=failed") for line in work.history)
    # no parts went in, and nothing was proved
    minute = bench.settings.bench_rate_minor / 60
    assert played.net == pytest.approx(
        money_of(bench.family, bench.settings).scrap_minor - played.minutes * minute
    )


@pytest.mark.parametrize(("age", "wrongly"), [(1.0, 1.0), (60.0, 0.0)])
def test_parting_out_is_regretted_where_the_machine_was_worth_saving(bench, age, wrongly):
    """Bolts left in: minutes to take out. A young machine was worth them, one of sixty years was not."""
    machine = machine_with(bench, "transit_bolts", age=age)
    _, played = worked_on(bench, machine, Action("ending", "part_out"))
    assert played.ended_wrongly == wrongly
    # what was thrown away is what one who knew would have earned over what it brought
    lost = value_if_known(bench, machine) - played.net
    assert played.regret == pytest.approx(lost if wrongly else 0.0)


def test_as_before_takes_what_is_not_known_for_what_is_commonest(bench):
    machine = machine_with(bench, "bearing_worn:gone", features=WELDED, put_down={"motor": "brushless"})  # fmt: skip
    work, _ = worked_on(bench, machine, check("look_belt"), Action("ending", "scrap"))
    before, now = work.stand().as_before().case.situation, work.stand().case.situation
    assert before.known == {"drive": "belt", "motor": "brushless", "tub": "bolted"}
    assert "tub" not in now.known
    # nothing hangs together, and nothing is proposed again
    assert not before.family.same_thing
    done = work.stand().as_before().problem
    assert [c.id for i, c in enumerate(done.checks) if done.done >> i & 1] == []


def test_ours_puts_a_hand_on_the_machine_before_it_is_parted_out(bench):
    order = StudyOrder("front_loader", 1, 9, growths=1, ways=("ours",))
    ours = study._planner(replace(order, seed=0)).policies["ours"]
    touched = 0
    for job in range(4):
        machine = bench.draw(np.random.default_rng([6, job]))
        work = SimulatedJob(bench, bench.family, machine, (7, job))
        work.play(ours)
        if work.history[-1] in ENDINGS:
            names = told_since_repair(work.stand().case.job)
            touched += any(bench.family.checks[name].kind in BY_HAND for name in names)
    assert touched > 0


def test_every_way_ends_and_none_earns_more_than_a_sound_machine_is_worth(bench):
    ways = policies(bench.family, Effort(growths=1))
    for job in range(2):
        machine = bench.draw(np.random.default_rng([4, job]), 0.5)
        real = bench.real(machine)
        most = max(real.working, real.ending_values[:, machine.faults].max())
        for name in POLICIES:
            played = SimulatedJob(bench, bench.family, machine, (5, job), 0.1).play(ways[name])
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


def test_what_was_decided_before_changes_nothing_but_the_time(bench):
    memory = DecisionMemory()
    ways = policies(bench.family, Effort(growths=1), memory)
    machine = bench.draw(np.random.default_rng([4, 1]), 0.5)

    def play(name, ways):
        return SimulatedJob(bench, bench.family, machine, (8,), 0.1).play(ways[name])

    first = {name: play(name, ways) for name in POLICIES}
    learned = memory.take_fresh()
    assert learned
    other = DecisionMemory()
    other.learn(learned)
    again = policies(bench.family, Effort(growths=1), other)
    assert {name: play(name, again) for name in POLICIES} == first
    assert not other.take_fresh()


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
        "played": {
            name: [(5.0 + i, 1.0, 0.0, 0.0, 0.0, 0.0) for i in range(4)] for name in POLICIES
        },
    }
    block["played"]["ratio"] = [
        (3.0, 1.0, 0.0, 0.0, 0.0, 0.0),
        (4.0, 1.0, 0.0, 0.0, 0.0, 0.0),
        (4.0, 1.0, 0.0, 0.0, 0.0, 0.0),
        (6.0, 1.0, 0.0, 0.0, 0.0, 0.0),
    ]
    figures = study.summed([block], StudyOrder("front_loader", 4, 1))
    assert set(figures["ahead"]["one_step"].values()) == {0.0}
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
            "played": {name: [(v, 1.0, 0.0, 0.0, 0.0, 0.0)] * 2 for name in POLICIES},
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
            # however all of them rise, nothing need be scaled back
            if sum(check.under[fault].values()) + 0.1 * len(check.under[fault]) <= 1.0:
                assert all(abs(row[o] - p) <= 0.1 + 1e-9 for o, p in check.under[fault].items())
    assert family_model(other).hypotheses.sets == family_model(family).hypotheses.sets


def test_the_names_of_the_ways_are_those_of_the_contract():
    ways = policies(load_family("front_loader"), Effort(growths=1))
    assert set(ways) == {*POLICIES, *ASKED_FOR}


def test_only_the_ways_asked_for_are_played_and_an_unknown_one_is_refused():
    order = StudyOrder("front_loader", 1, 1, ways=("as_before", "ours"))
    assert order.policies == ("ours", "as_before")
    answer = CliRunner().invoke(main, ["study", "--jobs", "1", "--ways", "ours,milk"])
    assert answer.exit_code == 2
    assert "milk" in answer.output
    assert "as_before" in answer.output
    with pytest.raises(InputError, match="no probability"):
        StudyOrder("front_loader", 1, 1, known_share=1.5)


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
