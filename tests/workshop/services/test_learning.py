"""Learning in a workshop: in use wherever a family is, kept, frozen, undone, taken back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.workshop.learning.jobs_of import DAMPERS, DRUM, FAMILY, at, intake, mended, workshop_of

from counterpoise.errors import InputError
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.report.views.learned.view import learning_view
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.jobs.entries import Closed, Job
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

PRIOR = f"faults.{DAMPERS}.prior"


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    with Store(tmp_path / "learning.db", clock=lambda: at(200)) as store:
        quickly = Effort(growths=2)
        opened = Workshop(store, {FAMILY.id: FAMILY}, lambda case: assess(case, quickly))
        yield opened


def take_in(workshop: Workshop, jobs: list[Job]) -> None:
    workshop.jobs.add_all([JobFile(job.entries) for job in jobs])


def test_sixty_jobs_whose_dampers_fail_twice_as_often_change_the_next_step(
    workshop: Workshop,
) -> None:
    number = workshop.jobs.open(intake()).number
    before = workshop.snapshot(number).assessment
    assert before.next is not None
    assert before.next.id == "turn"
    assert not before.changed
    take_in(workshop, workshop_of(30, 18, 12))
    view = learning_view(workshop, FAMILY.id, judged=True)
    row = next(each for each in view.rows if each.place == PRIOR)
    assert row.name == 'How often "Dampers worn" comes in'
    assert row.text == "25 % by the catalog, 40 % after your 60 jobs"
    assert len(row.jobs) == 30
    # the same job, asked again: what was kept of it is not what is known now
    after = workshop.snapshot(number).assessment
    assert after.next is not None
    assert after.next.id == "push"
    assert f"{row.name}: {row.text}." in after.changed
    assert any(text.startswith("What was wrong: ") for text in view.judged)
    assert view.judged[-1].startswith("Fading: too few to tell (50 foretold, 60 are needed).")
    # the yard, the estimate and the guarantee ask the same family
    assert workshop.family(FAMILY.id) is workshop.snapshot(number).family
    assert workshop.families[FAMILY.id].faults[DAMPERS].prior == pytest.approx(row.here, rel=1e-3)
    # what a closed job brings or costs of its books stays what it was
    assert workshop.learning.written(FAMILY.id) is FAMILY


def test_frozen_undone_put_off_taken_back(workshop: Workshop) -> None:
    take_in(workshop, workshop_of(8, 6, 4))
    learning = workshop.learning

    def prior() -> float:
        return workshop.family(FAMILY.id).faults[DAMPERS].prior

    # nothing moves before anybody has learned; the page does, and so does a closing
    assert prior() == 0.25
    all_of_it = learning.catch_up(FAMILY.id)
    assert all_of_it.jobs == 18
    learned = prior()
    assert learned != 0.25
    learning.take_back(FAMILY.id, PRIOR)
    assert prior() == 0.25
    assert workshop.family(FAMILY.id).faults[DRUM].prior != 0.45
    learning.give_back(FAMILY.id, PRIOR)
    assert prior() == learned
    assert learning.undo(FAMILY.id).jobs == 17
    assert learning.undo(FAMILY.id).jobs == 16
    assert learning.put_off(FAMILY.id).off
    assert prior() == 0.25
    assert learning.go_on(FAMILY.id).jobs == 18
    assert prior() == learned
    learning.freeze(FAMILY.id)
    take_in(workshop, [mended(250 + n, DAMPERS) for n in range(4)])
    assert learning.catch_up(FAMILY.id).jobs == 18
    assert learning.go_on(FAMILY.id).jobs == 22


def test_closing_a_job_learns_from_it_and_a_comeback_unlearns_it(workshop: Workshop) -> None:
    take_in(workshop, workshop_of(8, 6, 4))
    number = workshop.jobs.open(intake()).number
    workshop.jobs.record(number, Closed("scrap", (DRUM,)))
    with_it = workshop.learning.state(FAMILY.id)
    assert with_it.jobs == 19
    workshop.jobs.reopen(number)
    assert workshop.learning.state(FAMILY.id).jobs == 18


def test_what_is_kept_is_learned_once_and_of_this_text_of_the_family(workshop: Workshop) -> None:
    take_in(workshop, workshop_of(8, 6, 4))
    first = workshop.learning.catch_up(FAMILY.id)
    kept = workshop.store.learning.get(FAMILY.id)
    workshop.learning.catch_up(FAMILY.id)
    assert workshop.store.learning.get(FAMILY.id) == kept
    # a new program over the same store has it at once, the same to the last bit
    again = Workshop(workshop.store, {FAMILY.id: FAMILY})
    assert again.learning.state(FAMILY.id) == first
    assert again.family(FAMILY.id).digest == workshop.family(FAMILY.id).digest


def test_what_cannot_be_done_is_said(workshop: Workshop) -> None:
    with pytest.raises(InputError, match="nothing was learned"):
        workshop.learning.take_back(FAMILY.id, PRIOR)
    with pytest.raises(InputError, match="nothing was learned"):
        workshop.learning.undo(FAMILY.id)
    with pytest.raises(InputError, match="there is no 'mangle'"):
        workshop.learning.freeze("mangle")
    view = learning_view(workshop, FAMILY.id, judged=True)
    assert (
        view.standing == "Too little to tell yet: 10 more closed jobs before anything is learned."
    )
    assert not view.judged
