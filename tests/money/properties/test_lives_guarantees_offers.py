"""Laws of lives, guarantees, learned shares and offers, over random input."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate

from counterpoise.errors import InputError
from counterpoise.learning.shares import Share, mixed
from counterpoise.money.guarantee import Cover
from counterpoise.money.life import (
    Weibull,
    annual_costs,
    capital_recovery,
    economic_life,
    keep_years,
    marginal_costs,
    present_worth,
)
from counterpoise.money.part_offers import QUALITIES, Offer, cheapest, share_of_worth
from counterpoise.money.worth import Replacement, break_even_minor, repair_or_new, rules

LIVES = st.builds(Weibull, st.floats(0.7, 6.0), st.floats(3.0, 30.0))
AGES = st.floats(0.0, 25.0)


@given(LIVES, AGES, st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_survival_multiplies_along_a_life(life, age, first, second):
    whole = life.survival(first + second, age)
    assert whole == pytest.approx(
        life.survival(first, age) * life.survival(second, age + first), rel=1e-9, abs=1e-300
    )


@given(LIVES, AGES, st.floats(0.0, 40.0))
def test_who_does_not_survive_fails(life, age, years):
    assert life.survival(years, age) + life.failure(years, age) == pytest.approx(1.0)


@given(LIVES, AGES, st.floats(0.001, 0.999))
def test_the_quantile_is_the_age_of_that_chance(life, age, chance):
    assert life.failure(life.quantile(chance, age), age) == pytest.approx(chance, rel=1e-6)


@given(LIVES, st.floats(0.0, 15.0))
def test_years_left_are_the_area_under_the_survival(life, age):
    area, _ = integrate.quad(
        lambda t: life.survival(t, age), 0.0, life.quantile(1 - 1e-13, age), limit=300
    )
    assert life.mean_residual(age) == pytest.approx(area, rel=1e-6)
    assert life.service_years(age) == pytest.approx(area, rel=1e-6)


@given(LIVES, AGES, st.floats(0.1, 15.0))
def test_discounted_years_are_fewer(life, age, rate):
    assert 0.0 < life.service_years(age, rate) < life.service_years(age)


@given(st.floats(1.05, 6.0), st.floats(3.0, 30.0), st.floats(0.0, 20.0), st.floats(0.1, 5.0))
def test_an_ageing_machine_has_fewer_years_left_the_older_it_is(shape, scale, age, older):
    life = Weibull(shape, scale)
    assert life.mean_residual(age + older) < life.mean_residual(age) + 1e-12


def test_without_ageing_the_years_left_stay():
    life = Weibull(1.0, 8.0)
    assert [life.mean_residual(age) for age in (0.0, 5.0, 50.0)] == pytest.approx([8.0] * 3)


@given(st.floats(0.0, 15.0), st.floats(0.5, 40.0))
def test_payments_of_the_capital_recovery_pay_back_one(rate, years):
    whole = math.floor(years)
    assume(whole >= 1)
    payment = capital_recovery(rate, whole)
    assert present_worth([payment] * whole, rate) == pytest.approx(1.0)


VALUES = st.lists(st.floats(0.0, 1000.0), min_size=2, max_size=9).map(
    lambda v: sorted(v, reverse=True)
)


@given(VALUES, st.floats(0.0, 12.0), st.data())
def test_the_economic_life_is_the_cheapest_by_the_year(values, rate, data):
    running = data.draw(
        st.lists(st.floats(0.0, 500.0), min_size=len(values) - 1, max_size=len(values) - 1)
    )
    costs = annual_costs(marginal_costs(values, running, rate), rate)
    year, cost = economic_life(values, running, rate)
    assert cost == pytest.approx(min(costs))
    assert costs[year - 1] == cost


@given(st.lists(st.floats(1.0, 500.0), min_size=1, max_size=8), st.floats(0.0, 10.0))
def test_a_challenger_dearer_than_every_year_never_comes(marginal, rate):
    assert keep_years(marginal, max(marginal) + 1.0, rate) == len(marginal)
    assert keep_years(marginal, min(marginal) - 0.5, rate) == 0


COVERS = st.builds(
    Cover,
    returns=st.floats(0.0, 1.0),
    comeback_minor=st.floats(0.0, 50_000.0),
    shows_months=st.floats(0.2, 12.0),
    life=st.none() | LIVES,
    age_years=st.floats(0.0, 15.0),
    failure_minor=st.none() | st.floats(0.0, 50_000.0),
    margin_percent=st.floats(0.0, 60.0),
)


@given(COVERS, st.floats(0.0, 36.0), st.floats(0.0, 24.0))
def test_a_longer_guarantee_never_costs_less(cover, months, more):
    assert cover.cost_minor(months + more) >= cover.cost_minor(months) - 1e-6
    assert cover.price_minor(months + more) >= cover.price_minor(months)
    assert 0.0 <= cover.comes_back(months) <= cover.comes_back(months + more) + 1e-12 <= 1.0 + 2e-12


@given(COVERS)
def test_no_guarantee_costs_nothing(cover):
    assert cover.price_minor(0) == 0
    assert cover.comes_back(0) == 0.0


@given(COVERS, st.integers(0, 20_000))
def test_the_longest_for_a_price_is_within_it_and_a_month_more_is_not(cover, price):
    months = cover.longest_months(price)
    assert cover.price_minor(months) <= price
    if months < cover.longest_months(10**12):
        assert cover.price_minor(months + 1) > price


@pytest.mark.parametrize("months", [-1, math.inf, math.nan])
def test_months_that_cannot_be(months):
    with pytest.raises(InputError, match="months"):
        Cover(0.1, 5000).cost_minor(months)


@given(st.floats(0.01, 0.99), st.floats(1.0, 50.0), st.integers(0, 200), st.integers(0, 200))
def test_a_share_moves_from_what_was_believed_to_what_was_counted(mean, jobs, yes, no):
    start = Share.believed(mean, jobs)
    after = start.updated(yes, no)
    assert start.mean == pytest.approx(mean)
    if yes + no:
        counted = yes / (yes + no)
        assert min(mean, counted) - 1e-9 <= after.mean <= max(mean, counted) + 1e-9
    low, high = after.range()
    assert 0.0 <= low <= high <= 1.0


def test_counts_in_any_order_give_the_same_share():
    start = Share.believed(0.1, 20)
    assert (
        start.updated(3, 5).updated(1, 0)
        == start.updated(1, 0).updated(3, 5)
        == start.updated(4, 5)
    )


@given(
    st.dictionaries(st.sampled_from("abcde"), st.floats(0.1, 5.0), min_size=1),
    st.dictionaries(st.sampled_from("abcde"), st.integers(0, 9)),
)
def test_shares_of_several_outcomes_sum_to_one(prior, counts):
    if set(counts) - set(prior):
        with pytest.raises(InputError, match="was not among the outcomes"):
            mixed(prior, counts)
        return
    shares = mixed(prior, counts)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert all(share > 0.0 for share in shares.values())


OFFERS = st.lists(
    st.builds(
        Offer,
        st.sampled_from(QUALITIES),
        st.integers(0, 9000),
        st.sampled_from(["catalog", "shelf", "list"]),
        pack=st.integers(1, 4),
        count=st.none() | st.integers(0, 6),
    ),
    max_size=8,
)


@given(OFFERS, st.integers(1, 5), st.sets(st.sampled_from(QUALITIES), min_size=1))
def test_the_cheapest_offer_is_allowed_enough_and_cheapest(offers, count, allowed):
    best = cheapest(offers, count, allowed)
    fitting = [o for o in offers if o.quality in allowed and o.enough(count)]
    if best is None:
        assert not fitting
        return
    assert best in fitting
    assert best.total_minor(count) == min(o.total_minor(count) for o in fitting)


@given(st.integers(1, 50), st.integers(1, 12), st.integers(0, 9000))
def test_packs_are_bought_whole(count, pack, price):
    offer = Offer("new", price, "list", pack=pack)
    bought = offer.bought(count)
    assert count <= bought < count + pack
    assert bought % pack == 0
    assert offer.total_minor(count) == price * bought // pack


@given(st.integers(0, 30), st.integers(0, 30))
def test_one_more_piece_is_never_worth_more_than_the_one_before(on_shelf, plenty):
    share = share_of_worth(on_shelf, plenty)
    assert 0.0 <= share <= 1.0
    assert share_of_worth(on_shelf + 1, plenty) <= share


REPLACEMENTS = st.builds(Replacement, st.integers(20_000, 120_000), LIVES, st.floats(0.0, 8.0))


@given(REPLACEMENTS, st.floats(0.0, 15.0), st.floats(0.05, 1.0), st.integers(0, 60_000))
def test_a_repair_pays_exactly_where_its_price_is_below_the_break_even(new, age, works, price):
    limit = works * new.worth_minor(age)
    assume(abs(price - limit) > 1.0)
    assert repair_or_new(new, age, price, works=works).pays == (price < limit)
    assert break_even_minor(new, age, works) == round(limit)


@given(REPLACEMENTS, st.floats(0.0, 15.0))
def test_renewing_a_machine_wholly_makes_it_worth_a_new_one(new, age):
    assert new.worth_minor(age, renewed=1.0) == pytest.approx(new.new_minor)
    assert new.worth_minor(0.0) == pytest.approx(new.new_minor)


@given(REPLACEMENTS, st.floats(0.0, 15.0), st.none() | st.integers(1000, 40_000))
def test_ours_is_the_first_rule_and_each_says_why(new, age, used):
    told = rules(new, age, used)
    assert [rule.id for rule in told] == ["years_left", "half", "used_price"][
        : 2 + (used is not None)
    ]
    assert all(rule.why for rule in told)
