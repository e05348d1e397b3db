"""The invented workshop is written with ids that the catalog knows, and always the same."""

from dataclasses import replace

import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.workshop.assess import assess
from counterpoise.workshop.demo import PLAYED, PLAYED_INTAKE, SETTINGS, entries_of, play, seed
from counterpoise.workshop.demo_jobs import BOOK
from counterpoise.workshop.desk import Desk
from counterpoise.workshop.evidence import Closed, Finding, Job
from counterpoise.workshop.preferences import changed
from counterpoise.workshop.record import check_body
from counterpoise.workshop.settings import Settings
from counterpoise.workshop.store import Store


@pytest.fixture(scope="module")
def known():
    return {name: load_family(name) for name in families()}


@pytest.fixture
def seeded(store, known):
    seed(store)
    return Desk(store, known)


@pytest.mark.parametrize("page", range(len(BOOK)))
def test_every_job_of_the_book_could_have_been_recorded_like_this(page, known):
    entries = entries_of(*BOOK[page])
    assert Desk(None, known).problems(entries) == []
    for index, entry in enumerate(entries):  # readings fall into the outcomes written beside them
        if isinstance(entry.body, Finding):
            assert check_body(known["front_loader"], Job(1, entries[:index]), entry.body) == entry.body


def test_the_book_holds_a_dozen_jobs_in_every_state(seeded):
    lines = seeded.lines()
    assert len(lines) >= 12
    assert {line.ending for line in lines} >= {"", "repair_hand_back", "repair_resell", "scrap", "replace"}
    assert any(line.open and line.decision for line in lines)  # decided, not done
    assert any(line.open and not line.decision for line in lines)
    assert {line.owner for line in lines} == {"customer", "workshop"}
    assert seeded.settings().workshop_name == SETTINGS["workshop_name"]


@pytest.mark.slow
def test_the_played_job_is_decided_against_what_looks_obvious(known):
    """All says dampers, and new ones would pay; then one hand in the drum, and the machine is worth more in parts."""
    family, entries = known["front_loader"], entries_of("2026-03-18T08:00:00Z", "Odo", (PLAYED_INTAKE, *PLAYED))
    settings = changed(Settings(), SETTINGS)
    obvious = assess(family, settings, Job(1, entries[:5]))
    assert (obvious.suspects[0].fault, obvious.suspects[0].probability > 0.6) == ("damper_worn", True)
    worth = {option.id: option.value_minor for option in obvious.options}
    assert worth["repair_resell"] > 1.5 * worth["part_out"]
    assert obvious.next.id != "part_out"
    known_now = assess(family, settings, Job(1, entries[: len(PLAYED) - 1]))
    assert (known_now.suspects[0].fault, known_now.suspects[0].probability > 0.9) == ("drum_support", True)
    assert (known_now.next.kind, known_now.next.id) == ("ending", "part_out")
    worth = {option.id: option.value_minor for option in known_now.options}
    assert [option.id for option in known_now.options if option.best] == ["part_out"]
    assert worth["repair_resell"] < 0 < worth["part_out"]


def test_seeding_is_the_same_each_time_and_leaves_a_used_store_alone(seeded, tmp_path):
    with Store(tmp_path / "other.db") as other:
        seed(other)
        assert other.jobs() == seeded.lines()
        assert [other.job(line.number) for line in other.jobs()] == [seeded.job(line.number) for line in seeded.lines()]
        assert seed(other) == []
        assert len(other.jobs()) == len(BOOK)


def test_the_played_job_runs_from_intake_to_its_end(store, known):
    stages = list(play(Desk(store, known)))
    assert [len(job.entries) for job in stages] == list(range(1, len(PLAYED) + 2))
    assert sum(isinstance(body, Finding) for body in PLAYED) >= 6
    assert stages[0].intake == PLAYED_INTAKE
    assert [entry.body for entry in stages[-1].entries[1:-1]] == list(PLAYED[:-1])
    assert replace(stages[-1].closed, terms={}) == PLAYED[-1]
    assert isinstance(PLAYED[-1], Closed)
    assert stages[-1].closed.ending == stages[-1].decision.option == "part_out"
