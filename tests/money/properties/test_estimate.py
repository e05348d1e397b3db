from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.money.amount import ROUNDINGS, percent, round_minor
from counterpoise.money.estimate import estimate
from counterpoise.money.order import (
    ROUND_ON,
    TAX_MODES,
    Charges,
    Discount,
    Order,
    Part,
    Position,
    Task,
    Worse,
)

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


LESS = st.builds(
    Discount, st.sampled_from(["labour", "t0"]), st.sampled_from([0.0, 2.5, 10.0, 33.3, 50.0])
)


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
        round_on=draw(st.sampled_from(ROUND_ON)),
        tax_mode=draw(st.sampled_from(TAX_MODES)),
        line_discounts=draw(st.lists(LESS, max_size=2)),
        cash_step=draw(st.sampled_from([1, 5, 10])),
    )


def check_tax(found, terms):
    """By the rate on what it is reckoned from: exactly on the total, or as the sum of what each line gives."""
    included = terms.tax_mode == "included"
    share = percent(1, terms.tax_percent) / (1 + percent(1, terms.tax_percent) if included else 1)
    bases = [line.gross_minor if included else line.net_minor for line in found.lines]
    if terms.round_on == "total":
        assert found.tax_minor == round_minor(sum(bases) * share, terms.rounding)
    else:
        assert [line.tax_minor for line in found.lines] == [
            round_minor(one * share, terms.rounding) for one in bases
        ]
    for line, base in zip(found.lines, bases, strict=True):
        assert abs(line.tax_minor - base * share) < 1


@given(orders(), charges())
@settings(max_examples=150, deadline=None)
def test_lines_add_up_in_every_rounding_mode(order, terms):
    found = estimate(order, terms)
    assert sum(line.net_minor for line in found.lines) == found.net_minor
    assert sum(line.tax_minor for line in found.lines) == found.tax_minor
    assert (
        sum(line.gross_minor for line in found.lines)
        == found.gross_minor
        == found.net_minor + found.tax_minor
    )
    check_tax(found, terms)
    assert found.payable_minor % terms.cash_step == 0
    assert abs(found.payable_minor - found.gross_minor) < terms.cash_step


@given(orders(), charges())
@settings(max_examples=100, deadline=None)
def test_a_guarantee_costs_nothing_to_the_last_coin(order, terms):
    found, free = estimate(order, terms), estimate(replace(order, free=True), terms)
    assert (free.net_minor, free.tax_minor, free.payable_minor, free.high_minor) == (0, 0, 0, 0)
    assert (
        sum(line.net_minor for line in free.lines)
        == sum(line.tax_minor for line in free.lines)
        == 0
    )
    paid = sum(line.gross_minor for line in free.lines if line.kind != "guarantee")
    before = sum(line.gross_minor for line in found.lines if line.kind != "discount")
    assert abs(paid - before) <= 2 * len(found.lines)


@given(orders(), charges())
@settings(max_examples=100, deadline=None)
def test_both_tax_modes_ask_the_same_of_the_customer(order, terms):
    """Rates with the tax inside them, and the same rates with it taken out and added again."""
    free = replace(terms, line_discounts=(), discount_percent=0.0, tax_percent=25.0, callout_minor=0,
                   diagnosis_credited=True, markup_percent=0.0)  # fmt: skip
    tasks = tuple(replace(task, parts={}, consumables_minor=0) for task in order.tasks)
    order = replace(order, tasks=tasks)
    inside = estimate(order, replace(free, hourly_minor=5 * free.hourly_minor, tax_mode="included"))
    added = estimate(order, replace(free, hourly_minor=4 * free.hourly_minor, tax_mode="added"))
    slack = 2 * (len(added.lines) if free.round_on == "line" else 1) + 1
    assert abs(inside.gross_minor - added.gross_minor) <= slack


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
