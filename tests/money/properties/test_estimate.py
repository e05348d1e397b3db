from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.money.amount import ROUNDINGS, percent, round_minor
from counterpoise.money.estimate import estimate
from counterpoise.money.order import Charges, Order, Part, Position, Task, Worse

prices = st.integers(0, 10**6)
POSITIONS = (
    Position("lid", "Top cover", 3.3, 2.9),
    Position("front", "Front panel", 11.1, 12.7, "lid"),
    Position("rear", "Rear panel", 4.0, 4.4, people=2),
)


@st.composite
def orders(draw):
    parts = tuple(
        Part(
            f"p{i}",
            f"Part {i}",
            draw(prices),
            draw(st.none() | prices),
            draw(st.none() | prices),
            draw(st.integers(1, 4)),
        )
        for i in range(draw(st.integers(1, 4)))
    )
    tasks = tuple(
        Task(
            f"t{i}",
            f"Task {i}",
            draw(st.floats(0, 500, allow_subnormal=False)),
            draw(st.sampled_from([None, "lid", "front", "rear"])),
            draw(st.integers(1, 2)),
            {f"p{draw(st.integers(0, len(parts) - 1))}": draw(st.integers(1, 3))},
            draw(st.integers(0, 900)),
        )
        for i in range(draw(st.integers(1, 4)))
    )
    quality = {"p0": draw(st.sampled_from(["new", "pattern", "used"]))}
    worse = (Worse("worse", draw(st.floats(0, 1)), 30, 500),) * draw(st.integers(0, 1))
    return Order(tasks, POSITIONS, parts, quality, worse, draw(st.booleans()))


@st.composite
def charges(draw):
    rates = st.floats(0, 40).map(lambda rate: round(rate, 2))
    return Charges(
        draw(st.integers(0, 20_000)),
        draw(st.sampled_from(["EUR", "JPY", "KWD"])),
        draw(rates),
        draw(rates),
        draw(st.integers(0, 5000)),
        draw(st.booleans()),
        draw(st.integers(0, 5000)),
        draw(rates),
        0,
        draw(st.sampled_from([1, 5, 15])),
        draw(st.sampled_from([0, 30])),
        draw(st.sampled_from(ROUNDINGS)),
        draw(st.sampled_from([1, 5, 10])),
    )


@given(orders(), charges())
@settings(max_examples=150, deadline=None)
def test_lines_add_up_in_every_rounding_mode(order, terms):
    found = estimate(order, terms)
    assert sum(line.net_minor for line in found.lines) == found.net_minor
    assert sum(line.tax_minor for line in found.lines) == found.tax_minor
    assert sum(line.gross_minor for line in found.lines) == found.gross_minor == found.net_minor + found.tax_minor
    assert found.tax_minor == round_minor(percent(found.net_minor, terms.tax_percent), terms.rounding)
    assert found.payable_minor % terms.cash_step == 0
    assert abs(found.payable_minor - found.gross_minor) < terms.cash_step


@given(orders(), charges())
@settings(max_examples=100, deadline=None)
def test_range_and_ceiling_are_in_order(order, terms):
    found = estimate(order, terms)
    assert found.low_minor <= found.high_minor
    assert found.ceiling_minor >= max(found.gross_minor, found.high_minor)
    assert found.over_ceiling <= 1 - terms.ceiling_chance + 1e-9
    assert found.ceiling_minor % terms.ceiling_step == 0


@given(orders(), charges(), st.permutations(range(4)))
@settings(max_examples=60, deadline=None)
def test_the_order_of_the_tasks_does_not_change_the_total(order, terms, shuffle):
    tasks = tuple(order.tasks[i] for i in shuffle if i < len(order.tasks))
    other = Order(tasks, order.positions, order.parts, order.quality, order.worse, order.away)
    assert estimate(other, terms).gross_minor == estimate(order, terms).gross_minor
