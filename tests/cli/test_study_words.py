"""A study in the terminal: one line a way of working, with its error, and who is ahead of whom."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main
from counterpoise.workshop.studies import study

ROW = {"net": 4150.0, "error": 35.0, "kept": 0.8, "minutes": 61.5, "comebacks": 0.05,
       "ended_wrongly": 0.02, "regret": 300.0, "regret_error": 40.0}  # fmt: skip


@pytest.fixture
def played(monkeypatch):
    """A study that was played already; returns the order it was asked for."""
    orders = []
    figures = {"jobs": 7, "perfect": 6705.0, "policies": {"ours": ROW, "cheapest": ROW},
               "ahead": {"cheapest": {"net": 120.0, "error": 9.0}}}  # fmt: skip
    monkeypatch.setattr(study, "run_study", lambda order, *_, **__: orders.append(order) or figures)
    return orders, figures


def test_a_study_is_told_by_the_figures_it_came_to(played):
    orders, figures = played
    answer = CliRunner().invoke(main, ["study", "--jobs", "7", "--seed", "3"])
    assert answer.exit_code == 0, answer.output
    assert (orders[0].jobs, orders[0].seed) == (7, 3)
    assert "one who knew what is wrong would earn 67.05 EUR a job" in answer.stdout
    rows = [line for line in answer.stdout.splitlines() if line.startswith(("ours", "cheapest"))]
    assert len(rows) == 3
    assert "41.50 EUR" in rows[0]
    assert "80%" in rows[0]
    assert "1.20 EUR" in rows[2]
    told = json.loads(CliRunner().invoke(main, ["study", "--jobs", "7", "--json"]).stdout)
    assert told == figures
