"""The estimate, and a repair against a new machine."""

from dataclasses import replace

import pytest
from tests.web.workbench import DECIDED, INTAKE

from counterpoise.errors import InputError
from counterpoise.report.views.estimate import estimate_answer, quantity
from counterpoise.report.views.job import job_view
from counterpoise.report.views.worth import against_new
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.entries import Closed, RepairDone
from counterpoise.workshop.parts.stock import Receipt

WORK = ("replace_dampers",)


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [(65.0, "min", "1 h 05 min"), (1.0, "pc", "1 piece"), (2.0, "pc", "2 pieces"), (1.0, "", "")],
)
def test_how_much_a_line_is_of(value, unit, words):
    assert quantity(value, unit) == words


def test_a_customer_is_charged_and_the_workshop_knows_its_own_cost(stocked, stocked_job):
    answer = estimate_answer(job_view(stocked, stocked_job), WORK)
    own = stocked.jobs.open(replace(INTAKE, owner="workshop")).number
    mine = estimate_answer(job_view(stocked, own), WORK)
    assert (answer.charged, mine.charged) == (True, False)
    assert answer.own_minor < answer.estimate.payable_minor
    assert mine.own_minor == answer.own_minor
    assert [work.id for work in answer.work] == list(WORK)
    assert answer.others == ()


def test_of_each_kind_of_part_the_best_is_shown_and_one_is_chosen(stocked, stocked_job):
    stocked.stock.receive(Receipt("bench", "damper_set", "new", 1, "A1", cost_minor=2000), "ada")
    part = estimate_answer(job_view(stocked, stocked_job), WORK).parts[0]
    assert (part.part, part.count, part.reserved, part.taken) == ("damper_set", 1, 0, 0)
    assert [way.chosen for way in part.ways].count(True) == 1
    kinds = [way.kind for way in part.ways]
    assert len(kinds) == len(set(kinds))
    assert part.ways[0].lot == 1


def test_terms_that_cannot_be_are_refused(stocked, stocked_job):
    view = job_view(stocked, stocked_job)
    with pytest.raises(InputError, match="unheard_of"):
        estimate_answer(view, ("unheard_of",))
    with pytest.raises(InputError, match="discount"):
        estimate_answer(view, WORK, Terms(discounts=("much%",)))


def test_a_repair_done_is_marked_as_done(stocked, stocked_job):
    stocked.jobs.record(stocked_job, RepairDone("replace_dampers", 30.0))
    answer = estimate_answer(job_view(stocked, stocked_job))
    assert [(work.id, work.done, work.chosen) for work in answer.work] == [
        ("replace_dampers", True, True)
    ]


def test_a_new_machine_is_weighed_only_for_an_open_job_of_a_customer(stocked, stocked_job):
    stocked.jobs.record(stocked_job, DECIDED)
    told = against_new(job_view(stocked, stocked_job))
    assert told is not None
    own = stocked.jobs.open(replace(INTAKE, owner="workshop")).number
    assert against_new(job_view(stocked, own)) is None
    stocked.jobs.record(stocked_job, Closed("scrap"))
    assert against_new(job_view(stocked, stocked_job)) is None
