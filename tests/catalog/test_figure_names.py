"""Figures in words: what they are of, what they were, what they are."""

import pytest
from tests.workshop.learning.jobs_of import FAMILY

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.figure_names import figure_name


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("faults.damper_worn.prior", 'How often "Dampers worn" comes in'),
        ("checks.push.minutes", 'Minutes for "Push"'),
        ("checks.push.under.damper_worn.bad", '"Push" shows "Bad" with "Dampers worn"'),
        ("checks.push.otherwise.bad", '"Push" shows "Bad" with none of its faults'),
        ("repairs.new_bearing.cures.bearing_worn", 'How surely "New_bearing" mends "Bearing worn"'),
        ("proof.minutes", "Minutes for the proof"),
        ("proof.misses", "misses of the proof"),
        ("money.resale_new_minor", "What a repaired machine of age 0 sells for, EUR"),
        ("money.days_to_sell", "Days to sell one"),
        ("parts.foot.price_minor", 'price_minor of "One foot"'),
        # what the family no longer has stays as it is
        ("faults.gone.prior", 'How often "gone" comes in'),
        ("checks.push.under.gone:late.worse", '"Push" shows "worse" with "gone:late"'),
    ],
)
def test_what_a_figure_is_of(place, words):
    if place.startswith("parts."):
        words = words.replace("One foot", FAMILY.parts["foot"].title)
    assert figure_name(FAMILY, place) == words


@pytest.mark.parametrize(
    ("place", "was", "here", "words"),
    [
        ("faults.x.prior", 0.31, 0.22, "31 % by the catalog, 22 % after your 14 jobs"),
        ("faults.x.prior", 0.004, 0.008, "0.4 % by the catalog, 0.8 % after your 14 jobs"),
        ("checks.x.minutes", 35, 48.4, "35 min by the catalog, 48.4 min after your 14 jobs"),
        (
            "money.resale_new_minor",
            30000,
            23453,
            "300.00 by the catalog, 234.53 after your 14 jobs",
        ),
        ("money.days_to_sell", 10, 1.62, "10 days by the catalog, 1.62 days after your 14 jobs"),
        ("money.life_shape", 2.2, 2.4, "2.2 by the catalog, 2.4 after your 14 jobs"),
    ],
)
def test_what_it_was_and_is(place, was, here, words):
    assert ChangedFigure(place, was, here, "this workshop's closed jobs", jobs=14).text == words


def test_one_job_and_what_somebody_wrote():
    learned = ChangedFigure("faults.x.prior", 0.5, 0.6, "this workshop's closed jobs", jobs=1)
    assert learned.text.endswith("after your 1 job")
    assert learned.moved == pytest.approx(0.1823, abs=1e-4)
    written = ChangedFigure("faults.x.prior", 0.5, 0.6, "workshop", why="we saw it")
    assert written.text == "changed by this workshop from 0.5 to 0.6, workshop (we saw it)"
