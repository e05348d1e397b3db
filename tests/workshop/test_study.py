import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.errors import InputError
from counterpoise.reasoning.lookahead import Effort
from counterpoise.workshop.compile import base_of
from counterpoise.workshop.perturb import perturbed
from counterpoise.workshop.policies import policies
from counterpoise.workshop.settings import Settings
from counterpoise.workshop.study import POLICIES, Order, blocks, run_study
from counterpoise.workshop.virtual import Bench, World, draw_machine, perfect, start


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
    first, second = (start(world.base, world.settings, m) for m in (machine, other))
    assert np.array_equal(first.prior, second.prior)
    assert first.prior.sum() == pytest.approx(1.0)


def test_knowing_what_is_wrong_is_worth_more_than_stopping(world):
    rng = np.random.default_rng(7)
    for _ in range(20):
        machine = draw_machine(world, rng)
        problem = start(world.base, world.settings, machine)
        assert perfect(problem, machine.truth) >= problem.ending_values[:, machine.truth].max() - 1e-6


def test_bench_minutes_and_money_agree_for_a_policy_that_only_looks(world):
    """A policy that opens the lid twice pays for the lid once."""
    machine = draw_machine(world, np.random.default_rng(11))
    problem = start(world.base, world.settings, machine)
    looks = [c for c in problem.checks if c.access == "lid"][:2]
    from counterpoise.reasoning.actions import Action

    todo = [Action("check", look.id) for look in looks] + [Action("ending", "scrap")]
    bench = Bench(world, problem, problem, machine, np.random.default_rng(1))
    played = bench.play(lambda _problem, history: todo[len(history)])
    family = world.base.family
    lid = family.access["lid"]
    minutes = (
        lid.open_min + lid.close_min + sum(family.checks[c.id].minutes * family.checks[c.id].people for c in looks)
    )
    assert played.minutes == pytest.approx(minutes)
    assert played.net == pytest.approx(world.settings.scrap_minor - minutes * world.settings.bench_rate_minor / 60)


def test_a_repair_that_cures_everything_earns_the_working_value(world):
    hypotheses = world.base.hypotheses
    bolts = hypotheses.index[(hypotheses.fault_ids.index("transit_bolts"),)]
    machine = replace(draw_machine(world, np.random.default_rng(2)), truth=bolts)
    problem = start(world.base, world.settings, machine)
    sure = [replace(r, cures={"transit_bolts": 1.0}) if r.id == "remove_transit_bolts" else r for r in problem.repairs]
    from counterpoise.reasoning.actions import Action
    from counterpoise.reasoning.belief import moves_of

    problem = replace(problem, repairs=tuple(sure), moves=tuple(moves_of(r, hypotheses) for r in sure))
    bench = Bench(world, problem, problem, machine, np.random.default_rng(1))
    played = bench.play(lambda _problem, _history: Action("repair", "remove_transit_bolts"))
    cost = next(r.cost for r in sure if r.id == "remove_transit_bolts")
    assert not played.comeback
    assert played.net == pytest.approx(problem.working - cost - problem.retest.cost)


def test_every_way_ends_and_none_earns_more_than_a_sound_machine_is_worth(world):
    ways = policies(world.base.family, Effort(growths=1))
    for job in range(3):
        machine = draw_machine(world, np.random.default_rng([4, job]))
        problem = start(world.base, world.settings, machine)
        most = max(problem.working, problem.ending_values[:, machine.truth].max())
        for policy in ways.values():
            played = Bench(world, problem, problem, machine, np.random.default_rng([5, job])).play(policy)
            assert played.net <= most
            assert played.minutes >= 0
            assert 0 <= played.comeback <= 1


def test_blocks_cover_every_job_once():
    pieces = blocks(Order("front_loader", 120, 1))
    assert [job for _, first, count in pieces for job in range(first, first + count)] == list(range(120))


def test_the_same_seed_gives_the_same_study():
    order = Order("front_loader", 2, 9)
    assert run_study(order) == run_study(order)


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
    assert base_of(other).hypotheses.sets == base_of(family).hypotheses.sets


def test_the_names_of_the_ways_are_those_of_the_contract():
    assert tuple(policies(load_family("front_loader"), Effort(growths=1))) == POLICIES


def test_the_command_prints_the_contract():
    answer = CliRunner().invoke(main, ["study", "--jobs", "2", "--workers", "1", "--json"])
    assert answer.exit_code == 0, answer.output
    figures = json.loads(answer.stdout)
    assert figures["jobs"] == 2
    assert set(figures["policies"]) == set(POLICIES)
    for row in figures["policies"].values():
        assert {"net", "minutes", "comebacks", "kept"} <= set(row)
        assert row["kept"] == pytest.approx(row["net"] / figures["perfect"])


def test_no_jobs_is_refused():
    with pytest.raises(InputError):
        Order("front_loader", 0, 1)
    assert CliRunner().invoke(main, ["study", "--jobs", "0"]).exit_code == 2


def test_a_cluster_gives_the_same_figures_as_this_machine():
    from distributed import LocalCluster

    from counterpoise.workshop.cluster import run_on_cluster

    order = Order("front_loader", 2, 9)
    with LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as cluster:
        assert run_on_cluster(order, cluster.scheduler_address) == run_study(order)


def test_a_scheduler_that_does_not_answer_is_named():
    from counterpoise.workshop.cluster import run_on_cluster

    with pytest.raises(InputError, match="no scheduler answers"):
        run_on_cluster(Order("front_loader", 1, 1), "not-an-address")
