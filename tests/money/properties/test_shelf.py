"""Whatever happens to a shelf: never fewer pieces than are held, and the movements add up to what is there."""

from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money.part_offers import Offer, cheapest
from counterpoise.money.shelf import FOR_A_JOB, Holding, effect

KINDS = ("received", "counted", "moved", "reserved", "released", "used", "written_off")
STEPS = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(0, 6), st.integers(1, 3)), max_size=40
)


@given(STEPS)
def test_nothing_is_ever_below_zero_and_movements_add_up(steps):
    holding, moved = Holding(), []
    for kind, count, job in steps:
        whose = job if kind in FOR_A_JOB else None
        try:
            change = effect(holding, kind, count, whose)
        except InputError:
            continue
        moved.append((*change, whose))
        holding = holding.after(*change, whose)
        assert holding.pieces >= sum(holding.held.values()) >= 0
        assert all(held > 0 for held in holding.held.values())
        assert kind != "counted" or holding.pieces == count
    assert holding.pieces == sum(pieces for pieces, _, _ in moved)
    for job in (1, 2, 3):
        assert holding.held.get(job, 0) == sum(held for _, held, whose in moved if whose == job)


@given(STEPS)
def test_the_opposite_of_a_movement_undoes_it(steps):
    holding = Holding(3, {1: 1})
    for kind, count, job in steps:
        whose = job if kind in FOR_A_JOB else None
        try:
            pieces, held = effect(holding, kind, count, whose)
        except InputError:
            continue
        after = holding.after(pieces, held, whose)
        back = after.after(-pieces, -held, whose)
        assert (back.pieces, dict(back.held)) == (holding.pieces, dict(holding.held))
        holding = after


_OFFERS = st.lists(
    st.builds(
        Offer, st.sampled_from(("new", "pattern", "used")), st.integers(0, 500), st.just("x"), pack=st.integers(1, 4),
        count=st.none() | st.integers(0, 5),
    ),
    max_size=6,
)  # fmt: skip


@given(_OFFERS, st.integers(1, 5), st.sets(st.sampled_from(("new", "pattern", "used"))))
def test_no_offer_is_cheaper_than_the_cheapest(offers, count, allowed):
    best = cheapest(offers, count, allowed)
    fitting = [o for o in offers if o.quality in allowed and (o.count is None or o.count >= count)]
    assert (best is None) == (not fitting)
    assert all(best.total_minor(count) <= one.total_minor(count) for one in fitting)


@given(_OFFERS, st.integers(1, 4))
def test_more_never_costs_less(offers, count):
    few, many = cheapest(offers, count), cheapest(offers, count + 1)
    assert many is None or few.total_minor(count) <= many.total_minor(count + 1)
