"""The invented workshop is written with ids that the catalog knows, and always the same."""

import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.demo.jobs import BOOK
from counterpoise.workshop.demo.play import (
    IN_PARTS,
    MACHINES,
    MENDED,
    SETTINGS,
    TOO_DEAR,
    Said,
    entries_of,
    play,
    seed,
)
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.jobs.comeback import closings
from counterpoise.workshop.jobs.entries import Decision, Finding, Job
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.settings_checks import changed
from counterpoise.workshop.services.families import Families
from counterpoise.workshop.services.jobs import Jobs
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


@pytest.fixture(scope="module")
def known():
    return {name: load_family(name) for name in families()}


@pytest.fixture
def seeded(store, known):
    seed(store)
    return Workshop(store, known)


@pytest.mark.parametrize("page", range(len(BOOK)))
def test_every_job_of_the_book_could_have_been_recorded_like_this(page, known):
    entries = entries_of(*BOOK[page])
    assert Jobs(None, Families(known)).problems(entries) == []
    for index, entry in enumerate(entries):  # readings fall into the outcomes written beside them
        if isinstance(entry.body, Finding):
            assert (
                check_body(known["front_loader"], Job(1, entries[:index]), entry.body) == entry.body
            )


def test_the_book_holds_a_dozen_jobs_in_every_state(seeded):
    lines = seeded.jobs.lines()
    assert len(lines) >= 12
    assert {line.ending for line in lines} >= {
        "",
        "repair_hand_back",
        "repair_resell",
        "scrap",
        "replace",
    }
    assert any(line.open and line.decision for line in lines)  # decided, not done
    assert any(line.open and not line.decision for line in lines)
    assert {line.owner for line in lines} == {"customer", "workshop"}
    assert seeded.settings().workshop_name == SETTINGS["workshop_name"]


@pytest.mark.slow
def test_the_played_job_is_decided_against_what_looks_obvious(known):
    """All says dampers, and new ones would pay; then one hand in the drum, and the machine is worth more in parts."""
    family, entries = (
        known["front_loader"],
        entries_of("2026-03-18T08:00:00Z", "Odo", (IN_PARTS.intake, *IN_PARTS.steps)),
    )
    settings = changed(Settings(), SETTINGS)
    obvious = assess(JobCase(Job(1, entries[:5]), family, settings))
    assert (obvious.suspects[0].fault, obvious.suspects[0].probability > 0.6) == (
        "damper_worn",
        True,
    )
    worth = {option.id: option.value_minor for option in obvious.options}
    assert worth["repair_resell"] > 1.5 * worth["part_out"]
    assert obvious.next.id != "part_out"
    known_now = assess(JobCase(Job(1, entries[: len(IN_PARTS.steps) - 1]), family, settings))
    assert (known_now.suspects[0].fault, known_now.suspects[0].probability > 0.9) == (
        "drum_support",
        True,
    )
    assert (known_now.next.kind, known_now.next.id) == ("ending", "part_out")
    worth = {option.id: option.value_minor for option in known_now.options}
    assert [option.id for option in known_now.options if option.best] == ["part_out"]
    assert worth["repair_resell"] < 0 < worth["part_out"]


def test_seeding_is_the_same_each_time_and_leaves_a_used_store_alone(seeded, tmp_path):
    with Store(tmp_path / "other.db", lambda: seeded.now()[:10] + "T09:00:00Z") as other:
        seed(other)
        assert other.jobs.lines() == seeded.jobs.lines()
        assert [other.jobs.get(line.number) for line in other.jobs.lines()] == [
            seeded.jobs.get(line.number) for line in seeded.jobs.lines()
        ]
        assert seed(other) == []
        assert len(other.jobs.lines()) == len(BOOK) + len(MACHINES)


def nobody(number, said):
    return Decision(said.option, 5000, said.why)


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.id)
def test_a_machine_is_played_from_intake_to_its_end(machine, store, known):
    stages = list(play(Workshop(store, known), machine, nobody))
    assert [len(job.entries) for job in stages] == list(range(1, len(machine.steps) + 2))
    assert stages[0].intake == machine.intake
    done = [entry.body for entry in stages[-1].entries[1:]]
    assert tuple(body for body in done if isinstance(body, Finding)) == machine.findings
    assert len(machine.findings) >= 3
    assert stages[-1].closed.ending == stages[-1].decision.option
    assert stages[-1].closed.received_minor in {5000, 11_500}
    assert stages[-1].closed.terms


@pytest.mark.slow
@pytest.mark.parametrize(("machine", "best"), [(MENDED, "repair_hand_back"), (TOO_DEAR, "replace")])
def test_what_is_best_for_the_customer_and_what_the_repair_costs(machine, best, known):
    """One is mended well under its worth; the other would cost more than the machine is worth to its owner."""
    family, settings = known["front_loader"], changed(Settings(), SETTINGS)
    job = Job(
        1, entries_of("2026-03-18T08:00:00Z", machine.by, (machine.intake, *machine.findings))
    )
    found = assess(JobCase(job, family, settings))
    assert [option.id for option in found.options if option.best] == [best]
    assert found.next.kind == ("repair" if best == "repair_hand_back" else "ending")
    advised = found.next.id if found.next.kind == "repair" else ""
    costs = cost(JobCase(job, family, settings), advised=advised)
    limit = costs.works * Prices(family, settings, "customer", machine.intake.age_years).working
    assert (costs.estimate.payable_minor < 0.6 * limit) == (best == "repair_hand_back")
    assert (costs.estimate.payable_minor > 1.5 * limit) == (best == "replace")
    assert (
        costs.estimate.net_minor > costs.own.net_minor
    )  # the workshop would earn by saying yes to either
    assert [m.id for m in MACHINES if Said in map(type, m.steps)] == ["mended", "too_dear"]


def test_the_book_ends_today_and_keeps_the_figures_of_its_days(store, known):
    seed(store, known)
    today = store.now()[:10]
    jobs = [store.jobs.get(line.number) for line in store.jobs.lines()]
    assert max(job.entries[0].at[:10] for job in jobs) == today
    assert any(job.parts_due > today for job in jobs)
    assert all(
        over.body.terms["bench_rate_minor"] == 3600 for job in jobs for over in closings(job)
    )
    assert [job.number for job in jobs if job.came_back]
    assert [job.intake.title for job in jobs[:3]] == [
        machine.intake.title for machine in reversed(MACHINES)
    ]
    assert all(job.closed is None and job.decision is None for job in jobs[:3])


def test_the_shelf_of_the_invented_workshop_is_of_parts_that_the_catalog_knows(store):
    seed(store)
    family = load_family("front_loader")
    lots, prices = store.stock.book().lots, store.prices.book().prices
    assert {lot.item for lot in lots} <= set(family.parts) | set(family.assemblies)
    assert any(lot.donor and store.jobs.get(lot.donor).intake.maker == lot.maker for lot in lots)
    assert {price.line.part for price in prices} <= set(family.parts)
    seed(store)
    assert len(store.stock.book().lots) == len(lots)
