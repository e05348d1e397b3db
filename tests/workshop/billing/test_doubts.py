"""What the doubt about a repair is about: the named doubts account for the whole."""

import pytest
from tests.workshop.diagnosis.bench import case

from counterpoise.money.quote import doubt_text
from counterpoise.money.quote_case import Doubts
from counterpoise.workshop.billing.costing import cost
from counterpoise.workshop.jobs.entries import Finding

FOUND = {
    (): ("replace_dampers", "replace_belt"),
    (Finding("push_tub_bounces", "swings_on"),): ("replace_dampers",),
    (Finding("look_belt", "worn_or_off"),): ("replace_belt",),
}


@pytest.mark.parametrize("findings", FOUND)
def test_the_doubts_and_the_chance_that_it_is_right_are_all_there_is(findings):
    for repair in FOUND[findings]:
        costing = cost(case(*findings), [repair])
        doubts = costing.doubts
        assert min(doubts.cause, doubts.repair, doubts.beside) >= 0.0
        whole = costing.works + doubts.cause + doubts.repair + doubts.beside
        assert whole == pytest.approx(1.0, abs=1e-9)


def test_more_work_leaves_fewer_faults_beside_it():
    one, two = cost(case(), ["replace_dampers"]), cost(case(), ["replace_dampers", "replace_belt"])
    assert two.works > one.works
    assert two.doubts.cause < one.doubts.cause


def test_each_doubt_is_what_it_is_called():
    """Another cause: the fault aimed at is not there. The repair: it is there, and is not cured."""
    job = case(Finding("look_belt", "worn_or_off"), complaints=("no_spin",))
    doubts, repair = cost(job, ["replace_belt"]).doubts, job.family.repairs["replace_belt"]
    chances = job.situation.key_chances
    aimed = {key: cure for key, cure in repair.cures.items() if cure >= 0.5}
    assert list(aimed) == ["belt_worn"]
    there = chances["belt_worn"]
    sound = float(job.situation.probabilities[job.situation.model.sound].sum())
    assert doubts.cause == pytest.approx(1.0 - there - sound, abs=0.01)
    assert doubts.repair == pytest.approx(there * (1.0 - aimed["belt_worn"]), abs=0.001)
    # neither explains the whole: the rest is another fault beside it
    assert doubts.beside > doubts.repair


@pytest.mark.parametrize(
    ("doubts", "text"),
    [
        (Doubts(), ""),
        (Doubts(repair=0.03), "The rest: the repair does not hold (1 time in 33)."),
        (
            Doubts(0.1, 0.02, 0.3),
            (
                "The rest: another fault beside it (3 times in 10), another cause (1 time in 10),"
                " or the repair does not hold (1 time in 50)."
            ),
        ),
    ],
)
def test_the_words_name_the_likeliest_first(doubts, text):
    assert doubt_text(doubts) == text
