"""The one line at the head of a job: money agreed, minutes, what blocks it."""

from dataclasses import replace

import pytest
from tests.web.workbench import DECIDED, FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.report.views.job import job_view
from counterpoise.workshop.jobs.entries import Closed, Decision, Finding, Note, RepairDone
from counterpoise.workshop.store.store import Store

QUOTED = Decision("repair_hand_back", 12000, quoted_minor=12000, ceiling_minor=15050)
SOLD = Closed("repair_hand_back", (), 12000)
ALL_ASKED = [Finding(check, next(iter(FAMILY.checks[check].outcomes))) for check in FAMILY.checks]
OURS = replace(INTAKE, owner="workshop")


@pytest.fixture
def shown(tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": FAMILY})

        def head(*bodies, intake=INTAKE):
            number = workshop.jobs.open(intake, "ada").number
            for body in bodies:
                workshop.jobs.record(number, body)
            return job_view(workshop, number).head

        yield head


@pytest.mark.parametrize(
    ("bodies", "blocked"),
    [
        ((), ""),
        ((Note("ordered", parts_due="2199-01-02"),), "parts due 2 Jan 2199"),
        ((Note("ordered", parts_due="2019-01-02"),), ""),
        (ALL_ASKED, "to decide"),
        ((DECIDED,), ""),
        ((DECIDED, RepairDone("replace_dampers")), "proof to do"),
        ((DECIDED, SOLD), "closed"),
        ((Note("ordered", parts_due="2199-01-02"), SOLD), "closed"),
    ],
)  # fmt: skip
def test_it_says_what_the_job_waits_for(shown, bodies, blocked):
    assert shown(*bodies).blocked == blocked


def test_money_stands_there_as_agreed_with_its_ceiling(shown):
    assert (shown().money, shown().money_words) == ("", "")
    assert shown(DECIDED).money == "120 EUR"
    quoted = shown(QUOTED)
    assert quoted.money == "120 / 150 EUR"
    assert quoted.money_words.replace("\u00a0", " ") == "120.00 EUR agreed, at most 150.50 EUR"


def test_minutes_are_those_of_the_bench(shown):
    assert shown(Finding("new_place", "no", minutes=7)).minutes == "7 min"


def test_maker_and_model_say_which_machine_it_is(shown):
    assert shown().name == INTAKE.title
    named = replace(OURS, maker="Osmarin", model="S6")
    assert shown(intake=named).name == "Osmarin S6"
