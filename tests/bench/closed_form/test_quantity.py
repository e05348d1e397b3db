"""Soft outcomes and magnitudes against scipy and hand figures."""

import math

import numpy as np
import pytest
from scipy import stats

from counterpoise.bench.dampers import DamperForces, damper_set
from counterpoise.bench.quantity import Quantity, average, magnitude, soft_outcomes, widening
from counterpoise.errors import InputError


def test_soft_outcomes_are_normal_chances():
    edges = [0.5, 1.5, 4.0]
    expected = np.diff(stats.norm(1.0, 0.4).cdf([-np.inf, *edges, np.inf]))
    assert soft_outcomes(1.0, 0.4, edges) == pytest.approx(expected, abs=1e-14)


def test_far_tails_keep_their_digits_on_both_sides():
    up, down = soft_outcomes(0.0, 1.0, [10.0])[1], soft_outcomes(0.0, 1.0, [-10.0])[0]
    assert up == pytest.approx(stats.norm.sf(10), rel=1e-9)
    assert down == pytest.approx(stats.norm.cdf(-10), rel=1e-9)


def test_without_doubt_the_value_falls_in_one_bin_and_an_edge_belongs_above():
    assert soft_outcomes(1.5, 0.0, [0.5, 1.5]) == (0.0, 0.0, 1.0)
    assert soft_outcomes(1.4, 0.0, [0.5, 1.5]) == (0.0, 1.0, 0.0)


@pytest.mark.parametrize(
    ("value", "sd", "edges"), [(1, 1, [2, 1]), (1, 1, [1, 1]), (1, -1, [1]), (math.nan, 1, [1])]
)
def test_senseless_bins_are_refused(value, sd, edges):
    with pytest.raises(InputError):
        soft_outcomes(value, sd, edges)


@pytest.mark.parametrize(
    ("length", "dimensions"), [(0.5, 2), (1.7, 2), (4.0, 2), (12.0, 2), (2.5, 1), (3.0, 5)]
)
def test_the_interval_of_a_magnitude_inverts_the_chi_distribution(length, dimensions):
    found = magnitude(length, 1.0, "mm", dimensions)
    if found.low > 0:
        assert stats.ncx2.cdf(length**2, dimensions, found.low**2) == pytest.approx(0.95, abs=1e-6)
    else:
        assert stats.chi2.cdf(length**2, dimensions) <= 0.95
    assert stats.ncx2.cdf(length**2, dimensions, found.high**2) <= 0.05 + 1e-6


def test_a_long_magnitude_is_normal():
    found = magnitude(50.0, 1.0, "mm")
    assert (found.low, found.high) == pytest.approx((50 - 1.645, 50 + 1.645), abs=1e-3)


def test_average_widens_only_for_scatter_past_the_99_per_cent_point():
    calm = average([1.0, 1.2, 1.1], 0.2, "mm")
    assert calm.sd == pytest.approx(0.2 / math.sqrt(3))
    wild = average([1.0, 3.0, 2.0], 0.2, "mm")
    assert wild.sd == pytest.approx(1.0 / math.sqrt(3))  # sample sd of 1, 2, 3 is 1
    assert widening(9.21, 2, 1.0) == 1.0  # chi-square 99 % point for 2 degrees is 9.2103
    assert widening(9.22, 2, 1.0) > 1.0


def test_a_quantity_reads_as_a_person_would_write_it():
    assert str(Quantity.normal(3.21, 0.25, "mm")) == "3.2 mm (2.8 to 3.6)"


def test_results_offer_weights_by_measure_and_name_what_they_have():
    found = damper_set([DamperForces("left", (40.0,), (40.0,))])
    assert sum(found.outcome_weights([0.2, 0.6])) == pytest.approx(1)
    assert found.outcome_weights([35.0], measure="weakest")[1] > 0.9
    assert found.outcome_weights([0.2, 0.6], 0.0) == (0.0, 1.0, 0.0)
    with pytest.raises(InputError, match="measured: weakest_of_new"):
        found.outcome_weights([1.0], measure="colour")
    assert found.to_dict()["grades"]["weakest_of_new"]["dead"] == pytest.approx(
        found.outcome_weights([0.2, 0.6])[0]
    )
