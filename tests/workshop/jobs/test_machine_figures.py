"""Figures of a job's own machine: kept, refused, taken back."""

from dataclasses import replace

import pytest
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.catalog.figure_entry import FigureEntry
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Closed, Entry, Figures, Job, Retraction
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.machine_figures import figures_of_job, fitting

FIGURES = {
    "dampers": FigureEntry(
        "dampers", "Dampers", "pieces", 2, 4, "Count them.", "invented", whole=True
    ),
    "springs": FigureEntry(
        "springs", "Springs", "pieces", 2, 4, "", "invented", whole=True, values=(2, 4)
    ),
    "clearance_mm": FigureEntry("clearance_mm", "Room of the tub", "mm", 18, 32, "", "invented"),
    "belt_mm": FigureEntry(
        "belt_mm", "Belt, around", "mm", 900, 1300, "", "invented", needs={"drive": "belt"}
    ),
}
BENCH = replace(FAMILY, figures=FIGURES)


def job(*bodies):
    return Job(
        7,
        tuple(
            Entry(n, "2026-03-01T09:00:00Z", "", body)
            for n, body in enumerate((INTAKE, *bodies), 1)
        ),
    )


def test_the_latest_standing_entry_holds_and_one_taken_back_lets_the_earlier_hold_again():
    first, second = (
        Figures({"dampers": 3.0, "springs": 2.0}, "told"),
        Figures({"dampers": 4.0}, "counted"),
    )
    both = figures_of_job(job(first, second))
    assert (both["dampers"].value, both["dampers"].how, both["dampers"].entry) == (
        4.0,
        "counted",
        3,
    )
    assert both["springs"].entry == 2
    back = figures_of_job(job(first, second, Retraction(3)))
    assert (back["dampers"].value, back["dampers"].entry) == (3.0, 2)
    assert figures_of_job(job(first, Retraction(2))) == {}


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"dampers": -2.0}, "2 to 4"),
        ({"dampers": 2.5}, "whole number"),
        ({"springs": 3.0}, "Give 2 or 4"),
        ({"clearance_mm": 2.7}, "Did you mean 27 mm? Give 18 to 32 mm"),
        ({"clearance_mm": 0.027}, "Did you mean 27 mm"),
        ({"clearance_mm": float("nan")}, "18 to 32"),
        ({"damper": 2.0}, "dampers"),
        ({"belt_mm": 1200.0}, "only for machines with"),
        ({}, "at least one"),
    ],
)
def test_nonsense_is_refused_with_what_would_be_right(values, says):
    with pytest.raises(InputError) as caught:
        check_body(BENCH, job(), Figures(values))
    assert says in str(caught.value)
    assert caught.value.field


def test_an_error_belongs_to_a_figure_given():
    with pytest.raises(InputError, match="no error of a figure given"):
        check_body(BENCH, job(), Figures({"dampers": 2.0}, errors={"springs": 1.0}))


def test_a_closed_job_still_takes_figures_but_no_unknown_way_of_knowing():
    closed = job(Closed("scrap"))
    assert check_body(BENCH, closed, Figures({"dampers": 2.0}, "counted")).values == {
        "dampers": 2.0
    }
    with pytest.raises(InputError, match="no way to know"):
        check_body(BENCH, closed, Figures({"dampers": 2.0}, "guessed"))


def test_a_family_without_figures_refuses_them_and_only_fitting_ones_are_offered():
    with pytest.raises(InputError, match="no figure 'dampers'"):
        check_body(FAMILY, job(), Figures({"dampers": 2.0}))
    assert [one.id for one in fitting(BENCH, job())] == ["dampers", "springs", "clearance_mm"]
