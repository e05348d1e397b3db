from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.small import CHECKS, FAMILY

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.planning.scenario_values import ScenarioRollout, shortfall
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.evidence.complaint import after_complaints
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.catalog_range import CATALOGS, catalogs
from counterpoise.workshop.diagnosis.perturbed_catalog import DETECTION, MINUTES
from counterpoise.workshop.diagnosis.robust import (
    Evidence,
    _candidates,
    _problems_by_catalog,
    careful_choice,
)
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings

PLAIN, CAREFUL = Settings(), Settings(careful=True)


def job_of(*bodies, family="small"):
    intake = Intake(family, "workshop", "invented", ("shakes",), 7.0)
    return Job(
        1,
        tuple(
            Entry(i, "2026-01-01T00:00:00Z", "ada", body)
            for i, body in enumerate([intake, *bodies], 1)
        ),
    )


def priced(extra_minor, checks=None):
    """A family in which there is nothing to look at: repair the dampers at a price, or stop."""
    cures = {"damper_worn:early": 0.97, "damper_worn:gone": 0.97}
    repair = replace(FAMILY.repairs["replace_dampers"], consumables_minor=extra_minor, cures=cures)
    return replace(FAMILY, checks=checks or {}, repairs={"replace_dampers": repair})


def evidence_of(analysis):
    return Evidence(analysis.prices, analysis.planned.rows, analysis.situation.evidence)


def dearest_that_still_pays():
    """The highest price at which the plan would still rather repair than stop."""
    low, high = 0, 20000
    while high - low > 10:
        middle = (low + high) // 2
        pays = analyse(JobCase(job_of(), priced(middle), PLAIN)).plan.first.kind == "repair"
        low, high = (middle, high) if pays else (low, middle)
    return low


def test_a_repair_that_hardly_pays_and_may_ruin_is_declined():
    edge = dearest_that_still_pays()
    assert edge > 0
    analysis = analyse(JobCase(job_of(), priced(edge), CAREFUL))
    assert analysis.careful.instead.kind == "repair"
    assert analysis.plan.first.kind == "ending"
    assert 0.0 <= analysis.careful.cost < 100.0
    assert analysis.careful.worst > 500.0


def test_a_repair_that_pays_whatever_the_figures_is_done():
    analysis = analyse(JobCase(job_of(), priced(0), CAREFUL))
    assert analysis.plan.first.kind == "repair"
    assert (analysis.careful.cost, analysis.careful.mean, analysis.careful.worst) == (0.0, 0.0, 0.0)


def test_what_the_insurance_costs_is_said():
    found = assess(JobCase(job_of(), priced(dearest_that_still_pays()), CAREFUL))
    assert found.next.kind == "ending"
    assert found.careful.title == "Replace the set of dampers"
    assert found.careful.text.startswith(
        'Careful: without it the step would be "Replace the set of dampers".'
    )
    assert found.contest is None
    assert "sure to be worth more" in found.why


def test_it_is_off_unless_asked_for():
    found = assess(JobCase(job_of(), priced(dearest_that_still_pays()), PLAIN))
    assert found.careful is None
    assert found.next.kind == "repair"


def test_a_step_that_holds_up_says_so():
    found = assess(JobCase(job_of(), priced(0), CAREFUL))
    assert "holds up" in found.careful.text
    assert found.careful.cost_minor == 0


def test_the_catalogs_are_the_same_every_time_and_within_their_ranges():
    family = load_family("front_loader")
    drawn = catalogs(family)
    assert len(drawn) == CATALOGS
    assert catalogs(family) is drawn
    for other in drawn:
        for name, check in family.checks.items():
            assert abs(other.checks[name].minutes / check.minutes - 1) <= MINUTES + 1e-9
            assert all(
                abs(p - check.under[fault].get(outcome, 0.0)) <= DETECTION + 1e-9
                for fault, row in other.checks[name].under.items()
                if sum(check.under[fault].values()) <= 0.7
                for outcome, p in row.items()
            )


def test_under_the_catalog_as_written_following_the_plan_earns_what_the_forecast_says():
    analysis = analyse(JobCase(job_of(), FAMILY, PLAIN), Effort(growths=4))
    problem = analysis.planned.problem
    found = ScenarioRollout(analysis.planned.look, [problem.arrays()], problem.prior[None]).worth
    assert found[0] == pytest.approx(analysis.forecast.totals.worth.sum())


def test_what_was_found_speaks_for_the_catalogs_that_expected_it():
    """The weights of the catalogs are those of Bayes, worked out over every set of faults."""
    family = replace(FAMILY, checks={"drum_by_hand": CHECKS["drum_by_hand"]})
    analysis = analyse(JobCase(job_of(Finding("drum_by_hand", "on_its_own")), family, PLAIN))
    _, beliefs, weights = _problems_by_catalog(analysis.planned.problem, evidence_of(analysis))
    assert weights.sum() == pytest.approx(1.0)
    assert np.allclose(beliefs.sum(axis=1), 1.0)
    from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief

    expected = []
    for other in catalogs(family):
        model = family_model(other)
        intake = analysis.situation.intake
        prior = np.exp(prior_belief(model, 7.0, {}))
        told = np.exp(after_complaints(model, intake, np.log(np.maximum(prior, 1e-300))))
        heard = model.complaints["shakes"] * (1 - model.complaints["walks"]) ** 0.5
        # what slips put down is taken as it is believed, whatever the catalog
        slips, own = family_model(family).slips["drum_by_hand"][1], model.slips["drum_by_hand"]
        shown = (model.tables["drum_by_hand"][1] - own[1]) / (1.0 - own.sum())
        expected.append(float((prior * heard) @ ((1.0 - own.sum()) * shown + slips)))
        assert told.sum() == pytest.approx(1.0)
    expected = np.array(expected) / sum(expected)
    assert weights == pytest.approx(expected, rel=1e-6)


def test_the_best_of_each_kind_is_weighed():
    analysis = analyse(JobCase(job_of(), priced(0, CHECKS), PLAIN), Effort(growths=4))
    kinds = {action.kind for action in _candidates(analysis.plan)}
    assert kinds == {"check", "repair", "ending"}
    assert careful_choice(analysis.planned, evidence_of(analysis)).action in _candidates(
        analysis.plan
    )


@pytest.mark.parametrize(
    ("worth", "weights", "share", "expected"),
    [
        ([1.0, 2.0, 3.0, 4.0], [1, 1, 1, 1], 0.25, 1.0),
        ([4.0, 1.0, 3.0, 2.0], [1, 1, 1, 1], 0.5, 1.5),
        ([0.0, 10.0], [0.1, 0.9], 0.25, 6.0),
        ([5.0, 7.0], [1, 1], 1.0, 6.0),
    ],
)
def test_the_worst_part_counts_by_weight(worth, weights, share, expected):
    assert shortfall(np.array(worth), np.array(weights, dtype=float), share) == pytest.approx(
        expected
    )
