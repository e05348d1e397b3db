"""Findings that hang together: against sums over all that may have happened, and closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.reasoning.judges.shared_causes import chance_of_group, chance_of_readings

from counterpoise.reasoning.evidence import (
    company_factor,
    likelihood_of_readings,
    misled_together,
    next_reading,
    share_after_repairs,
    share_trusted,
)
from counterpoise.reasoning.hypotheses import enumerate_hypotheses
from counterpoise.reasoning.model import Fault, Model

CHANCES = st.floats(0.0, 1.0)


def with_slips(table, slips):
    return (1.0 - slips.sum()) * table + slips[:, None]


def even(slip, outcomes):
    return np.full(outcomes, slip / outcomes)


def one_hot(count, number):
    return np.eye(count)[number]


@st.composite
def checks(draw, sets, most_readings=3):
    """A check: table without slips, its readings as outcome numbers, slips, same again."""
    outcomes = draw(st.integers(2, 3))
    raw = np.array([[draw(st.floats(0.01, 1.0)) for _ in range(sets)] for _ in range(outcomes)])
    readings = draw(st.lists(st.integers(0, outcomes - 1), min_size=1, max_size=most_readings))
    slips = np.array([draw(st.floats(0.0, 0.1)) for _ in range(outcomes)])
    return raw / raw.sum(axis=0), readings, slips, draw(CHANCES)


def likelihood(check):
    table, readings, slips, again = check
    return likelihood_of_readings(
        with_slips(table, slips),
        [one_hot(len(table), r) for r in readings],
        slips=slips,
        same_again=again,
    )


@settings(max_examples=60, deadline=None)
@given(checks(sets=3))
def test_readings_of_one_check_are_worth_what_all_draws_add_up_to(check):
    table, readings, slips, again = check
    expected = [chance_of_readings(table, h, readings, slips, again) for h in range(3)]
    assert likelihood(check) == pytest.approx(expected, rel=1e-9, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.lists(checks(sets=3, most_readings=2), min_size=1, max_size=3), CHANCES)
def test_checks_of_one_thing_are_worth_what_all_draws_add_up_to(group, misled):
    background = np.array([0.5, 0.3, 0.2])
    product = np.prod([likelihood(check) for check in group], axis=0)
    names = range(len(group))
    expected = [
        chance_of_group(
            {n: group[n][0] for n in names},
            h,
            {n: group[n][1] for n in names},
            {n: group[n][2] for n in names},
            {n: group[n][3] for n in names},
            misled,
            background,
        )
        for h in range(3)
    ]
    found = misled_together(product, misled, background)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(checks(sets=3), st.randoms())
def test_the_order_of_readings_does_not_matter(check, random):
    table, readings, slips, again = check
    other = readings.copy()
    random.shuffle(other)
    assert likelihood((table, other, slips, again)) == pytest.approx(likelihood(check), rel=1e-12)


def test_a_single_reading_is_the_row_of_the_table_to_the_last_bit():
    table = np.random.default_rng(1).dirichlet([1, 1, 1], 50).T
    for number, again in ((0, 0.0), (2, 0.7)):
        reading = one_hot(3, number)
        found = likelihood_of_readings(table, [reading], slips=even(0.1, 3), same_again=again)
        assert (found == reading @ table).all()


def test_what_is_always_shown_again_is_worth_no_more_for_being_looked_at_twice():
    table = np.array([[0.2, 0.9], [0.8, 0.1]])
    twice = [one_hot(2, 1)] * 2
    same = likelihood_of_readings(table, twice, slips=np.zeros(2), same_again=1.0)
    assert same == pytest.approx(table[1])
    anew = likelihood_of_readings(table, twice, slips=np.zeros(2), same_again=0.0)
    assert anew == pytest.approx(table[1] ** 2)


def test_a_second_look_makes_a_slip_unlikely():
    slips = even(0.1, 2)
    table = with_slips(np.array([[0.0, 1.0], [1.0, 0.0]]), slips)
    once = likelihood_of_readings(table, [one_hot(2, 1)], slips=slips, same_again=1.0)
    twice = likelihood_of_readings(table, [one_hot(2, 1)] * 2, slips=slips, same_again=1.0)
    assert once[1] / once[0] == pytest.approx(0.05 / 0.95)
    assert twice[1] / twice[0] == pytest.approx((0.05 / 0.95) ** 2)


def test_two_readings_that_disagree_leave_it_where_it_was():
    table = with_slips(np.array([[0.1, 0.9], [0.9, 0.1]]), even(0.05, 2))
    against = [one_hot(2, 0), one_hot(2, 1)]
    found = likelihood_of_readings(table, against, slips=even(0.05, 2), same_again=0.8)
    assert found[0] == pytest.approx(found[1])


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.01, 0.5),
    st.integers(1, 30),
    st.floats(0.02, 0.5),
)
def test_however_many_agree_they_carry_a_suspect_no_further_than_their_group_can(
    misled, findings, prior
):
    background = np.array([1.0 - prior, prior])
    seen = np.array([0.02, 0.95]) ** findings
    found = misled_together(seen, misled, background)
    odds = prior / (1 - prior) * found[1] / found[0]
    assert odds <= (1.0 - misled * (1 - prior)) / (misled * (1 - prior)) * (1 + 1e-9)
    # and they come as near to it as one likes
    if findings >= 10:
        assert odds == pytest.approx(
            (1 - misled + misled * prior) / (misled * (1 - prior)), rel=1e-3
        )


@settings(max_examples=60, deadline=None)
@given(checks(sets=3), checks(sets=3, most_readings=1), st.floats(0.0, 0.9))
def test_the_chances_of_the_next_finding_are_those_of_both_over_those_of_the_first(
    first, second, misled
):
    background = np.array([0.2, 0.5, 0.3])
    before = likelihood(first)
    table = with_slips(second[0], second[2])
    share = share_trusted(before, misled, background)
    found = next_reading(table, share, before, background)
    assert found.sum(axis=0) == pytest.approx(np.ones(3))
    alone = misled_together(before, misled, background)
    for row, chances in zip(table, found, strict=True):
        both = misled_together(before * row, misled, background)
        assert chances == pytest.approx(both / alone, rel=1e-9)


def test_company_changes_pairs_and_hardly_how_often_each_comes():
    faults = tuple(Fault(name, p) for name, p in (("a", 0.05), ("b", 0.1), ("c", 0.2)))
    hypotheses = enumerate_hypotheses(Model(faults, prior="independent", nothing_wrong=True))
    chances = {fault.id: fault.prior for fault in faults}
    odds = np.array([p / (1 - p) for p in chances.values()])
    plain = hypotheses.product_over(odds)
    together = plain * company_factor(hypotheses, {("a", "b"): 6.0}, chances)
    plain, together = plain / plain.sum(), together / together.sum()

    def odds_ratio(belief):
        a, b = hypotheses.present[:, 0], hypotheses.present[:, 1]
        cells = [belief[x & y].sum() for x, y in ((a, b), (~a, ~b), (a, ~b), (~a, b))]
        return cells[0] * cells[1] / (cells[2] * cells[3])

    assert odds_ratio(plain) == pytest.approx(1.0)
    assert odds_ratio(together) == pytest.approx(6.0)
    before, after = plain @ hypotheses.present, together @ hypotheses.present
    # left alone the factor would make "a" half as frequent again
    assert after == pytest.approx(before, rel=0.13)
    assert after[2] == pytest.approx(before[2], rel=1e-9)


def test_what_a_repair_leaves_is_trusted_as_the_machine_it_came_from():
    faults = tuple(Fault(name, 0.1) for name in "ab")
    hypotheses = enumerate_hypotheses(Model(faults, prior="independent", nothing_wrong=True))
    belief = {(): 0.0, (0,): 0.6, (1,): 0.0, (0, 1): 0.4}
    share = {(): 0.1, (0,): 0.9, (1,): 0.2, (0, 1): 0.8}
    found = share_after_repairs(
        np.array([share[s] for s in hypotheses.sets]),
        np.array([belief[s] for s in hypotheses.sets]),
        hypotheses,
    )
    found = dict(zip(hypotheses.sets, found.tolist(), strict=True))
    # "b" alone never stands so: it is what is left of both, of which half comes to each
    assert found[1,] == pytest.approx(0.8)
    assert found[0, 1] == pytest.approx(0.8)
    assert found[0,] == pytest.approx((0.6 * 0.9 + 0.2 * 0.8) / 0.8)
    assert found[()] == pytest.approx(0.6 * 0.9 + 0.4 * 0.8)
